"""Why a build is impossible: a minimal clash of demands, rules and wishes (docs/semantics.md, section 10).

Rule 1: a question with some of them dropped is a bundle like any other, solved and judged like any other.
Rule 2: how far a part may be cut is a fact, never a member: nobody can drop it. Safety rules are members of a
clash, since people must see them, and are never given up.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace

from graph.errors import Unanswerable
from graph.model.bundle import Bundle
from graph.model.claim import Claim
from graph.model.depth import Clash, Member
from graph.model.fact import Alternative, Fact
from graph.model.plan import Plan
from graph.model.record import Demand
from graph.model.statement import name_in
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import never, written
from graph.planning.compile import Compiled, compiled
from graph.planning.explain import requirement_text
from graph.planning.feasible import any_solution
from graph.planning.kept import Kept
from graph.planning.modes import Mode
from graph.planning.money import named
from graph.planning.options import DONOR, EMPTY, KEPT, NEW
from graph.planning.problem import ENGINE, ON_A_SEAT, Problem
from graph.planning.quickxplain import minimal_conflict
from graph.planning.requirement import Requirement, of_demand, of_rule
from graph.planning.search import k_best
from graph.planning.work import CUTS, rooms
from graph.rules.decide import set_name
from graph.rules.judge import judge
from graph.rules.spoken import fact_text, in_words, number, operand_name, wished

Key = tuple[str, int]
"""A member: its kind (rule, demand, wish) and its place in the layout's rules, build's demands or the wishes."""

RULE, DEMAND, WISH = "rule", "demand", "wish"


def members(bundle: Bundle) -> list[Key]:
    """All members in the order that decides which clash is told: demands, wishes, safety rules, the other rules.

    What stands first is taken as given for longest, so that as few rules as will do enter a clash.
    """
    rules = bundle.layout.rules
    out = [(DEMAND, i) for i in range(len(bundle.build.demands))]
    out += [(WISH, i) for i in range(len(bundle.question.wishes))]
    out += [(RULE, i) for i, rule in enumerate(rules) if rule.safety]
    return out + [(RULE, i) for i, rule in enumerate(rules) if not rule.safety]


def narrowed(bundle: Bundle, kept: Collection[Key], seats: Collection[str] | None = None) -> Bundle:
    """The bundle with only these members, and with only these seats if some are named."""
    layout = bundle.layout
    rules = tuple(r for i, r in enumerate(layout.rules) if (RULE, i) in kept)
    layout = replace(layout, rules=rules)
    if seats is not None:
        joints = {r.joint for r in rules}
        layout = replace(
            layout,
            seats=tuple(s for s in layout.seats if s.name in seats),
            joints=tuple(j for j in layout.joints if j.name in joints),
        )
    demands = tuple(d for i, d in enumerate(bundle.build.demands) if (DEMAND, i) in kept)
    wishes = tuple(w for i, w in enumerate(bundle.question.wishes) if (WISH, i) in kept)
    return replace(
        bundle,
        layout=layout,
        build=replace(bundle.build, demands=demands),
        question=replace(bundle.question, wishes=wishes, best=1),
    )


@dataclass(slots=True)
class Oracle:
    """Says of members whether they can be met together; a plan found once answers for all that it meets too."""

    bundle: Bundle
    stop: Callable[[], bool] = never
    shared: Kept | None = None
    problem: Problem = field(init=False)
    checks: int = 0
    free: int = 0
    known: dict[tuple[frozenset[Key], frozenset[str] | None], bool] = field(default_factory=dict)
    met: list[frozenset[Key]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.problem = Problem(self.bundle, self.shared)

    def seats_of(self, key: Key) -> frozenset[str]:
        """The seats that a member looks at; a wish about all of them names none."""
        kind, place = key
        if kind == RULE:
            return frozenset(s for s in self.bundle.layout.rules[place].seats if s != ENGINE)
        if kind == DEMAND:
            return frozenset({self.bundle.build.demands[place].seat})
        wish = self.bundle.question.wishes[place]
        return frozenset({wish.partition(":")[2]}) if wish.startswith(ON_A_SEAT) else frozenset()

    def possible(self, kept: frozenset[Key], seats: frozenset[str] | None = None) -> bool:
        """Whether some plan meets these members (in these seats; None: in all)."""
        if seats is None:
            if any(kept <= met for met in self.met):
                self.free += 1
                return True
            if all(self.seats_of(k) for k in kept) and kept:
                # A seat that no member looks at can be filled if it can be at all, which is asked with no members.
                if not self.possible(frozenset()):
                    return False
                seats = frozenset().union(*(self.seats_of(k) for k in kept))
        if (kept, seats) not in self.known:
            self.known[kept, seats] = self._solved(kept, seats)
        return self.known[kept, seats]

    def _solved(self, kept: frozenset[Key], seats: frozenset[str] | None) -> bool:
        self.checks += 1
        made = self.made(kept, seats)
        found = any_solution(made.network, self.stop)
        if found is None:
            return False
        plan, _, _ = written(made, found)
        modes = made.chosen(found)
        self.met.append(kept | {k for k in members(self.bundle) if k not in kept and self._meets(k, modes, plan)})
        return True

    def made(self, kept: Collection[Key], seats: Collection[str] | None, *, certain: bool = False) -> Compiled:
        """The network with only these members, in these seats."""
        return compiled(self.problem.asked_otherwise(narrowed(self.bundle, kept, seats)), certain=certain)

    def first(self, made: Compiled) -> tuple[int, ...] | None:
        """The cheapest solution; None when there is none."""
        found = k_best(made.network, 1, stop=self.stop)
        if found.proof is Proof.UNDECIDED:
            raise Unanswerable(
                "why it is impossible was not settled before the limit was reached", fix="give it more time"
            )
        return found.solutions[0].choice if found.solutions else None

    def _meets(self, key: Key, modes: Mapping[str, Mode], plan: Plan) -> bool:
        """Whether a plan meets a member that it was not asked to; said only where all its seats are in the plan."""
        kind, place = key
        seats = self.seats_of(key)
        if not seats or not seats <= modes.keys():
            return False
        if kind == WISH:
            wish = self.bundle.question.wishes[place]
            source = modes[next(iter(seats))].option.source
            return source == KEPT if wish.startswith("keep:") else source not in (KEPT, DONOR)
        requirement = requirement_of(self.problem, key)
        if requirement is None:
            demand = self.bundle.build.demands[place]
            mode = modes[demand.seat]
            if mode.option.source == EMPTY:
                return False
            if not demand.feature:
                return mode.option.source == KEPT
            return demand.feature not in mode.cuts and demand.feature not in mode.recoded
        if any(modes[s].option.source == EMPTY for s in seats):
            return kind == RULE
        facts = [after(self.problem, modes, plan, s, f) for s, f in requirement.operands]
        return requirement.verdict(facts) is not Verdict.NO


def requirement_of(problem: Problem, key: Key) -> Requirement | None:
    """A rule or a demand on a feature as a requirement; None for what keeps something, and for wishes."""
    kind, place = key
    if kind == RULE:
        rule = problem.layout.rules[place]
        coded = rule.type in ("accepted", "control")
        return of_rule(rule, problem.accepted.get(set_name(rule), frozenset()) if coded else frozenset())
    if kind == DEMAND and problem.bundle.build.demands[place].type != "keep":
        return of_demand(problem.bundle.build.demands[place])
    return None


def after(problem: Problem, modes: Mapping[str, Mode], plan: Plan, seat: str, feature: str) -> Fact | None:
    """A feature after a plan's work, asked for by a rule or not."""
    if seat == ENGINE:
        return problem.engine_fact(feature)
    mode = modes.get(seat)
    if mode is None or mode.option.source == EMPTY:
        return None
    for step in plan.steps:
        if step.seat == seat and step.feature == feature and step.target is not None:
            made = Alternative(step.target - step.tolerance, step.target + step.tolerance, claims=step.claims)
            return Fact(mode.option.part, feature, "machined", step.quantity, (made,))
    if feature in mode.facts:
        return mode.facts[feature]
    if mode.option.found is not None:
        return problem.found_fact(mode.option.found, feature)
    return problem.kind_fact(mode.option.part, feature, used=False)


