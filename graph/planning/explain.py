"""The words of an answer: the sentence for the customer, what stands in the way, what is still open, the cautions."""

from collections.abc import Iterable, Mapping, Sequence

from graph.model.fact import Fact
from graph.model.plan import Plan, Step
from graph.model.said import joined, say
from graph.model.value import Amount
from graph.model.verdict import Caution, Missing, Proof, RuleVerdict, Verdict
from graph.planning.modes import Mode, SeatModes
from graph.planning.money import named
from graph.planning.options import DONOR, EMPTY, KEPT, NEW, options
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import Requirement
from graph.planning.room import WIDEN
from graph.planning.work import CUTS, rooms
from graph.rules.decide import set_name
from graph.rules.facts import NO_CLAIM
from graph.rules.judge import how_to_settle
from graph.rules.spoken import against, as_written, fact_text, in_words, number, operand_name, wanted
from ontology.currencies import money_shown

CODED = ("code", "set", "text")
"""Types of features that are no sizes."""
ASKS = {
    "same": say("of"),
    "one_of": say("one of"),
    "at_least": say("at least"),
    "at_most": say("at most"),
    "between": say("between"),
    "keep": say("keep"),
}
"""How demands read."""


def money_text(amount: int, currency: str) -> str:
    """An amount of minor units as it is read out.

    >>> money_text(123405, "EUR")
    '1,234.05 EUR'
    """
    return money_shown(amount, currency, thousands=",")


def sentence(
    problem: Problem,
    verdict: Verdict,
    proof: Proof,
    plans: Sequence[Plan],
    open_: Sequence[Missing],
    causes: Sequence[str],
) -> str:
    """The answer in one or two plain sentences."""
    bundle = problem.bundle
    core = bundle.core.tag
    build, engine = bundle.build.label or bundle.build.name, bundle.engine.label or bundle.engine.name
    goal = say("{build} for {engine}", build=build, engine=engine)
    if verdict is Verdict.NO:
        return say(
            "Core {core} cannot become {goal} with the parts and operations on record: {causes}.",
            core=core,
            goal=goal,
            causes=joined("; ", (c.rstrip(".") if c.endswith(".") else c for c in causes[:3])),
        )
    if not plans:
        return say(
            "Whether core {core} can become {goal} was not settled before the limit was reached.",
            core=core,
            goal=goal,
        )
    plan = plans[0]
    price = money_text(plan.cost, plan.currency)
    price = say("at least {price}", price=price) if plan.at_least else price
    if verdict is Verdict.YES:
        return say(
            "Core {core} is {goal} as it stands; only what is always renewed is renewed, for {price}.",
            core=core,
            goal=goal,
            price=price,
        )
    what = _work(plan)
    if verdict is Verdict.UNKNOWN:
        asks = joined("; ", dict.fromkeys(m.measure for m in open_)) or say("see the open facts")
        return say(
            "Not known yet whether core {core} can become {goal}: {measures}."
            " If that turns out well: {price}; {work}.",
            core=core,
            goal=goal,
            measures=asks,
            price=price,
            work=what,
        )
    cheapest, found = say("the cheapest way on record"), say("a cheaper way is not ruled out")
    return say(
        "Core {core} becomes {goal} with work, for {price}, {sure}: {work}.",
        core=core,
        goal=goal,
        price=price,
        sure=cheapest if proof is Proof.CHEAPEST else found,
        work=what,
    )


def _work(plan: Plan) -> str:
    """How much is kept, bought, taken from donors and machined; the lists themselves follow in the plan."""
    kept, new, donated = (sum(c.source == source for c in plan.seats) for source in (KEPT, NEW, DONOR))
    cuts, altered = sum(s.target is not None for s in plan.steps), sum(bool(s.to_code) for s in plan.steps)
    said = [
        (kept, say("1 part is kept"), say("{n} parts are kept", n=kept)),
        (new, say("1 is new"), say("{n} are new", n=new)),
        (donated, say("1 comes from a donor"), say("{n} come from donors", n=donated)),
        (cuts, say("1 cut is made"), say("{n} cuts are made", n=cuts)),
        (altered, say("1 part is altered otherwise"), say("{n} parts are altered otherwise", n=altered)),
    ]
    return joined(", ", (one if count == 1 else many for count, one, many in said if count))


