"""Jobs, stock and prices as they stand on the shelf, each with the version that a change of it rests on."""

from collections.abc import Callable, Iterable
from typing import TypeVar

from graph.desk import names
from graph.desk.desk import Desk
from graph.errors import NotFound
from graph.index.search import Candidate
from graph.ledger.reading import Held
from graph.model.jobs import FOLLOWS, Deposit, JobRecord, PlaceOfStock, PriceRecord, Step, StockLine, StockRecord
from graph.model.statement import Fields, subject
from graph.model.yard import in_force

T = TypeVar("T")
_SHEETS = ("jobs", "job_stages", "job_deposits")


def jobs(desk: Desk, stage: str = "") -> tuple[JobRecord, ...]:
    """All jobs, or those at one stage, in the order in which they were taken on."""
    found: dict[str, dict[str, list[Held]]] = {}
    for sheet in _SHEETS:
        for held in desk.shelf.held(sheet):
            rows = found.setdefault(str(held.statement.fields["job"]), {name: [] for name in _SHEETS})
            rows[sheet].append(held)
    made = (_job(rows) for rows in found.values() if rows["jobs"])
    return tuple(job for job in sorted(made, key=order) if not stage or job.stage == stage)


def order(job: JobRecord) -> tuple[str, str]:
    """Where a job stands in a list: by the time at which it was taken on, then by its name."""
    return job.steps[0].time if job.steps else "", job.job


def job(desk: Desk, name: str) -> JobRecord:
    """One job.

    Raises
    ------
    NotFound
        There is none of that name.
    """
    for one in jobs(desk):
        if one.job == name:
            return one
    raise NotFound(f"there is no job {name!r}", fix="the list of jobs shows their names")


def _job(rows: dict[str, list[Held]]) -> JobRecord:
    row = rows["jobs"][-1].statement
    said = row.fields
    steps = sorted((_step(h) for h in rows["job_stages"]), key=lambda s: s.step)
    deposits = sorted((_deposit(h) for h in rows["job_deposits"]), key=lambda d: d.step)
    held = sum(d.amount if d.what == "taken" else -d.amount for d in deposits)
    stage = steps[-1].stage if steps else "received"
    return JobRecord(
        str(said["job"]), _text(said, "tag"), _text(said, "build"), _text(said, "engine_maker"),
        _text(said, "engine"), _text(said, "customer"), _text(said, "due"), stage, FOLLOWS[stage], tuple(steps),
        tuple(deposits), held, deposits[0].currency if deposits else "",
        max(h.from_n for held_rows in rows.values() for h in held_rows), row.evidence.note,
    )  # fmt: skip


def _text(said: Fields, name: str) -> str:
    return str(said.get(name, ""))


def _step(held: Held) -> Step:
    said, evidence = held.statement.fields, held.statement.evidence
    return Step(int(said["step"]), str(said["stage"]), evidence.date, _text(said, "who"), evidence.note)


def _deposit(held: Held) -> Deposit:
    said, evidence = held.statement.fields, held.statement.evidence
    return Deposit(
        int(said["step"]), str(said["what"]), int(said["amount"]["minor"]), str(said["currency"]), evidence.date,
        _text(said, "who"), evidence.note,
    )  # fmt: skip


def part_named(desk: Desk, part: str) -> Candidate:
    """The one part that this text names."""
    return names.thing(desk.catalogue.find_parts, "part", part)


def stock(desk: Desk, part: str, day: str = "") -> StockRecord:
    """What is on hand of a part, by place, and how much of it is promised (on that day)."""
    found = part_named(desk, part)
    places = [
        PlaceOfStock(_text(h.statement.fields, "place"), int(h.statement.fields["quantity"]), h.from_n)
        for h in desk.shelf.held("stock", [found.key])
    ]
    promised = promised_of((h.statement.fields for h in desk.shelf.held("reservations")), found.key, day)
    on_hand = sum(p.quantity for p in places)
    in_order = tuple(sorted(places, key=lambda p: p.place))
    return StockRecord(found.maker, found.name, in_order, on_hand, promised, on_hand - promised)


def prices(desk: Desk, part: str) -> tuple[PriceRecord, ...]:
    """What a part costs new and used, as was said last."""
    found = part_named(desk, part)
    made = [_price(found.maker, found.name, h) for h in desk.shelf.held("prices", [found.key])]
    return tuple(sorted(made, key=lambda p: p.condition))


Place = tuple[str, str]
"""Where a line stands in a list: by the part's key, then by the place or the condition."""


def stock_lines(desk: Desk, after: Place | None, most: int) -> list[tuple[Place, StockLine]]:
    """What is on hand of all parts, `most` lines after a place, by part, then place."""

    def line(said: Fields, version: int) -> tuple[str, StockLine]:
        place = _text(said, "place")
        return place, StockLine(str(said["maker"]), str(said["number"]), place, int(said["quantity"]), version)

    return _lines(desk, "stock", after, most, lambda held: line(held.statement.fields, held.from_n))


def price_lines(desk: Desk, after: Place | None, most: int) -> list[tuple[Place, PriceRecord]]:
    """What all parts cost, as was said last, `most` lines after a place, by part, then condition."""

    def line(held: Held) -> tuple[str, PriceRecord]:
        said = held.statement.fields
        price = _price(str(said["maker"]), str(said["number"]), held)
        return price.condition, price

    return _lines(desk, "prices", after, most, line)


def _lines(
    desk: Desk, sheet: str, after: Place | None, most: int, line: Callable[[Held], tuple[str, T]]
) -> list[tuple[Place, T]]:
    found: list[tuple[Place, T]] = []
    # Every part has a line, and the first one may have none left: one part more than lines are enough.
    for key, rows in desk.shelf.held_from(sheet, after[0] if after else "", most + 1):
        told = sorted(map(line, rows), key=lambda one: one[0])
        found += [((key, name), one) for name, one in told if after is None or key != after[0] or name > after[1]]
    return found[:most]


def promised_of(reservations: Iterable[Fields], part: str, day: str = "") -> int:
    """How many of a part (its key) are promised out of stock."""
    return sum(
        int(row.get("quantity", 1))
        for row in reservations
        if in_force(row, day)
        and not row.get("tag")
        and row.get("number")
        and subject("part", _text(row, "maker"), str(row["number"])) == part
    )


def _price(maker: str, number: str, held: Held) -> PriceRecord:
    said = held.statement.fields
    deposit = said.get("deposit")
    return PriceRecord(
        maker, number, _text(said, "condition") or "new", int(said["price"]["minor"]),
        str(said["currency"]), str(said["as_of"]), int(deposit["minor"]) if deposit else None,
        int(said["lead_days"]) if "lead_days" in said else None, held.from_n,
    )  # fmt: skip
