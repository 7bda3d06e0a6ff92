"""The shelf at one change set, read live from the ledger: cores and readings, stock, prices, rates,
the shop's figures."""

from collections.abc import Iterable, Sequence
from dataclasses import replace

from graph.errors import NotFound
from graph.index import records
from graph.index.catalogue import Catalogue
from graph.index.records import Row
from graph.ledger.chain import ChangeSet
from graph.ledger.ledger import Ledger
from graph.ledger.reading import Held
from graph.model.claim import Claim, Rank
from graph.model.record import Core, FoundPart, Price, Rate, Stock, Unit
from graph.model.statement import Statement, subject

_CORE_SHEETS = ("cores", "found_parts", "readings")


class Shelf:
    """Read-only; what a core's plate stands for is looked up in the catalogue given."""

    def __init__(self, ledger: Ledger, n: int, catalogue: Catalogue) -> None:
        self.n = n
        self._ledger = ledger
        self._catalogue = catalogue

    def cores(self) -> tuple[Core, ...]:
        """All cores, by tag."""
        return self._cores(None)

    def core(self, tag: str) -> Core:
        """One core, or NotFound."""
        found = self._cores([subject("core", tag)])
        if not found:
            raise NotFound(f"there is no core {tag!r}", fix="read the tag again, or take the core in first")
        return found[0]

    def _cores(self, subjects: Sequence[str] | None) -> tuple[Core, ...]:
        with self._ledger.reading() as reading:
            rows = [_row(s) for s in reading.shelf(self.n, _CORE_SHEETS, subjects)]
        own = {row.text("tag"): row for row in rows if row.sheet == "cores"}
        keys = {row.key("unit", "as_built_maker", "as_built_unit") for row in own.values()} - {""}
        units = {unit.key: unit for unit in self._catalogue.units(keys)}
        ranks = {source.name: source.rank for source in self._catalogue.sources}
        seats: dict[str, dict[str, FoundPart]] = {}
        readings: dict[tuple[str, str], list[Claim]] = {}
        for row in rows:
            tag, seat = row.text("tag"), row.text("seat")
            if row.sheet == "found_parts":
                part = row.key("part", "part_maker", "part_number")
                seats.setdefault(tag, {})[seat] = FoundPart(seat, part, row.text("state"), said=row.id)
            elif row.sheet == "readings":
                claim = records.claim_of(row, subject("core", tag, seat), ranks, Rank.MEASURED)
                readings.setdefault((tag, seat), []).append(claim)
        return tuple(
            _core(row, units.get(row.key("unit", "as_built_maker", "as_built_unit")), seats.get(tag, {}), readings)
            for tag, row in sorted(own.items())
        )

    def rows_of(self, tag: str) -> tuple[Held, ...]:
        """All rows ever asserted about one core, oldest first, with when they held."""
        with self._ledger.reading() as reading:
            return tuple(reading.shelf_history(self.n, _CORE_SHEETS, [subject("core", tag)]))

    def known(self, id_: str) -> tuple[Held, ...]:
        """The row of that id, of either clock, as often as it was asserted up to now; oldest first."""
        with self._ledger.reading() as reading:
            return tuple(held for held in reading.known([id_]) if held.from_n <= self.n)

    def sheet(self, name: str) -> tuple[Statement, ...]:
        """The rows of one shelf sheet that hold, oldest first."""
        return tuple(held.statement for held in self.held(name))

    def held(self, name: str, subjects: Sequence[str] | None = None) -> tuple[Held, ...]:
        """The same, with the change sets that asserted them; of these cores or parts only, if given."""
        with self._ledger.reading() as reading:
            rows = reading.shelf_history(self.n, (name,), subjects)
            return tuple(h for h in rows if h.to_n is None or h.to_n > self.n)

    def held_from(self, name: str, first: str, most: int) -> tuple[tuple[str, tuple[Held, ...]], ...]:
        """The same of the first `most` parts from `first` on, part by part."""
        with self._ledger.reading() as reading:
            found = {key: list[Held]() for key in reading.subjects(self.n, name, first, most)}
        for held in self.held(name, list(found)):
            said = held.statement.fields
            found[subject("part", str(said["maker"]), str(said["number"]))].append(held)
        return tuple((key, tuple(rows)) for key, rows in found.items())

    def written_since(self, n: int) -> frozenset[str]:
        """The sheets, of either clock, that were written after change set `n` up to now."""
        with self._ledger.reading() as reading:
            return reading.written_between(n, self.n)

    def stock(self, part: str) -> tuple[Stock, ...]:
        """What is on hand of a part, by place."""
        return self.stocks([part]).get(part, ())

    def stocks(self, parts: Iterable[str]) -> dict[str, tuple[Stock, ...]]:
        """What is on hand of several parts."""
        made: dict[str, list[Stock]] = {}
        with self._ledger.reading() as reading:
            for statement in reading.shelf(self.n, ("stock",), sorted(set(parts))):
                row = _row(statement)
                made.setdefault(row.key("part", "maker", "number"), []).append(records.stock_of(row))
        return {key: tuple(sorted(rows, key=lambda s: (s.place, s.said))) for key, rows in made.items()}

    def price(self, part: str, condition: str = "new", day: str = "") -> Price | None:
        """What a part costs on a day (empty: by the latest list); `used` is a donor's transfer price."""
        return self.prices([part], day).get((part, condition))

    def prices(self, parts: Iterable[str], day: str = "") -> dict[tuple[str, str], Price]:
        """Prices of several parts by (part, condition): the latest not dated after the day.

        A price that another took the place of counts again when the later one is dated after the day.
        """
        with self._ledger.reading() as reading:
            held = list(reading.shelf_history(self.n, ("prices",), sorted(set(parts))))
        by_key: dict[tuple[str, str], list[Held]] = {}
        for one in held:
            row = _row(one.statement)
            by_key.setdefault((row.key("part", "maker", "number"), row.text("condition") or "new"), []).append(one)
        found = {key: _on(rows, self.n, day) for key, rows in by_key.items()}
        return {key: records.price_of(_row(one.statement)) for key, one in found.items() if one is not None}

    def figures(self, day: str = "") -> tuple[tuple[Held, ChangeSet, int], ...]:
        """The shop's figures that hold on a day (empty: those said last), by key, each with the change set that said
        it and the number of the one that said the last word on that key. Dated like prices."""
        return self._said("figures", day)

    def rates_said(self) -> tuple[tuple[Held, ChangeSet, int], ...]:
        """The labour rates that hold, by name, in the same form."""
        return self._said("rates", "")

    def _said(self, sheet: str, day: str) -> tuple[tuple[Held, ChangeSet, int], ...]:
        by_key: dict[tuple[str, ...], list[Held]] = {}
        made = []
        with self._ledger.reading() as reading:
            for held in reading.shelf_history(self.n, (sheet,), [""]):
                by_key.setdefault(held.statement.key, []).append(held)
            for _key, rows in sorted(by_key.items()):
                one = _on(rows, self.n, day)
                live = [held.from_n for held in rows if held.to_n is None or held.to_n > self.n]
                if one is not None:
                    made.append((one, reading.change_set(one.from_n), max(live)))
        return tuple(made)

    def rates(self) -> tuple[Rate, ...]:
        """The labour rates, by name."""
        with self._ledger.reading() as reading:
            made = [records.rate_of(_row(s)) for s in reading.shelf(self.n, ("rates",), [""])]
        return tuple(sorted(made, key=lambda rate: rate.name))