def clash(bundle: Bundle, stop: Callable[[], bool] = never, oracle: Oracle | None = None) -> Clash | None:
    """A minimal clash of an impossible question, in words; None when seats cannot be filled whatever is asked.

    `oracle`: one of this bundle, that remembers what it was asked.

    Raises
    ------
    Unanswerable
        Stopped before it was settled, or the question is possible.
    """
    oracle = Oracle(bundle, stop) if oracle is None else oracle
    found = minimal_conflict(members(bundle), oracle.possible)
    if found is None:
        raise Unanswerable("the question is possible, so that nothing clashes", fix="ask for the plan")
    return said(oracle, found) if found else None


def said(oracle: Oracle, found: Iterable[Key]) -> Clash:
    """A minimal conflict with its seats, and each member with what comes out without it."""
    keys = frozenset(found)
    bundle = oracle.bundle
    seats = frozenset().union(*(oracle.seats_of(k) for k in keys))
    if not seats or oracle.possible(keys, seats):
        others = [s.name for s in bundle.layout.seats if s.name not in seats]
        more = minimal_conflict(others, lambda more: oracle.possible(keys, seats | more))
        seats |= frozenset(more or ())
    out = []
    for key in sorted(keys, key=members(bundle).index):
        made = oracle.made(keys - {key}, seats)
        choice = oracle.first(made)
        assert choice is not None
        plan, _, _ = written(made, choice)
        out.append(_member(oracle, key, made.chosen(choice), plan))
    return Clash(tuple(s.name for s in bundle.layout.seats if s.name in seats), tuple(out))