def why_chosen(problem: Problem, mode: Mode) -> str:
    """Why a seat is filled so, in a few words."""
    option = mode.option
    if option.source == KEPT:
        return (
            "the core's own part is used again"
            if not mode.cuts and not mode.recoded
            else "the core's own part, machined"
        )
    if option.source == DONOR:
        return f"taken out of core {option.lot}"
    if option.source == EMPTY:
        return "the seat may stay empty"
    return "never used again" if problem.one_time(option.kind) else "the cheapest plan takes a new part here"


def requirement_text(problem: Problem, requirement: Requirement) -> str:
    """A rule or a demand as a person says it: what is held against what, and what is asked."""
    if requirement.demand is None:
        assert requirement.rule is not None
        rule = requirement.rule
        labels = {j.name: j.label for j in problem.layout.joints}
        joint = labels.get(rule.joint) or in_words(rule.joint)
        known = problem.features.get(rule.left[1])
        quantity = known.type if known is not None and known.type not in CODED else ""
        sides = against(operand_name(s, f, problem.labels) for s, f in dict.fromkeys(rule.operands))
        fit = (
            say("the fit of {joint}, for safety", joint=joint)
            if rule.safety
            else say("the fit of {joint}", joint=joint)
        )
        return say(
            "{fit}: {sides}, {asks}",
            fit=fit,
            sides=sides,
            asks=wanted(rule, set_name(rule), quantity, problem.labels),
        )
    demand = requirement.demand
    said = say("not stated") if demand.value is None else as_written(demand.value)
    if demand.value_to is not None and isinstance(demand.value, Amount):
        said = say("{low} to {high}", low=said, high=number(demand.value_to, demand.value.quantity))
    called = operand_name(demand.seat, demand.feature, problem.labels)
    asked = joined(" ", (called, ASKS.get(demand.type) or in_words(demand.type), said))
    return say("the build asks for {what}", what=asked)


def empty_seats(problem: Problem, seats: Sequence[SeatModes]) -> list[str]:
    """For each seat that nothing can fill: what was offered and what removes it."""
    names = {r.name: r for r in problem.requirements}
    out: list[str] = []
    for seat in seats:
        if seat.modes:
            continue
        if not seat.offered:
            out.append(say("{seat}: no part on record or in the core may fill it", seat=in_words(seat.seat.name)))
            continue
        reasons = sorted(seat.removed.items(), key=lambda item: (-item[1], item[0]))
        only = seat.offered == 1
        said = joined(
            "; ",
            (_failing(requirement_text(problem, names[n]) if n in names else n, count, only) for n, count in reasons),
        )
        where = in_words(seat.seat.name)
        if only:
            lead = say("{seat}: the only possible part will not do, even with the work on record", seat=where)
        else:
            lead = say(
                "{seat}: none of {n} possible parts will do, even with the work on record", seat=where, n=seat.offered
            )
        out.append(joined(": ", (lead, said)) if said else lead)
        out += room_left(problem, [names[n] for n, _ in reasons if n in names])
    return out


def _failing(what: str, count: int, only: bool) -> str:
    if only:
        return say("{what} (it fails)", what=what)
    return (
        say("{what} ({n} of them fail)", what=what, n=count)
        if count > 1
        else say("{what} (1 of them fails)", what=what)
    )


def room_left(problem: Problem, requirements: Iterable[Requirement]) -> list[str]:
    """How far the cuts that could mend these requirements may go on the core's own parts, and what stops them."""
    fixed = {(d.seat, d.feature) for d in problem.keeps}
    out: list[str] = []
    for seat, feature in dict.fromkeys(o for r in requirements for o in r.operands):
        place = problem.layout.seat(seat)
        if place is None or (seat, feature) in fixed:
            continue
        for option in (o for o in options(problem, place) if o.source == KEPT):
            for operation, room in rooms(problem, option, feature):
                if room.limit is None:
                    continue
                known = problem.features.get(feature)
                end = number(room.limit, known.type if known is not None else "")
                told = {"work": operation.label, "seat": in_words(seat), "size": end, "basis": room.basis}
                widens = operation.effect == WIDEN
                out.append(
                    say("{work} ({seat}): no further than {size}, for {basis}", **told)
                    if widens
                    else say("{work} ({seat}): no less than {size}, for {basis}", **told)
                )
    return list(dict.fromkeys(out))


