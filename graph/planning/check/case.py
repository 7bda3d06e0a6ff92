"""A bundle with its records by name, as the checker looks them up."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.record import Core, Demand, Feature, FoundPart, Kind, Operation, Part, Rate, Rule, Seat
from graph.model.value import spelled_code
from graph.model.verdict import Verdict
from graph.planning.check.memory import Memory

Mode = Literal["certain", "possible"]
Place = tuple[str, str]  # seat, feature

ENGINE = "engine"
"""The seat name that stands for the engine's side of a joint."""


def allowed(verdict: Verdict, mode: Mode) -> bool:
    """Whether a verdict lets a plan stand: for certain only a yes does, for possible anything but a no."""
    return verdict is Verdict.YES if mode == "certain" else verdict is not Verdict.NO


@dataclass(frozen=True, slots=True)
class Ruled:
    """A rule with a number of its own, its operands and its seats, the engine left out."""

    number: int
    rule: Rule
    operands: tuple[Place, ...]
    seats: tuple[str, ...]


@dataclass(frozen=True)
class Case:
    """One bundle, indexed, with the memories of what was worked out (see `Shared`)."""

    bundle: Bundle
    things: Memory = field(default_factory=Memory, compare=False, repr=False)
    asked: Memory = field(default_factory=Memory, compare=False, repr=False)
    own: Memory = field(default_factory=Memory, compare=False, repr=False)  # of this bundle alone

    @cached_property
    def seats(self) -> dict[str, Seat]:
        """The layout's seats by name."""
        return {s.name: s for s in reversed(self.bundle.layout.seats)}

    @cached_property
    def parts(self) -> dict[str, Part]:
        """Parts by key."""
        return {p.key: p for p in self.bundle.parts}

    @cached_property
    def kinds(self) -> dict[str, Kind]:
        """Kinds by name."""
        return {k.name: k for k in self.bundle.kinds}

    @cached_property
    def features(self) -> dict[str, Feature]:
        """Features by name."""
        return {f.name: f for f in self.bundle.features}

    @cached_property
    def operations(self) -> dict[str, Operation]:
        """Operations by name."""
        return {o.name: o for o in self.bundle.operations}

    @cached_property
    def rates(self) -> dict[str, Rate]:
        """Rates by name."""
        return {r.name: r for r in self.bundle.rates}

    @cached_property
    def donors(self) -> dict[str, Core]:
        """The cores that may donate, by tag."""
        own = self.bundle.core.key
        return {c.tag: c for c in self.bundle.donors if c.may_donate and c.key != own}

    @cached_property
    def pairs(self) -> dict[str, frozenset[tuple[str, str]]]:
        """The accepted pairs of codes, spelled, by set."""
        return {
            name: frozenset((spelled_code(left), spelled_code(right)) for left, right in rows)
            for name, rows in self.bundle.accepted
        }

    @cached_property
    def wishes(self) -> frozenset[str]:
        """The question's wishes."""
        return frozenset(self.bundle.question.wishes)

    @cached_property
    def naming(self) -> dict[Place, int]:
        """Every (seat, feature) that a rule names, with its place in the order in which the rules name them."""
        named = dict.fromkeys(place for rule in self.bundle.layout.rules for place in rule.operands)
        return {place: index for index, place in enumerate(named)}

    @cached_property
    def rules(self) -> tuple[Ruled, ...]:
        """The layout's rules, in its order."""
        return tuple(
            Ruled(self.things.number((r, self.codes(r))), r, r.operands, tuple(s for s in r.seats if s != ENGINE))
            for r in self.bundle.layout.rules
        )

    def codes(self, rule: Rule) -> frozenset[tuple[str, str]]:
        """The pairs of codes, spelled, that the rule accepts."""
        return self.pairs.get(rule.set or rule.name, frozenset())

    @cached_property
    def rules_about(self) -> dict[Place, list[Ruled]]:
        """The rules that name each (seat, feature), in the layout's order."""
        return {place: [r for r in self.rules if place in r.operands] for place in self.naming}

    @cached_property
    def rules_of(self) -> dict[str, list[Ruled]]:
        """The rules that look at one seat alone, or at it and the engine, by that seat; in the layout's order."""
        return {seat: [r for r in self.rules if r.seats == (seat,)] for seat in self.seats}

    @cached_property
    def demands(self) -> tuple[Demand, ...]:
        """The demands on features."""
        return tuple(d for d in self.bundle.build.demands if d.type != "keep")

    @cached_property
    def looked_at(self) -> frozenset[Place]:
        """Every (seat, feature) that a rule or a demand looks at."""
        return frozenset(self.naming) | {(d.seat, d.feature) for d in self.bundle.build.demands}

    @cached_property
    def untouched(self) -> frozenset[Place]:
        """Every (seat, feature) that a demand wants to stay as it is."""
        return frozenset((d.seat, d.feature) for d in self.bundle.build.demands if d.type == "keep" and d.feature)

    @cached_property
    def walls(self) -> frozenset[str]:
        """The features that an operation names as its wall."""
        return frozenset(o.wall_feature for o in self.bundle.operations)

    def claims(self, part: str, feature: str) -> tuple[Claim, ...]:
        """The claims about one feature of a part's kind."""
        if part not in self.parts:
            return ()
        by_feature = self.things.once(("claims", part), lambda: _by_feature(self.parts[part].claims))
        return by_feature.get(feature, ())

    def used_limits(self, part: str) -> dict[str, tuple[int | None, int | None]]:
        """The strictest least and most on record for a used part, by feature; those of walls bound cuts instead."""
        known = self.parts.get(part)
        if known is None or not known.limits:
            return {}
        return self.things.once(("used limits", part), lambda: self._used_limits(known))

    def _used_limits(self, part: Part) -> dict[str, tuple[int | None, int | None]]:
        rows = [x for x in part.limits if x.condition in ("", "used") and x.rank != Rank.HEARD]
        ends = {}
        for feature in sorted({x.feature for x in rows} - self.walls):
            lows = [x.min for x in rows if x.feature == feature and x.min is not None]
            highs = [x.max for x in rows if x.feature == feature and x.max is not None]
            if lows or highs:
                ends[feature] = max(lows, default=None), min(highs, default=None)
        return ends

    def lineage(self, kind: str) -> tuple[str, ...]:
        """The kind and those above it, nearest first."""
        return self.things.once(("lineage", kind), lambda: self._lineage(kind))

    def _lineage(self, kind: str) -> tuple[str, ...]:
        line: list[str] = []
        while kind and kind not in line:
            line.append(kind)
            kind = self.kinds[kind].parent if kind in self.kinds else ""
        return tuple(line)

    def one_time(self, kind: str) -> bool:
        """Whether a part of that kind is never used again; a kind above it says so for those below."""
        return any(self.kinds[k].one_time for k in self.lineage(kind) if k in self.kinds)

    def found(self, source: str, lot: str, seat: str) -> FoundPart | None:
        """What sits in that seat of the core, or of the donor with that tag."""
        if source == "kept":
            return self._in_core.get(seat)
        return self._in_donors[lot].get(seat) if lot in self._in_donors else None

    @cached_property
    def _in_core(self) -> dict[str, FoundPart]:
        return _by_seat(self.bundle.core)

    @cached_property
    def _in_donors(self) -> dict[str, dict[str, FoundPart]]:
        return {tag: _by_seat(core) for tag, core in self.donors.items()}

    @cached_property
    def parts_into(self) -> dict[str, list[str]]:
        """The keys of the parts that are of a kind or of one below it, by kind, in order."""
        fitting: dict[str, list[str]] = {}
        for key in sorted(self.parts):
            for kind in self.lineage(self.parts[key].kind):
                fitting.setdefault(kind, []).append(key)
        return fitting


def _by_seat(core: Core) -> dict[str, FoundPart]:
    """What sits in each seat; of several the first that is named."""
    return {f.seat: f for f in reversed(core.found)}


def _by_feature(claims: tuple[Claim, ...]) -> dict[str, tuple[Claim, ...]]:
    by: dict[str, tuple[Claim, ...]] = {}
    for claim in claims:
        by[claim.feature] = (*by.get(claim.feature, ()), claim)
    return by
