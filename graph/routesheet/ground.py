"""What a plan and its evidence say, looked up by seat, feature and part."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from graph.errors import BadQuestion
from graph.model.bundle import Bundle
from graph.model.claim import Claim
from graph.model.fact import Fact
from graph.model.plan import Plan, PlanAnswer, SeatChoice
from graph.model.record import Feature, FoundPart, Kind, Operation, Part, Seat
from graph.model.verdict import Operand
from graph.rules.facts import settle
from graph.rules.voices import standing

USED = ("kept", "donor")


@dataclass(frozen=True)
class Ground:
    """One plan of an answer with its bundle."""

    answer: PlanAnswer
    bundle: Bundle
    plan: Plan
    number: int

    @classmethod
    def of(cls, answer: PlanAnswer, number: int) -> "Ground":
        """The plan of that number, 1 being the first.

        Raises
        ------
        BadQuestion
            There is no such plan, or the answer came without its evidence.
        """
        if answer.bundle is None:
            raise BadQuestion("an answer without its evidence makes no route sheet", fix="ask the question again")
        if not 1 <= number <= len(answer.plans):
            have = f"there are {len(answer.plans)}" if answer.plans else answer.sentence
            raise BadQuestion(f"there is no plan {number}: {have}", fix="take a plan that there is")
        return cls(answer, answer.bundle, answer.plans[number - 1], number)

    @cached_property
    def features(self) -> dict[str, Feature]:
        """By name."""
        return {feature.name: feature for feature in self.bundle.features}

    @cached_property
    def parts(self) -> dict[str, Part]:
        """By key."""
        return {part.key: part for part in self.bundle.parts}

    @cached_property
    def kinds(self) -> dict[str, Kind]:
        """By name."""
        return {kind.name: kind for kind in self.bundle.kinds}

    @cached_property
    def operations(self) -> dict[str, Operation]:
        """By name."""
        return {operation.name: operation for operation in self.bundle.operations}

    @cached_property
    def seats(self) -> dict[str, Seat]:
        """The layout's, by name."""
        return {seat.name: seat for seat in self.bundle.layout.seats}

    @cached_property
    def choices(self) -> dict[str, SeatChoice]:
        """By seat; empty seats too."""
        return {choice.seat: choice for choice in self.plan.seats}

    @cached_property
    def _said_by(self) -> dict[str, str]:
        """Source names by statement."""
        found = [c for core in (self.bundle.core, *self.bundle.donors) for f in core.found for c in f.readings]
        found += [c for part in self.bundle.parts for c in part.claims]
        said = {claim.id: claim.source for claim in [*found, *self.bundle.engine.claims]}
        said |= {limit.said: limit.source for part in self.bundle.parts for limit in part.limits}
        return said

    def label(self, feature: str) -> str:
        """A feature as it is called."""
        known = self.features.get(feature)
        return known.label if known and known.label else feature.replace("_", " ")

    def kind_of(self, seat: str) -> str:
        """The kind of the part that the plan puts there; the seat's own where that is not known."""
        choice = self.choices.get(seat)
        part = self.parts.get(choice.part) if choice else None
        return part.kind if part else self.seats[seat].kind if seat in self.seats else ""

    def lineage(self, kind: str) -> tuple[str, ...]:
        """A kind and those above it."""
        out: list[str] = []
        while kind and kind not in out:
            out.append(kind)
            kind = self.kinds[kind].parent if kind in self.kinds else ""
        return tuple(out)

    def words(self, seat: str) -> frozenset[str]:
        """The words in the names of the seat, of its part's kind and of the kinds above it."""
        names = [seat, *self.lineage(self.kind_of(seat))]
        return frozenset(word for name in names for word in name.casefold().replace("_", "-").split("-"))

    def rotates(self, seat: str) -> bool:
        """Whether what sits there turns with the shaft."""
        kinds = (self.kinds.get(name) for name in self.lineage(self.kind_of(seat)))
        return bool(self.choices[seat].part) and any(kind is not None and kind.rotating for kind in kinds)

    def found(self, choice: SeatChoice) -> FoundPart | None:
        """The very part that is kept or taken from a donor."""
        if choice.source not in USED:
            return None
        cores = (self.bundle.core, *self.bundle.donors)
        tag = choice.lot or self.bundle.core.tag
        core = next((core for core in cores if core.tag == tag), None)
        return next((one for one in core.found if one.seat == choice.seat), None) if core else None

    def readings(self, choice: SeatChoice, feature: str = "") -> tuple[Claim, ...]:
        """The readings on that part that stand, of one feature or of all."""
        found = self.found(choice)
        read = [c for c in found.readings if not feature or c.feature == feature] if found else []
        return tuple(standing(read, of_kind=False))

    def fact(self, seat: str, feature: str) -> Fact:
        """What is known, before the work, of a feature of what the plan puts into a seat."""
        choice = self.choices[seat]
        part = self.parts.get(choice.part)
        known = self.features.get(feature)
        if known is None:
            return Fact(choice.part, feature, "unknown", why="no such feature")
        return settle(
            part.claims if part else (),
            known,
            subject=choice.part,
            used=choice.source in USED,
            readings=self.readings(choice),
        )

    def operand(self, seat: str, feature: str) -> Operand | None:
        """The same after the work, as the plan's own rules have it."""
        for rule in self.plan.joints:
            for operand in rule.operands:
                if (operand.seat, operand.feature) == (seat, feature):
                    return operand
        return None

    def middle(self, seat: str, feature: str) -> int | None:
        """The one known amount after the work, the middle of its tolerance; None when not known or disputed."""
        after = self.operand(seat, feature)
        if after is not None and after.status == "machined" and after.low is not None and after.high is not None:
            return (after.low + after.high) // 2
        fact = self.fact(seat, feature)
        if fact.status != "known" or fact.low is None or fact.high is None or len(fact.alternatives) > 1:
            return None
        return (fact.low + fact.high) // 2

    def sources(self, claims: Iterable[str]) -> tuple[str, ...]:
        """The names of those who said these statements."""
        return tuple(sorted({self._said_by.get(claim, "") for claim in claims} - {""}))