def open_facts(
    problem: Problem,
    modes: Mapping[str, Mode],
    joints: Iterable[RuleVerdict],
    facts: Mapping[tuple[str, str], Fact | None],
) -> tuple[Missing, ...]:
    """What a possible plan hangs on, each once: facts of its rules, its demands and its work, and rules that lack."""
    found: dict[tuple[str, str], Missing] = {}
    for verdict in joints:
        for missing in verdict.missing:
            found.setdefault((missing.seat, missing.feature), missing)
    for requirement in problem.requirements:
        demand = requirement.demand
        if demand is None or modes[demand.seat].option.source == EMPTY:
            continue
        fact = facts.get((demand.seat, demand.feature))
        if requirement.verdict([fact]) is Verdict.UNKNOWN:
            why = say("the demand states no value") if demand.value is None else _why(fact)
            measure = how_to_settle(demand.seat, problem.features.get(demand.feature), demand.feature, {})
            part = modes[demand.seat].option.part
            found.setdefault((demand.seat, demand.feature), Missing(demand.seat, demand.feature, part, why, measure))
    for mode in modes.values():
        for missing in mode.open:
            found.setdefault((missing.seat, missing.feature), missing)
    return tuple(dict.fromkeys((*found.values(), *problem.undecided)))


def _why(fact: Fact | None) -> str:
    if fact is None:
        return NO_CLAIM
    return fact.why or say("not known closely enough: {values}", values=fact_text(fact))


def cautions(
    problem: Problem, modes: Mapping[str, Mode], steps: Sequence[Step], facts: Mapping[tuple[str, str], Fact | None]
) -> tuple[Caution, ...]:
    """What to check and with whom: what the operations say of themselves, then what follows from any such work."""
    out = [Caution("operation", f"{s.label}: {s.caution}") for s in steps if s.caution]
    lasting = [s for s in steps if s.seat and s.feature and not s.reversible]
    if lasting:
        said = ", ".join(f"{s.label} ({in_words(s.seat)})" for s in lasting)
        out.append(Caution("irreversible", say("Cannot be undone: {work}.", work=said)))
    cut = [s for s in lasting if problem.operations[s.operation].effect in CUTS]
    if cut:
        said = ", ".join(dict.fromkeys(f"{in_words(s.seat)} ({named(problem, s.part)})" for s in cut))
        out.append(
            Caution(
                "containment",
                say(
                    "{parts}: once cut it is no longer the part that its maker tested, for holding a burst or for "
                    "anything else; the maker's data decide.",
                    parts=said,
                ),
            )
        )
    if _altered(problem, modes):
        out.append(
            Caution(
                "emissions",
                say(
                    "Not the original build, or not shown to be: whether it may be used, and where, is for the"
                    " maker's data, emissions law where it applies, and the local code to say."
                ),
            )
        )
    out += _speeds(problem, modes, facts)
    return tuple(dict.fromkeys(out))


def _altered(problem: Problem, modes: Mapping[str, Mode]) -> bool:
    """Whether a duty feature, or the part that carries one, is another than the core came with."""
    found = {f.seat: f.part for f in problem.bundle.core.found}
    for seat, mode in modes.items():
        duty = [f for f in sorted(problem.asked_features.get(seat, ())) if _duty(problem, f)]
        if any(_duty(problem, f) for f in (*mode.cuts, *mode.recoded)):
            return True
        changed_part = mode.option.source in (NEW, DONOR) and mode.option.part != found.get(seat)
        if changed_part and (duty or _has_duty(problem, mode)):
            return True
    return False


def _duty(problem: Problem, feature: str) -> bool:
    known = problem.features.get(feature)
    return known is not None and known.duty


def _has_duty(problem: Problem, mode: Mode) -> bool:
    record = mode.option.record
    return record is not None and any(_duty(problem, c.feature) for c in record.claims)


def _speeds(
    problem: Problem, modes: Mapping[str, Mode], facts: Mapping[tuple[str, str], Fact | None]
) -> list[Caution]:
    """The speed limits of the parts that are fitted."""
    out = []
    limits = sorted(f.name for f in problem.features.values() if f.duty and f.type == "speed")
    for seat, mode in modes.items():
        record = mode.option.record
        if seat == ENGINE or record is None:
            continue
        for feature in limits:
            if not any(c.feature == feature for c in record.claims):
                continue
            fact = problem.kind_fact(record.key, feature, used=mode.option.source != NEW)
            called = problem.features[feature].label
            text = say(
                "{limit} of {part}: {size}; never above it, whatever fits.",
                limit=called,
                part=named(problem, record.key),
                size=fact_text(fact),
            )
            out.append(Caution("speed-limit", text))
    return out
