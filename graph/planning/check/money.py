"""What follows from the work, what it costs and how long it takes (docs/semantics.md, section 5)."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from graph.model.record import Consume, Operation, Price
from graph.model.verdict import Verdict
from graph.planning.check.case import Case, Place
from graph.planning.check.choices import CUTS, Option, kind_operations
from graph.planning.check.sizes import depth_time, half_up, round_half_up
from graph.planning.check.work import Work


@dataclass(frozen=True, slots=True)
class Line:
    """One addend: `what` names the part, operation or core; `said` the statements it may cite. None: no price."""

    kind: str
    what: str
    seat: str
    amount: int | None
    quantity: int
    currency: str
    as_of: str
    said: frozenset[str]
    at_least: bool = False  # a part of it is not known, so it is at least this


@dataclass(frozen=True, slots=True)
class Sums:
    """All money and time of one plan."""

    lines: tuple[Line, ...]
    services: frozenset[str]
    consumed: Mapping[str, tuple[int, tuple[Consume, ...]]]  # part: quantity, the rows that apply
    times: Mapping[tuple[str, str], int]  # (seat, operation), services with an empty seat
    deposits: int
    time: int
    lead_days: int | None

    @property
    def cost(self) -> int:
        """The sum of what is known."""
        return sum(line.amount or 0 for line in self.lines)

    @property
    def at_least(self) -> bool:
        """Whether something is not priced."""
        return any(line.amount is None or line.at_least for line in self.lines)

    @property
    def currencies(self) -> set[str]:
        """The currencies of all lines with an amount."""
        return {line.currency for line in self.lines if line.currency}


def changed_seats(case: Case, chosen: Mapping[str, tuple[Option, tuple[str, ...]]]) -> frozenset[str]:
    """The seats with a new or a donor's part, or with an operation that is no service."""
    changed = set()
    for seat, (option, names) in chosen.items():
        mine = kind_operations(case, option)
        if option.source in ("new", "donor") or any(mine[n].effect != "service" for n in names if n in mine):
            changed.add(seat)
    return frozenset(changed)


def services_done(case: Case, changed: Iterable[str], operations: Iterable[str]) -> frozenset[str]:
    """The services that follow from changed seats and chosen operations, each once."""
    chosen = set(operations)
    whens = {"always", *changed}
    done = {s.operation for s in case.bundle.services if s.when in whens} - chosen
    while True:
        more: set[str] = set()
        for name in (n for n in chosen | done if n in case.operations):
            operation = case.operations[name]
            more |= {n for n in operation.follows if _is_service(case, n, whole=False)}
            more |= {n for n in operation.needs if _is_service(case, n, whole=True)}
        if more - chosen <= done:
            return frozenset(n for n in done if n in case.operations)
        done |= more - chosen


def _is_service(case: Case, name: str, *, whole: bool) -> bool:
    operation = case.operations.get(name)
    return operation is not None and operation.effect == "service" and not (whole and operation.kind)


def parts_consumed(
    case: Case, changed: Iterable[str], operations: Mapping[str, Iterable[str]], services: Iterable[str]
) -> dict[str, tuple[int, tuple[Consume, ...]]]:
    """The parts that the work uses up: (quantity, rows that apply) of each. `operations` are those of each seat."""
    changed, services = set(changed), set(services)
    total: dict[str, int] = {}
    once: dict[str, int] = {}
    rows: dict[str, tuple[Consume, ...]] = {}
    for row in case.bundle.consumes:
        times = sum(row.when in names for names in operations.values())
        times = max(times, int(row.when == "always" or row.when in changed or row.when in services))
        if not times:
            continue
        rows[row.part] = (*rows.get(row.part, ()), row)
        if row.per == "unit":
            once[row.part] = max(once.get(row.part, 0), row.quantity)
        else:
            total[row.part] = total.get(row.part, 0) + row.quantity * times
    return {part: (total.get(part, 0) + once.get(part, 0), rows[part]) for part in sorted(rows)}