def _row(statement: Statement) -> Row:
    said = statement.content()
    return Row(statement.sheet, statement.id, said["fields"], said["evidence"])


def _on(held: list[Held], n: int, day: str) -> Held | None:
    """The row that holds, or going back the one it replaced, until one is dated (`as_of`) on the day or before."""
    holding = [h for h in held if h.to_n is None or h.to_n > n]
    met = list(holding)
    while holding:
        latest = max(holding, key=lambda h: (str(h.statement.fields.get("as_of", "")), h.from_n))
        if not day or str(latest.statement.fields.get("as_of", "")) <= day:
            return latest
        before = [h for h in held if h.to_n == latest.from_n and h not in met]
        met += before
        # Both spellings of one condition may hold at once; a later day of one takes nothing from the other.
        holding = [h for h in holding if h is not latest] + before
    return None


def _core(
    row: Row, unit: Unit | None, seats: dict[str, FoundPart], readings: dict[tuple[str, str], list[Claim]]
) -> Core:
    tag = row.text("tag")
    found = {seat: FoundPart(seat, part, said=unit.said, plate=True) for seat, part in unit.parts} if unit else {}
    for seat, one in seats.items():
        built = found.get(seat)
        # A row that only says the state leaves the part as the plate has it.
        part = one.part or (built.part if built else "")
        found[seat] = FoundPart(seat, part, one.state, said=one.said, plate=not one.part and bool(part))
    for of, seat in readings:
        if of == tag and seat not in found:
            found[seat] = FoundPart(seat, "")
    return Core(
        key=subject("core", tag),
        tag=tag,
        layout=unit.layout if unit else "",
        as_built=row.key("unit", "as_built_maker", "as_built_unit"),
        serial=row.text("serial"),
        grade=row.text("grade"),
        place=row.text("place"),
        book_value=row.number("book_value"),
        currency=row.text("currency"),
        own=row.yes("own"),
        may_donate=row.yes("may_donate"),
        found=tuple(_with_readings(one, readings.get((tag, seat), ())) for seat, one in sorted(found.items())),
        said=row.id,
    )


def _with_readings(one: FoundPart, readings: Iterable[Claim]) -> FoundPart:
    in_order = sorted(readings, key=lambda c: (c.feature, c.position, c.rank, c.source, c.date, c.id))
    return replace(one, readings=tuple(in_order))