def _member(oracle: Oracle, key: Key, modes: Mapping[str, Mode], plan: Plan) -> Member:
    problem = oracle.problem
    kind, place = key
    requirement = requirement_of(problem, key)
    operands = requirement.operands if requirement is not None else ()
    facts = {o: after(problem, modes, plan, *o) for o in operands}
    claims = {c for f in facts.values() if f is not None for a in f.alternatives for c in a.claims}
    safety, records = False, []
    keep = _kept_seat(problem, key)
    if kind == RULE:
        rule = problem.layout.rules[place]
        safety = rule.safety
        parts = {s: m.option.part for s, m in modes.items()} | {ENGINE: problem.bundle.engine.key}
        empty = frozenset(s for s, m in modes.items() if m.option.source == EMPTY)
        verdict = judge(
            rule, facts, accepted=problem.accepted, features=problem.features, parts=parts, empty=empty,
            may_be_empty=empty, spoken=problem.words,
        )  # fmt: skip
        have = verdict.reason if verdict is not None else ""
        claims.add(rule.said)
    elif kind == DEMAND:
        demand = problem.bundle.build.demands[place]
        have = demand_text(problem, demand, facts.get((demand.seat, demand.feature)), modes.get(demand.seat))
        claims.add(demand.said)
        records.append(f"what build {problem.bundle.build.name} asks")
    else:
        have = f"without it: {_taken(problem, modes)}"
        records.append("what the customer wishes")
    if keep:
        holds, (statement, record) = _held(problem, keep)
        have = f"{holds}; {have}"
        claims.add(statement)
        records.append(record)
    limits = tuple(dict.fromkeys(_limits(problem, operands, modes)))
    return Member(
        kind,
        place,
        safety,
        member_text(problem, key),
        have,
        limits,
        tuple(sorted(claims - {""})),
        (*sources(problem, claims), *records),
        plan,
    )


def _kept_seat(problem: Problem, key: Key) -> str:
    """The seat whose own part a member keeps, by the build or by a wish; empty: it keeps none."""
    kind, place = key
    if kind == WISH:
        wish = problem.bundle.question.wishes[place]
        return wish.removeprefix("keep:") if wish.startswith("keep:") else ""
    if kind == DEMAND and problem.bundle.build.demands[place].type == "keep":
        return problem.bundle.build.demands[place].seat
    return ""


