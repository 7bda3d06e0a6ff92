"""What work and parts cost: labour by the rate, parts by their price, and what is used up (semantics, section 5)."""

from graph.model.plan import CostLine
from graph.model.record import Consume, Operation, Price
from graph.planning.modes import Mode
from graph.planning.options import DONOR, NEW
from graph.planning.problem import ALWAYS, Problem
from graph.planning.work import Cut
from graph.rules.spoken import in_words

HOUR = 3_600_000
MILLIMETRE = 10_000_000
SHOP = "shop"


def half_up(numerator: int, denominator: int) -> int:
    """The quotient rounded to a whole number, halves upwards.

    >>> half_up(5, 2), half_up(7, 3)
    (3, 2)
    """
    return (2 * numerator + denominator) // (2 * denominator)


def work_time(operation: Operation, change: int = 0, quantity: str = "length") -> int:
    """How long an operation takes for a change of so many quanta. [ms]"""
    depth = half_up(operation.time_per_mm * abs(change), MILLIMETRE) if quantity == "length" else 0
    return operation.setup + operation.time + depth


def labour(problem: Problem, rate: str, time: int) -> int | None:
    """What so much time costs, in minor units; None when the rate is not on record. In time: the time itself."""
    if problem.in_time:
        return time
    found = problem.rates.get(rate or SHOP)
    return None if found is None else half_up(time * found.per_hour, HOUR)


def cut_cost(problem: Problem, cut: Cut, size: int) -> int:
    """What is known of a cut's cost when the feature ends at `size`."""
    time = work_time(cut.operation, size - cut.start, cut.before.quantity)
    return labour(problem, cut.operation.rate, time) or 0


def weight(problem: Problem, cut: Cut) -> int:
    """What one quantum of change costs, in a unit common to all cuts."""
    rate = problem.rates.get(cut.operation.rate or SHOP)
    if rate is None or cut.before.quantity != "length":
        return 0
    return cut.operation.time_per_mm * rate.per_hour


def new_price(problem: Problem, part: str) -> Price | None:
    """The price of a new part, None when not on record (or when only time counts)."""
    if problem.in_time:
        return None
    record = problem.parts.get(part)
    return record.price_new if record is not None else None


def occasions(mode: Mode) -> frozenset[str]:
    """What a seat's choice makes happen: the seat's name when it is changed, and its operations."""
    own = frozenset(o.name for o in mode.operations)
    return own | {mode.option.seat.name} if mode.changed else own


def services_of(problem: Problem, mode: Mode) -> frozenset[str]:
    """The services that this seat's choice brings with it."""
    due: set[str] = set()
    if mode.changed:
        due |= set(problem.services_due.get(mode.option.seat.name, ()))
    named = [n for o in mode.operations for n in problem.services_named(o)]
    return frozenset(due | problem.services_closed(named)) - set(mode.names)


def services_always(problem: Problem) -> frozenset[str]:
    """The services done in any case."""
    return frozenset(problem.services_due.get(ALWAYS, ()))


def per_seat_rows(problem: Problem, occasion: str) -> list[Consume]:
    """The rows of this occasion that count each time."""
    return [row for row in problem.consumed_by(occasion) if row.per != "unit"]


def rows_cost(problem: Problem, rows: list[Consume]) -> int:
    """What is known of the cost of the consumed parts."""
    total = 0
    for row in rows:
        price = new_price(problem, row.part)
        total += price.price * row.quantity if price is not None else 0
    return total


def part_lines(problem: Problem, mode: Mode) -> list[CostLine]:
    """The cost of a seat's part itself: its price, and the labour to strip it out of a donor."""
    option = mode.option
    if option.source not in (NEW, DONOR):
        return []
    seat = option.seat
    called = named(problem, option.part)
    record = option.record
    price = None if record is None else record.price_new if option.source == NEW else record.price_used
    price = None if problem.in_time else price
    word = "part" if option.source == NEW else "donor"
    lines = [
        CostLine(
            f"{called} ({option.source}{f' from {option.lot}' if option.lot else ''})",
            word,
            seat.name,
            None if price is None else price.price * seat.quantity,
            seat.quantity,
            "" if price is None else price.as_of,
            "" if price is None else price.said,
        )
    ]
    if option.source == DONOR and seat.strip_time:
        lines.append(
            CostLine(
                f"strip {called} out of {option.lot}",
                "labour",
                seat.name,
                labour(problem, SHOP, seat.strip_time),
                said=rate_said(problem, SHOP),
            )
        )
    return lines


def own_cost(problem: Problem, mode: Mode) -> int:
    """What is known of a seat's cost by itself: part, operations other than cuts, and parts used up each time."""
    total = sum(line.amount or 0 for line in part_lines(problem, mode))
    cut = {c.operation.name for c in mode.cuts.values()}
    for operation in mode.operations:
        if operation.name not in cut:
            total += labour(problem, operation.rate, work_time(operation)) or 0
    for occasion in occasions(mode):
        total += rows_cost(problem, per_seat_rows(problem, occasion))
    return total


def core_line(problem: Problem) -> CostLine:
    """What the core itself counts for."""
    core = problem.bundle.core
    worth = 0 if core.own or problem.in_time else core.book_value
    return CostLine(f"core {core.tag}", "core", "", worth, said=core.said)


def rate_said(problem: Problem, rate: str) -> str:
    """The statement that the rate rests on."""
    found = problem.rates.get(rate or SHOP)
    return found.said if found is not None else ""


def work_text(label: str, seat: str) -> str:
    """How a step is called in the lines of its cost."""
    return f"{label} ({in_words(seat)})" if seat else label


def named(problem: Problem, part: str) -> str:
    """A part as a person calls it: its label and number."""
    record = problem.parts.get(part)
    if record is None:
        return part or "part not identified"
    return f"{record.label} {record.number}".strip()
