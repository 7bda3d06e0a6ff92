"""The words of missing facts: what to measure first, then what comes of each case."""

from collections.abc import Iterable, Iterator, Sequence

from graph.model.depth import Condition, OutcomeCase
from graph.model.plan import PlanAnswer
from graph.model.verdict import Missing, Verdict
from graph.planning.explain import money_text
from graph.planning.money import named
from graph.planning.options import DONOR, EMPTY, KEPT, NEW
from graph.planning.problem import Problem
from graph.planning.unknown_gap import OTHER, Gap, Range
from graph.rules.spoken import in_words, number, operand_name

MOST_SAID = 3
"""Ways to do it that the sentence tells; the others are among the cases."""


def condition(problem: Problem, gap: Gap, taken: Range) -> Condition:
    """What a fact must turn out to be, with its words."""
    fact = (gap.seat, gap.feature, gap.part, gap.source, gap.lot, gap.positions)
    what = _fact(problem, gap.seat, gap.feature, gap.source, gap.part, gap.lot, gap.positions)
    if isinstance(taken, str):
        said = f"{what} {'something else' if taken == OTHER else taken}"
        return Condition(*fact, "", None, None, taken, said)
    low = taken[0] if gap.bounded or taken[0] > gap.low else None
    high = taken[1] if gap.bounded or taken[1] < gap.high else None
    return Condition(*fact, gap.quantity, low, high, "", f"{what} {between(low, high, gap.quantity)}")


def between(low: int | None, high: int | None, quantity: str) -> str:
    """The bounds as they are read out, exactly; each end the shorter of its two ways to be said.

    >>> between(None, 110_050_000, "length"), between(110_050_001, None, "length")
    ('at most 11.005 mm', 'more than 11.005 mm')
    >>> between(109_730_000, 109_950_000, "length")
    '10.973 mm to 10.995 mm'
    """
    if low is None and high is None:
        return "known, whatever it is"
    floor = "" if low is None else _shorter(("at least", low), ("more than", low - 1), quantity)
    ceiling = "" if high is None else _shorter(("at most", high), ("less than", high + 1), quantity)
    if floor.startswith("at least ") and ceiling.startswith("at most "):
        ends = dict.fromkeys((floor.removeprefix("at least "), ceiling.removeprefix("at most ")))
        return " to ".join(ends)
    if floor.startswith("more than ") and ceiling.startswith("less than "):
        return f"between {floor.removeprefix('more than ')} and {ceiling.removeprefix('less than ')}"
    return " and ".join(end for end in (floor, ceiling) if end)


def _shorter(one: tuple[str, int], other: tuple[str, int], quantity: str) -> str:
    said = [f"{word} {number(end, quantity)}" for word, end in (one, other)]
    return min(said, key=lambda text: len(text.split()[2]))


def _fact(
    problem: Problem, seat: str, feature: str, source: str, part: str, lot: str, positions: Sequence[str]
) -> str:
    whose = {DONOR: f" of {lot}", NEW: f" of a new {part.rpartition('/')[2]}"}.get(source, "")
    where = f" at {', '.join(positions)}" if tuple(positions) != ("",) else ""
    return f"{operand_name(seat, feature, problem.labels)}{whose}{where}"


def outcome(verdict: Verdict, conditions: Sequence[Condition], price: str) -> str:
    """One case in words."""
    when = " and ".join(c.text for c in conditions) or "otherwise"
    if verdict is Verdict.WITH_WORK:
        return f"{when}: it can be done, for {price}"
    return f"{when}: {'it cannot be done' if verdict is Verdict.NO else 'still not known'}"


def holds(problem: Problem, cases: Sequence[OutcomeCase]) -> Iterator[str]:
    """What all cases that can be done have in common, beside what is simply kept; seats in the layout's order."""
    if all(c.verdict is Verdict.NO for c in cases):
        yield "it cannot be done in any case"
        return
    plans = [c.plan for c in cases if c.verdict is Verdict.WITH_WORK and c.plan is not None]
    if not plans:
        return
    if all(c.verdict is Verdict.WITH_WORK for c in cases):
        most, least = (money_text(end(p.cost for p in plans), plans[0].currency) for end in (max, min))
        price = f"at least {least}" if any(p.at_least for p in plans) else f"{most} at most"
        yield f"it can be done in every case, for {price}"
    for choice in plans[0].seats:
        chosen = [next(c for c in p.seats if c.seat == choice.seat) for p in plans]
        alike = all(
            (c.part, c.source, c.operations) == (choice.part, choice.source, choice.operations) for c in chosen
        )
        if not alike or (choice.source in (KEPT, EMPTY) and not choice.operations):
            continue
        work = "".join(f", {problem.operations[name].label}" for name in choice.operations)
        part = f" {named(problem, choice.part)}" if choice.part else ""
        yield f"{in_words(choice.seat)}: {choice.source}{part}{work}"


def sentence(
    answer: PlanAnswer, cases: Sequence[OutcomeCase], sets: Sequence[Sequence[Missing]], *, ended: bool
) -> str:
    """First what to measure, then what comes of it."""
    if len(cases) == 1 and not cases[0].conditions and not ended:
        return answer.sentence
    out = []
    asks = list(dict.fromkeys(m.measure for m in sets[0])) if sets else []
    if asks:
        out.append(f"Look at this first: {'; '.join(asks)}.")
    able = [c for c in cases if c.verdict is Verdict.WITH_WORK]
    first = able[0].conditions if able else ()
    for n, case in enumerate(able[:MOST_SAID]):
        price = case.sentence.rpartition(": it can be done, for ")[2]
        further = n > 0 and case.conditions[: len(first)] == first
        shown = case.conditions[len(first) :] if further else case.conditions
        lead = f"{'It can be done for' if n == 0 else 'For'} {price} {'if besides' if further else 'with'}"
        out.append(f"{lead} {', '.join(c.text for c in shown)}.")
    if len(able) > MOST_SAID:
        out.append(f"{len(able) - MOST_SAID} more ways are among the cases.")
    never = [c for c in cases if c.verdict is Verdict.NO and len(c.conditions) == 1]
    if never:
        out.append(f"It cannot be done with {_either(c.conditions[0] for c in never)}.")
    if ended:
        out.append("The rest was not worked out: nothing is said of it.")
    elif any(not c.settled for c in cases):
        out.append("Anything else stays not known until more is measured.")
    return " ".join(out)


def _either(conditions: Iterable[Condition]) -> str:
    """Conditions on single facts, those on one fact together: "bore less than 5 mm or more than 6 mm".

    Of a fact with many only the first and the last; the others are among the cases.
    """
    by_fact: dict[tuple[str, ...], list[Condition]] = {}
    for c in conditions:
        by_fact.setdefault((c.seat, c.feature, c.part, c.source, c.lot, *c.positions), []).append(c)
    said = []
    for mine in by_fact.values():
        shown = mine if len(mine) <= MOST_SAID else [mine[0], mine[-1]]
        ends = [
            ("something else" if c.code == OTHER else c.code) or between(c.low, c.high, c.quantity) for c in shown
        ]
        head = mine[0].text.removesuffix(ends[0]).rstrip()
        more = f" ({len(mine) - len(shown)} sizes between these too: see the cases)" if len(shown) < len(mine) else ""
        said.append(f"{head} {' or '.join(ends)}{more}")
    return "; with ".join(said)
