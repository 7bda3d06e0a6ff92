"""The words of an answer: the sentence for the customer, what stands in the way, what is still open, the cautions."""

from collections.abc import Iterable, Mapping, Sequence

from graph.model.fact import Fact
from graph.model.plan import Plan, Step
from graph.model.value import Amount
from graph.model.verdict import Caution, Missing, Proof, RuleVerdict, Verdict
from graph.planning.modes import Mode, SeatModes
from graph.planning.money import named
from graph.planning.options import DONOR, EMPTY, KEPT, NEW, options
from graph.planning.problem import ENGINE, Problem
from graph.planning.requirement import Requirement
from graph.planning.room import WIDEN
from graph.planning.work import CUTS, rooms
from graph.rules.judge import how_to_settle, set_name
from graph.rules.spoken import as_written, fact_text, in_words, number, operand_name, wanted
from ontology.currencies import money_shown

CODED = ("code", "set", "text")
"""Types of features that are no sizes."""
ASKS = {"same": "of", "one_of": "one of"}
"""How demands read that do not read as they are written."""


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
    start = f"Core {bundle.core.tag}"
    goal = f"{bundle.build.label or bundle.build.name} for {bundle.engine.label or bundle.engine.name}"
    if verdict is Verdict.NO:
        return f"{start} cannot become {goal} with the parts and operations on record: {_first(causes)}."
    if not plans:
        return f"Whether core {bundle.core.tag} can become {goal} was not settled before the limit was reached."
    plan = plans[0]
    price = f"{'at least ' if plan.at_least else ''}{money_text(plan.cost, plan.currency)}"
    if verdict is Verdict.YES:
        return f"{start} is {goal} as it stands; only what is always renewed is renewed, for {price}."
    what = _work(problem, plan)
    if verdict is Verdict.UNKNOWN:
        asks = "; ".join(dict.fromkeys(m.measure for m in open_)) or "see the open facts"
        whether = f"Not known yet whether core {problem.bundle.core.tag} can become {goal}"
        return f"{whether}: {asks}. If that turns out well: {price}; {what}."
    sure = "the cheapest way on record" if proof is Proof.CHEAPEST else "a cheaper way is not ruled out"
    return f"{start} becomes {goal} with work, for {price}, {sure}: {what}."


def _work(problem: Problem, plan: Plan) -> str:
    """How much is kept, bought, taken from donors and machined; the lists themselves follow in the plan."""
    counts = [
        (sum(c.source == KEPT for c in plan.seats), "part is kept", "parts are kept"),
        (sum(c.source == NEW for c in plan.seats), "is new", "are new"),
        (sum(c.source == DONOR for c in plan.seats), "comes from a donor", "come from donors"),
        (sum(s.target is not None for s in plan.steps), "cut is made", "cuts are made"),
        (sum(bool(s.to_code) for s in plan.steps), "part is altered otherwise", "parts are altered otherwise"),
    ]
    return ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in counts if count)


def _first(causes: Sequence[str]) -> str:
    return "; ".join(c.rstrip(".") for c in causes[:3])


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
        sides = " against ".join(operand_name(s, f, problem.labels) for s, f in dict.fromkeys(rule.operands))
        safety = ", for safety" if rule.safety else ""
        return f"the fit of {joint}{safety}: {sides}, {wanted(rule, set_name(rule), quantity, problem.labels)}"
    demand = requirement.demand
    said = "not stated" if demand.value is None else as_written(demand.value)
    if demand.value_to is not None and isinstance(demand.value, Amount):
        said += f" to {number(demand.value_to, demand.value.quantity)}"
    called = operand_name(demand.seat, demand.feature, problem.labels)
    return f"the build asks for {called} {ASKS.get(demand.type, in_words(demand.type))} {said}"


def empty_seats(problem: Problem, seats: Sequence[SeatModes]) -> list[str]:
    """For each seat that nothing can fill: what was offered and what removes it."""
    names = {r.name: r for r in problem.requirements}
    out = []
    for seat in seats:
        if seat.modes:
            continue
        if not seat.offered:
            out.append(f"{in_words(seat.seat.name)}: no part on record or in the core may fill it")
            continue
        reasons = sorted(seat.removed.items(), key=lambda item: (-item[1], item[0]))
        only = seat.offered == 1
        said = "; ".join(
            f"{requirement_text(problem, names[n]) if n in names else n} "
            f"({'it fails' if only else f'{count} of them fail' if count > 1 else '1 of them fails'})"
            for n, count in reasons
        )
        none = "the only possible part will not do" if only else f"none of {seat.offered} possible parts will do"
        lead = f"{in_words(seat.seat.name)}: {none}, even with the work on record"
        out.append(f"{lead}: {said}" if said else lead)
        out += room_left(problem, [names[n] for n, _ in reasons if n in names])
    return out


def room_left(problem: Problem, requirements: Iterable[Requirement]) -> list[str]:
    """How far the cuts that could mend these requirements may go on the core's own parts, and what stops them."""
    fixed = {(d.seat, d.feature) for d in problem.keeps}
    out = []
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
                word = "no further than" if operation.effect == WIDEN else "no less than"
                out.append(f"{operation.label} ({in_words(seat)}): {word} {end}, for {room.basis}")
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
            why = "the demand states no value" if demand.value is None else _why(fact)
            measure = how_to_settle(demand.seat, problem.features.get(demand.feature), demand.feature, {})
            part = modes[demand.seat].option.part
            found.setdefault((demand.seat, demand.feature), Missing(demand.seat, demand.feature, part, why, measure))
    for mode in modes.values():
        for missing in mode.open:
            found.setdefault((missing.seat, missing.feature), missing)
    return tuple(dict.fromkeys((*found.values(), *problem.undecided)))


def _why(fact: Fact | None) -> str:
    if fact is None:
        return "no claim"
    return fact.why or f"not known closely enough: {fact_text(fact)}"


def cautions(
    problem: Problem, modes: Mapping[str, Mode], steps: Sequence[Step], facts: Mapping[tuple[str, str], Fact | None]
) -> tuple[Caution, ...]:
    """What to check and with whom: what the operations say of themselves, then what follows from any such work."""
    out = [Caution("operation", f"{s.label}: {s.caution}") for s in steps if s.caution]
    lasting = [s for s in steps if s.seat and s.feature and not s.reversible]
    if lasting:
        said = ", ".join(f"{s.label} ({in_words(s.seat)})" for s in lasting)
        out.append(Caution("irreversible", f"Cannot be undone: {said}."))
    cut = [s for s in lasting if problem.operations[s.operation].effect in CUTS]
    if cut:
        said = ", ".join(dict.fromkeys(f"{in_words(s.seat)} ({named(problem, s.part)})" for s in cut))
        out.append(
            Caution(
                "containment",
                f"{said}: once cut it is no longer the part that its maker tested, for holding a burst or for "
                "anything else; the maker's data decide.",
            )
        )
    if _altered(problem, modes):
        out.append(
            Caution(
                "emissions",
                "Not the original build, or not shown to be: whether it may be used, and where, is for the maker's "
                "data, emissions law where it applies, and the local code to say.",
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
            text = f"{called} of {named(problem, record.key)}: {fact_text(fact)}; never above it, whatever fits."
            out.append(Caution("speed-limit", text))
    return out