def sums(work: Work, least: Mapping[Place, int]) -> Sums:
    """All lines of a plan whose cuts are at least `least`."""
    case = work.case
    operations = {seat: names for seat, (_, names) in work.chosen.items()}
    changed = changed_seats(case, work.chosen)
    services = services_done(case, changed, [n for names in operations.values() for n in names])
    consumed = parts_consumed(case, changed, operations, services)
    lines = [_core_line(case)]
    times: dict[tuple[str, str], int] = {}
    strip = 0
    for seat, (option, names) in work.chosen.items():
        lines += option_lines(case, option)
        strip += strip_time(case, seat) if option.source == "donor" else 0
        mine = kind_operations(case, option)
        for operation in (mine[n] for n in names if n in mine):
            times[seat, operation.name] = time = operation_time(work, seat, operation, least)
            unpriced = operation.effect in CUTS and _deeper(work, (seat, operation.feature), least)
            said = frozenset({operation.said})
            lines.append(
                _labour_line(case, "labour", operation.name, seat, operation.rate, time, said, unpriced=unpriced)
            )
    for name in sorted(services):
        service = case.operations[name]
        times["", name] = time = service.setup + service.time
        lines.append(_labour_line(case, "service", name, "", service.rate, time, frozenset({service.said})))
    for key, (quantity, _) in consumed.items():
        part = case.parts.get(key)
        lines.append(_price_line("consumed", key, "", quantity, part.price_new if part else None))
    deposits, lead = _bought(work, consumed)
    return Sums(tuple(lines), services, consumed, times, deposits, sum(times.values()) + strip, lead)


def _deeper(work: Work, place: Place, least: Mapping[Place, int]) -> bool:
    """Whether a cut may have to go further: its size before is not known, or whether its least will do is not."""
    if place not in work.cuts:
        return True
    rules, demands = work.about([place])
    return any(work.verdict(r, least)[0] is Verdict.UNKNOWN for r in rules) or any(
        work.demand(d, least) is Verdict.UNKNOWN for d in demands
    )


def option_lines(case: Case, option: Option) -> list[Line]:
    """What the part that fills a seat costs, with the labour of taking it out of a donor."""
    if option.source not in ("new", "donor"):
        return []
    part, quantity = case.parts.get(option.part), seat_quantity(case, option.seat)
    if option.source == "new":
        return [_price_line("part", option.part, option.seat, quantity, part.price_new if part else None)]
    bought = _price_line("donor", option.part, option.seat, quantity, part.price_used if part else None)
    taken = strip_time(case, option.seat)
    if not taken:
        return [bought]
    return [bought, _labour_line(case, "labour", "strip", option.seat, "shop", taken, frozenset())]


def operation_time(work: Work, seat: str, operation: Operation, least: Mapping[Place, int]) -> int:
    """The time of one operation in one seat. [ms]"""
    time = operation.setup + operation.time
    place = (seat, operation.feature)
    if place not in work.cuts or operation.effect not in CUTS:
        return time
    return round_half_up(time + depth_time(work.cuts[place], least[place]))


def labour(case: Case, rate: str, time: int) -> int | None:
    """What a time costs at a rate, rounded half up; None when the rate is not known."""
    known = case.rates.get(rate)
    return None if known is None else half_up(time * known.per_hour, 3_600_000)


def seat_quantity(case: Case, seat: str) -> int:
    """How many equal parts the seat holds."""
    place = case.seats.get(seat)
    return place.quantity if place else 1


def strip_time(case: Case, seat: str) -> int:
    """The time to take the seat's part out of a donor. [ms]"""
    place = case.seats.get(seat)
    return (place.strip_time or 0) if place else 0


def _core_line(case: Case) -> Line:
    core = case.bundle.core
    amount = 0 if core.own else core.book_value
    currency = "" if core.own or amount is None else core.currency
    return Line("core", core.tag, "", amount, 1, currency, "", frozenset({core.said, ""}))


def _price_line(kind: str, part: str, seat: str, quantity: int, price: Price | None) -> Line:
    if price is None:
        return Line(kind, part, seat, None, quantity, "", "", frozenset({""}))
    amount = price.price * quantity
    return Line(kind, part, seat, amount, quantity, price.currency, price.as_of, frozenset({price.said}))


def _labour_line(
    case: Case, kind: str, what: str, seat: str, rate: str, time: int, said: frozenset[str], *, unpriced: bool = False
) -> Line:
    known = case.rates.get(rate)
    currency = known.currency if known else ""
    said = said | ({known.said} if known else {""})
    return Line(kind, what, seat, labour(case, rate, time), 1, currency, "", said, unpriced)


def _bought(work: Work, consumed: Mapping[str, tuple[int, tuple[Consume, ...]]]) -> tuple[int, int | None]:
    """The deposits, and the longest lead time of what stock does not cover."""
    wanted: dict[str, int] = {part: quantity for part, (quantity, _) in consumed.items()}
    for seat, (option, _) in work.chosen.items():
        if option.source == "new":
            wanted[option.part] = wanted.get(option.part, 0) + seat_quantity(work.case, seat)
    deposits, days = 0, 0
    unknown = False
    for key, quantity in wanted.items():
        part = work.case.parts.get(key)
        price = part.price_new if part else None
        deposits += (price.deposit or 0) * quantity if price else 0
        if part and sum(s.quantity for s in part.stock) >= quantity:
            continue
        if price is None or price.lead_days is None:
            unknown = True
        else:
            days = max(days, price.lead_days)
    return deposits, None if unknown else days