def member_text(problem: Problem, key: Key) -> str:
    """What a member asks, as a person names it."""
    kind, place = key
    requirement = requirement_of(problem, key)
    if requirement is not None:
        return requirement_text(problem, requirement)
    if kind == WISH:
        return f"the customer's wish: {wished(problem.bundle.question.wishes[place], operation_words(problem))}"
    demand = problem.bundle.build.demands[place]
    if demand.feature:
        return f"the build keeps the core's {operand_name(demand.seat, demand.feature, problem.labels)} as it is"
    return f"the build keeps the core's own {in_words(demand.seat)}"


def demand_text(problem: Problem, demand: Demand, fact: Fact | None, mode: Mode | None) -> str:
    """What there is where a demand is not met."""
    seat = in_words(demand.seat)
    if mode is None or mode.option.source == EMPTY:
        return f"without it the {seat} is left out"
    taken = f"{named(problem, mode.option.part)} ({mode.option.source})"
    if demand.type == "keep":
        work = f", with this work: {', '.join(o.label or o.name for o in mode.operations)}" if mode.operations else ""
        return f"without it: {taken}{work}"
    return f"without it: {problem.features[demand.feature].label} {fact_text(fact)}, by {taken}"


def _held(problem: Problem, seat: str) -> tuple[str, tuple[str, str]]:
    """What the core holds in a seat, and the statement and the record that say so."""
    core = problem.bundle.core
    found = next((f for f in core.found if f.seat == seat), None)
    if found is None:
        return "the core has no such part", (core.said, f"the record of core {core.tag}")
    plate = f"as built by the plate of core {core.tag}, {name_in(core.as_built)}"
    record = plate if found.plate else f"as found in core {core.tag}"
    state = "" if found.state == "present" else f", {found.state}"
    return f"the core holds {named(problem, found.part)}{state}, {record}", (found.said, record)


def operation_words(problem: Problem) -> dict[str, str]:
    """How operations are called."""
    return {name: o.label for name, o in problem.operations.items() if o.label}


def _taken(problem: Problem, modes: Mapping[str, Mode]) -> str:
    words = {KEPT: "kept", EMPTY: "left out", NEW: "new", DONOR: "out of a donor"}
    said_ = []
    for seat, mode in modes.items():
        part = f" {named(problem, mode.option.part)}" if mode.option.source in (NEW, DONOR) else ""
        work = f" ({', '.join(o.label or o.name for o in mode.operations)})" if mode.operations else ""
        said_.append(f"{in_words(seat)} {words[mode.option.source]}{part}{work}")
    return "; ".join(said_)


def _limits(problem: Problem, operands: Iterable[tuple[str, str]], modes: Mapping[str, Mode]) -> Iterator[str]:
    for seat, feature in operands:
        if seat == ENGINE or seat not in modes or modes[seat].option.source == EMPTY:
            continue
        option = modes[seat].option
        if any(d.seat == seat and d.feature == feature for d in problem.keeps):
            continue
        for operation, room in rooms(problem, option, feature):
            if room.limit is None:
                yield f"{operation.label} ({in_words(seat)}): how far is not known"
                continue
            quantity = problem.found_fact(option.found, feature).quantity if option.found else ""
            quantity = quantity or problem.kind_fact(option.part, feature, used=False).quantity
            word = "at most" if operation.effect == CUTS[0] else "at least"
            yield f"{operation.label} ({in_words(seat)}): to {number(room.limit, quantity)} {word} ({room.basis})"


def sources(problem: Problem, claims: Iterable[str]) -> list[str]:
    """The sources of these statements, as they are called."""
    wanted = set(claims)
    called = {s.name: s.title or s.name for s in problem.bundle.sources}
    found = {c.source for c in _all_claims(problem.bundle) if c.id in wanted}
    return sorted(called.get(name, name) for name in found)


def _all_claims(bundle: Bundle) -> Iterator[Claim]:
    yield from bundle.engine.claims
    for part in bundle.parts:
        yield from part.claims
    for core in (bundle.core, *bundle.donors):
        for found in core.found:
            yield from found.readings
