"""A plan question with its bundle's facts laid out for looking up: settled features, operations, prices, demands.

Rule 1: every fact is settled by `graph.rules.facts`; nothing here decides which claim counts.
Rule 2: a question whose parts do not go together is refused here, before anything is planned.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property

from graph.errors import BadQuestion, MixedCurrency
from graph.model.bundle import Bundle
from graph.model.claim import Claim
from graph.model.fact import Fact
from graph.model.record import Consume, Core, Demand, Feature, FoundPart, Operation, Part, Rate, Rule
from graph.model.verdict import Missing, Verdict
from graph.planning.kept import Kept
from graph.planning.requirement import Requirement, of_demand, of_rule
from graph.rules.decide import set_name
from graph.rules.facts import settle
from graph.rules.judge import Accepted
from graph.rules.spoken import in_words
from graph.rules.undecided import joint_lacks_rule, joints_undecided, seats_undecided

ENGINE = "engine"
ALWAYS = "always"
SERVICE = "service"
WISHES = ("no-new", "no-donor", "no-machining", "only-stock", "keep:", "no-used:", "no-part:", "no-operation:")
ON_A_SEAT = ("keep:", "no-used:")


class Problem:
    """The bundle of one plan question, indexed; facts are settled once and kept.

    `in_time`: every cost is the time it takes [ms], prices left out. `kept`: what questions that share evidence with
    this one have worked out, and what this one does.
    """

    in_time = False

    def __init__(self, bundle: Bundle, kept: Kept | None = None) -> None:
        self.bundle = bundle
        self.kept = Kept() if kept is None else kept
        self.layout = bundle.layout
        self.wishes = frozenset(bundle.question.wishes)
        self.parts: dict[str, Part] = {p.key: p for p in bundle.parts}
        self.features: dict[str, Feature] = {f.name: f for f in bundle.features}
        self.operations: dict[str, Operation] = {o.name: o for o in bundle.operations}
        self.rates: dict[str, Rate] = {r.name: r for r in bundle.rates}
        self.accepted: Accepted = {name: frozenset(pairs) for name, pairs in bundle.accepted}
        self._parents = {k.name: k.parent for k in bundle.kinds}
        self._one_time = {k.name for k in bundle.kinds if k.one_time}
        self._lineages: dict[str, tuple[str, ...]] = {}
        self._engine_facts: dict[str, Fact] = {}
        self._kind_facts: dict[tuple[str, str, bool], Fact] = {}
        self._found_facts: dict[tuple[int, str], Fact] = {}
        self._offered: dict[str, tuple[Operation, ...]] = {}
        self._parts_for: dict[str, list[Part]] = {}
        self._refuse_what_does_not_go_together()

    def asked_otherwise(self, bundle: Bundle) -> "Problem":
        """The problem of a bundle that shares evidence with this one.

        What was worked out of shared evidence is not worked out again.
        """
        return Problem(bundle, self.kept)

    def lineage(self, kind: str) -> tuple[str, ...]:
        """The kind and its parents, nearest first."""
        known = self._lineages.get(kind)
        if known is None:
            out: list[str] = []
            at = kind
            while at and at not in out:
                out.append(at)
                at = self._parents.get(at, "")
            known = self._lineages[kind] = tuple(out)
        return known

    def one_time(self, kind: str) -> bool:
        """Whether a part of this kind is never used again."""
        return any(k in self._one_time for k in self.lineage(kind))

    def takes(self, seat_kind: str, kind: str) -> bool:
        """Whether a seat of one kind takes a part of the other."""
        return seat_kind in self.lineage(kind)

    def parts_for(self, seat_kind: str) -> list[Part]:
        """The parts that a seat of this kind takes, by key."""
        if seat_kind not in self._parts_for:
            able = {kind for kind in {p.kind for p in self.parts.values()} if self.takes(seat_kind, kind)}
            self._parts_for[seat_kind] = [p for _, p in sorted(self.parts.items()) if p.kind in able]
        return self._parts_for[seat_kind]

    def engine_fact(self, feature: str) -> Fact:
        """A feature of the engine's side."""
        if feature not in self._engine_facts:
            engine = self.bundle.engine
            mine = self._by_feature(engine.claims).get(feature, ())
            self._engine_facts[feature] = self._settled(engine.key, feature, mine, (), used=False)
        return self._engine_facts[feature]

    def kind_fact(self, part: str, feature: str, *, used: bool) -> Fact:
        """A feature of a part that was not read, new or used."""
        known = self.features.get(feature)
        used = used and known is not None and known.wears
        key = part, feature, used
        if key not in self._kind_facts:
            self._kind_facts[key] = self._settled(part, feature, self._claims(part, feature), (), used=used)
        return self._kind_facts[key]

    def found_fact(self, found: FoundPart, feature: str) -> Fact:
        """A feature of the very part found in a seat: its readings first, then its kind's claims."""
        readings = self.readings(found).get(feature)
        if not readings:
            return self.kind_fact(found.part, feature, used=True)
        key = id(found), feature
        if key not in self._found_facts:
            claims = self._claims(found.part, feature)
            self._found_facts[key] = self._settled(found.part, feature, claims, readings, used=True)
        return self._found_facts[key]

    def read_fact(self, found: FoundPart, feature: str) -> Fact:
        """What the readings on this very part say of a feature, without its kind's claims."""
        return self._settled(found.part, feature, (), self.readings(found).get(feature, ()), used=True)

    def readings(self, found: FoundPart) -> dict[str, list[Claim]]:
        """The readings taken on this very part, by feature."""
        return self._by_feature(found.readings) if found.readings else {}

    def number(self, fact: Fact | None) -> int:
        """Equal for facts that no requirement can tell apart."""
        return self.kept.number(fact)

    def verdict(self, requirement: Requirement, facts: Sequence[Fact | None]) -> Verdict:
        """What the requirement says of the facts of its operands, in order; each case is judged once."""
        number = self.kept.number
        key = (self.kept.mark(requirement), *[number(f) for f in facts])
        said = self.kept.verdicts.get(key)
        if said is None:
            said = self.kept.verdicts[key] = requirement.verdict(facts)
        return said

    def _claims(self, part: str, feature: str) -> Sequence[Claim]:
        record = self.parts.get(part)
        return () if record is None else self._by_feature(record.claims).get(feature, ())

    def _by_feature(self, claims: tuple[Claim, ...]) -> dict[str, list[Claim]]:
        return self.kept.once(("by feature", self.kept.mark(claims)), lambda: _by_feature(claims))

    def _settled(
        self, subject: str, feature: str, claims: Sequence[Claim], readings: Sequence[Claim], *, used: bool
    ) -> Fact:
        known = self.features.get(feature)
        kept = self.kept
        key = "fact", subject, kept.mark(known), feature, used, kept.marks(claims), kept.marks(readings)
        asked = known or Feature(feature, feature, "text")
        return kept.once(key, lambda: settle(claims, asked, subject=subject, used=used, readings=readings))

    @cached_property
    def labels(self) -> dict[str, str]:
        """How features are called."""
        return {name: f.label for name, f in self.features.items()}

    @cached_property
    def requirements(self) -> tuple[Requirement, ...]:
        """Every rule of the layout, then every demand on a feature, in their order."""
        kept, accepted = self.kept, self.kept.mark(self.bundle.accepted)

        def required(rule: Rule) -> Requirement:
            pairs = self.accepted.get(set_name(rule), frozenset()) if rule.type in ("accepted", "control") else ()
            return kept.once(("rule", kept.mark(rule), accepted), lambda: of_rule(rule, frozenset(pairs)))

        def demanded(demand: Demand) -> Requirement:
            return kept.once(("demand", kept.mark(demand)), lambda: of_demand(demand))

        demands = (demanded(d) for d in self.bundle.build.demands if d.type != "keep")
        return (*(required(r) for r in self.layout.rules), *demands)

    @cached_property
    def keeps(self) -> tuple[Demand, ...]:
        """The demands that keep a part or a feature as it is, those of the question's wishes included."""
        wished = tuple(
            Demand(self.bundle.build.key, w.removeprefix("keep:"), "", "keep")
            for w in sorted(self.wishes)
            if w.startswith("keep:")
        )
        return tuple(d for d in self.bundle.build.demands if d.type == "keep") + wished

    @cached_property
    def demanded_seats(self) -> frozenset[str]:
        """Seats on which the build or a wish demands something, so that they may not be left empty."""
        return frozenset(d.seat for d in (*self.bundle.build.demands, *self.keeps))

    @cached_property
    def asked_features(self) -> dict[str, frozenset[str]]:
        """For each seat the features that some rule or demand looks at."""
        out: dict[str, set[str]] = defaultdict(set)
        for requirement in self.requirements:
            for seat, feature in requirement.operands:
                out[seat].add(feature)
        return {seat: frozenset(names) for seat, names in out.items()}

    def asked_of(self, seat: str) -> list[Requirement]:
        """The requirements that look at a seat, in their order."""
        return self._asked_of.get(seat, [])

    @cached_property
    def _asked_of(self) -> dict[str, list[Requirement]]:
        def made() -> dict[str, list[Requirement]]:
            out: dict[str, list[Requirement]] = defaultdict(list)
            for requirement in self.requirements:
                for seat in requirement.seats:
                    out[seat].append(requirement)
            return dict(out)

        return self.kept.once(("asked", self.kept.marks(self.requirements)), made)

    @cached_property
    def ground(self) -> tuple[int, ...]:
        """What stands for the evidence that every part's work is judged by."""
        bundle = self.bundle
        return self.kept.marks((bundle.features, bundle.operations, bundle.kinds, bundle.accepted))

    @cached_property
    def prices(self) -> tuple[int | bool, ...]:
        """What stands for the evidence of what work and used-up parts cost."""
        bundle = self.bundle
        used_up = {row.part for row in bundle.consumes}
        records = (self.parts[key] for key in sorted(used_up) if key in self.parts)
        return self.in_time, *self.kept.marks((bundle.rates, bundle.consumes, bundle.services, *records))

    @cached_property
    def undecided(self) -> tuple[Missing, ...]:
        """What no rule decides whatever fills the seats, so that no plan is certain."""
        return tuple(joint_lacks_rule(j, on, self.words) for j, on in joints_undecided(self.layout))

    @cached_property
    def unruled(self) -> frozenset[str]:
        """The seats that no rule looks at: only what came in the core is known to go there."""
        return seats_undecided(self.layout)

    def own_parts(self, seat: str) -> frozenset[str]:
        """The part that the core has in this seat, in whatever state; of several cores, those of each."""
        return frozenset(f.part for core in self.starts for f in core.found if f.seat == seat and f.part)

    @cached_property
    def walls(self) -> frozenset[str]:
        """The features that are walls which cuts thin."""
        return frozenset(o.wall_feature for o in self.operations.values() if o.wall_feature)

    @cached_property
    def barred_work(self) -> frozenset[str]:
        """The wishes that leave out work."""
        return frozenset(w for w in self.wishes if w == "no-machining" or w.startswith("no-operation:"))

    def operations_for(self, kind: str) -> tuple[Operation, ...]:
        """The operations on parts of this kind, wished-away ones left out, by name."""
        if kind not in self._offered:
            kinds = self.lineage(kind)
            barred = {w.removeprefix("no-operation:") for w in self.wishes if w.startswith("no-operation:")}
            self._offered[kind] = tuple(
                o
                for _, o in sorted(self.operations.items())
                if o.kind and o.kind in kinds and o.name not in barred and "no-machining" not in self.wishes
            )
        return self._offered[kind]

    def consumed_by(self, when: str) -> tuple[Consume, ...]:
        """The rows of one-time-use parts for this occasion."""
        return self._consumes.get(when, ())

    @cached_property
    def _consumes(self) -> dict[str, tuple[Consume, ...]]:
        out: dict[str, tuple[Consume, ...]] = {}
        for row in self.bundle.consumes:
            out[row.when] = (*out.get(row.when, ()), row)
        return out

    def services_closed(self, first: Iterable[str]) -> frozenset[str]:
        """The services named, with those that follow from them."""
        done: set[str] = set()
        waiting = list(first)
        while waiting:
            operation = self.operations.get(waiting.pop())
            if operation is None or operation.effect != SERVICE or operation.name in done:
                continue
            done.add(operation.name)
            waiting += self.services_named(operation)
        return frozenset(done)

    def services_named(self, operation: Operation) -> list[str]:
        """The services that an operation names: all of `follows`, and of `needs` those without a kind."""
        named = [n for n in operation.follows if self._is_service(n)]
        return named + [n for n in operation.needs if self._is_service(n) and not self.operations[n].kind]

    def _is_service(self, name: str) -> bool:
        return name in self.operations and self.operations[name].effect == SERVICE

    @cached_property
    def services_due(self) -> dict[str, tuple[str, ...]]:
        """The services that follow when a seat is changed (or `always`), closed."""
        rows: dict[str, list[str]] = defaultdict(list)
        for row in self.bundle.services:
            rows[row.when].append(row.operation)
        return {when: tuple(sorted(self.services_closed(names))) for when, names in rows.items()}

    @cached_property
    def starts(self) -> tuple[Core, ...]:
        """The cores whose own parts may be kept: the question's core."""
        return (self.bundle.core,)

    @cached_property
    def donors(self) -> tuple[Core, ...]:
        """The cores that may donate; the question's own core is none of them."""
        return tuple(c for c in self.bundle.donors if c.may_donate and c.key != self.bundle.core.key)

    @cached_property
    def words(self) -> dict[str, str]:
        """How joints and seats are called; a seat is called so where a joint has the same name."""
        joints = {j.name: j.label for j in self.layout.joints if j.label}
        return joints | {seat.name: in_words(seat.name) for seat in self.layout.seats}

    @cached_property
    def currency(self) -> str:
        """The one currency of all prices, rates and the book value.

        Raises
        ------
        MixedCurrency
            Two currencies in one question.
        """
        found = {r.currency for r in self.bundle.rates}
        for part in self.bundle.parts:
            found |= {p.currency for p in (part.price_new, part.price_used) if p is not None}
        core = self.bundle.core
        if not core.own and core.book_value is not None:
            found.add(core.currency)
        found.discard("")
        if len(found) > 1:
            raise MixedCurrency(
                f"prices in {', '.join(sorted(found))}",
                fix="state all prices and rates of one question in one currency",
            )
        return next(iter(found), "")

    def _refuse_what_does_not_go_together(self) -> None:
        seats = {s.name for s in self.layout.seats}
        faults = [
            f"the build demands something of seat {d.seat!r}, which layout {self.layout.name!r} lacks"
            for d in self.bundle.build.demands
            if d.seat not in seats
        ]
        for wish in sorted(self.wishes):
            if wish.startswith(ON_A_SEAT) and wish.partition(":")[2] not in seats:
                faults.append(f"the wish {wish!r} names a seat that layout {self.layout.name!r} lacks")
            if not any(wish.startswith(w) if w.endswith(":") else wish == w for w in WISHES):
                faults.append(f"the wish {wish!r} is not known")
        faults += [
            f"the demand {d.type!r} on seat {d.seat!r} names feature {d.feature!r}, which is not on record"
            for d in self.bundle.build.demands
            if d.type != "keep" and d.feature not in self.features
        ]
        if self.bundle.question.best < 1:
            faults.append(f"{self.bundle.question.best} plans are asked for")
        if faults:
            raise BadQuestion("; ".join(faults), fix="mend the build, the layout or the question, then ask again")


def _by_feature(claims: Iterable[Claim]) -> dict[str, list[Claim]]:
    out: dict[str, list[Claim]] = defaultdict(list)
    for claim in claims:
        out[claim.feature].append(claim)
    return dict(out)
