"""One row of one sheet: from cells to statements, with every fault in it."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from graph.model.finding import Finding, Origin
from graph.model.sheet import BY_NAME, Column, Sheet
from graph.model.statement import Evidence, Statement
from graph.sources.cells import (
    CONTEXT_FREE,
    amount_json,
    code_json,
    is_currency,
    is_name,
    measure,
    money,
    plain_field,
    refuse_negative,
    text_in,
    unit_for,
)
from graph.sources.codes import TABLE, Fault, finding
from graph.sources.header import Header, Place, Wide
from graph.sources.tables import Cell, Odd
from graph.sources.things import Things
from ontology.quantities import Reading, shown

UNIT_COLUMNS: Final = ("unit_of_value", "unit")
ALSO_POINTS: Final = {
    ("limits", "unit_or_part"): ("parts", "units"),
    ("weaknesses", "unit_or_part"): ("parts", "units", "engines"),
}
"""Part numbers that may stand for one of several sheets, by the row's `maker`."""
LENGTHS: Final = {("operations", "core_shift"): ("length", "mm")}
"""Sizes whose quantity is not that of the row's feature."""
DIFFERENCES: Final = ("tolerance", "uncertainty", "core_shift")
CODES: Final = ("code", "text", "set")


def unit_column(sheet: Sheet) -> str:
    """The column that gives the unit of a row's value and sizes, or ''."""
    return next((name for name in UNIT_COLUMNS if sheet.column(name)), "")


@dataclass(slots=True)
class Line:
    """A row while it is read: its fields so far, the texts as written, and the findings."""

    sheet: Sheet
    origin: Origin
    fields: dict[str, Any] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)
    shown: dict[str, str] = field(default_factory=dict)
    readings: dict[str, Reading] = field(default_factory=dict)
    evidence: dict[str, str] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    bad: set[str] = field(default_factory=set)

    def report(self, code: str, column: str, **words: object) -> None:
        """Add a finding about one column of the row."""
        place = self.at(column)
        self.findings.append(finding(code, place, self.texts.get(column, ""), **words))
        if TABLE[code].severity == "error":
            self.bad.add(column)

    def at(self, column: str) -> Origin:
        """The row's place, at a column."""
        return Origin(self.origin.file, self.origin.sheet, self.origin.row, self.shown.get(column, column))

    @property
    def faulty(self) -> bool:
        """Whether an error was found, so that no statement may come of it."""
        return bool(self.bad)


class RowReader:
    """Reads the rows of one sheet."""

    def __init__(self, header: Header, things: Things, *, escaped: bool, comma: bool) -> None:
        self.header = header
        self.sheet = header.sheet
        self.things = things
        self.escaped = escaped
        self.comma = comma
        self._shown = {p.meaning.name: p.shown for p in header.places if isinstance(p.meaning, Column)}
        self._unit_column = unit_column(self.sheet)
        self._contextual = tuple(
            c for c in self.sheet.columns if c.type not in CONTEXT_FREE or c.name == self._unit_column
        )

    def read(self, origin: Origin, cells: list[Cell]) -> Line:
        """The row, read; its references resolved."""
        line = Line(self.sheet, origin, shown=self._shown)
        for place in self.header.places:
            self._text(line, place, cells)
        for place in self.header.evidence:
            self._text(line, place, cells)
        self._read_plain(line)
        self._read_contextual(line)
        self._resolve(line)
        return line

    def _text(self, line: Line, place: Place, cells: list[Cell]) -> None:
        column = place.meaning
        assert isinstance(column, Column)
        cell = cells[place.index] if place.index < len(cells) else ""
        text = ""
        if cell:
            try:
                text = text_in(cell, column, self.escaped)
            except Fault as fault:
                line.texts[column.name] = _raw(cell)
                line.report(fault.code, column.name, **fault.words)
                return
        if text:
            line.texts[column.name] = text
            if isinstance(cell, Odd) and cell.kind == "number" and is_name(column):
                line.report("number-cell", column.name)
        elif column.needed:
            line.report("missing-cell", column.name)

    def _read_plain(self, line: Line) -> None:
        texts, bad = line.texts, line.bad
        for column in self.sheet.columns:
            name = column.name
            if name in texts and name not in bad and column.type in CONTEXT_FREE:
                try:
                    line.fields[name] = plain_field(texts[name], column)
                except Fault as fault:
                    line.report(fault.code, name, **fault.words)
        for place in self.header.evidence:
            said = place.meaning
            assert isinstance(said, Column)
            name = said.name
            if name in texts and name not in bad:
                try:
                    line.evidence[name] = plain_field(texts[name], said)
                    if said.points_to:
                        self.things.check_named(said, texts[name])
                except Fault as fault:
                    line.report(fault.code, name, **fault.words)

    def _read_contextual(self, line: Line) -> None:
        if not self._contextual:
            return
        if "currency" in line.fields and not is_currency(line.texts["currency"]):
            line.report("unknown-currency", "currency")
        context = self._context(line)
        unit = self._row_unit(line, context)
        for column in self._contextual:
            name = column.name
            if name not in line.texts or name in line.bad or name == self._unit_column:
                continue
            try:
                self._one(line, column, context, unit)
            except Fault as fault:
                line.report(fault.code, name, **fault.words)

    def _one(self, line: Line, column: Column, context: tuple[str, str, str] | None, unit: str | None) -> None:
        name, text = column.name, line.texts[column.name]
        if column.type == "money":
            currency = line.texts.get("currency", "")
            if "currency" in line.bad:
                return
            line.fields[name] = money(text, currency, comma=self.comma)
            return
        if column.type == "amount":
            reading = measure(text, *column.of, comma=self.comma)
        else:
            if (self.sheet.name, name) in LENGTHS:
                context = ("", *LENGTHS[self.sheet.name, name])
                unit = ""
            if context is None or not context[1] or unit is None:
                return
            _, type_, usual = context
            if type_ in CODES:
                if column.type == "size":
                    raise Fault("unit-not-wanted", feature=context[0], type=type_)
                several = type_ == "set" or line.fields.get("type") == "one_of"
                if type_ == "code" and not several and "|" in text:
                    raise Fault("several-codes")
                line.fields[name] = code_json(text, several)
                return
            difference = name in DIFFERENCES or (self.sheet.name == "rules" and "right" in line.texts)
            reading = measure(text, type_, unit or usual, comma=self.comma, difference=difference)
            if not unit:
                self._unit_is_clear(line, column, reading, usual)
        if self.sheet.name != "rules":
            refuse_negative(reading, column)
        line.readings[name] = reading
        line.fields[name] = amount_json(reading)

    @staticmethod
    def _unit_is_clear(line: Line, column: Column, reading: Reading, usual: str) -> None:
        """A size without unit beside a value with a unit of its own may be meant in either."""
        value = line.readings.get("value")
        if column.type == "size" and value and value.own_unit and not reading.own_unit:
            usual_symbol = unit_for(usual, value.quantity, "").symbol if usual else ""
            if value.unit != usual_symbol:
                raise Fault("size-unit-unclear", unit=value.unit)

    def _context(self, line: Line) -> tuple[str, str, str] | None:
        """Feature, type and usual unit by which the row's values and sizes are read; None if not known."""
        if self.sheet.name == "features":
            return (line.texts.get("feature", ""), line.fields.get("type", ""), "")
        if self.sheet.name == "rules":
            name = line.texts.get("left", "").partition(".")[2]
        else:
            name = line.texts.get("feature", "")
        return self.things.feature(name) if name else None

    def _row_unit(self, line: Line, context: tuple[str, str, str] | None) -> str | None:
        """The row's unit, '' if none is given, None if it is faulty."""
        name = self._unit_column
        if not name or name not in line.texts:
            return ""
        if name in line.bad:
            return None
        if context is None or not context[1]:
            return ""
        try:
            symbol = unit_for(line.texts[name], context[1], context[0]).symbol
        except Fault as fault:
            line.report(fault.code, name, **fault.words)
            return None
        if symbol:
            line.fields[name] = symbol
        else:
            line.fields.pop(name, None)
        return symbol

    def _resolve(self, line: Line) -> None:
        for column in self.sheet.columns:
            name = column.name
            if name not in line.fields or name in line.bad:
                continue
            several = ALSO_POINTS.get((self.sheet.name, name))
            try:
                if several:
                    self._resolve_number(line, name, "maker", several)
                elif column.with_maker:
                    self._resolve_number(line, name, column.with_maker, (column.points_to,))
                elif column.points_to:
                    self.things.check_named(column, line.fields[name])
            except Fault as fault:
                line.report(fault.code, name, **fault.words)

    def _resolve_number(self, line: Line, name: str, maker_column: str, sheets: tuple[str, ...]) -> None:
        if maker_column in line.bad or any(sheet in self.things.broken for sheet in sheets):
            return
        maker, written = line.fields.get(maker_column, ""), line.fields[name]
        found, faults = [], []
        for sheet in sheets:
            try:
                found.append(self.things.resolve(sheet, maker, written))
            except Fault as fault:
                faults.append(fault)
        unclear = [fault for fault in faults if fault.code == "ambiguous-reference"]
        if unclear or not found:
            raise (unclear or faults)[0]
        # Without a maker the number alone must say what is meant: one part, unit or engine, as written if need be.
        meant = found if maker else [one for one in found if one[1] == written] or found
        if not maker and len(meant) > 1:
            others = " and ".join(" ".join(one) for one in meant)
            raise Fault("ambiguous-reference", sheet=" and ".join(sheets), others=others)
        line.fields[maker_column], line.fields[name] = meant[0]

    def wide(self, line: Line, cells: list[Cell]) -> Iterator[Line]:
        """The values in the wide columns of a row of `parts`, each as a row of `values`."""
        one_feature: dict[str, list[tuple[Line, Place]]] = {}
        for place in self.header.wide:
            cell = cells[place.index] if place.index < len(cells) else ""
            if cell:
                value = self._wide_value(line, place, cell)
                if value.texts:
                    meaning = place.meaning
                    assert isinstance(meaning, Wide)
                    one_feature.setdefault(meaning.feature, []).append((value, place))
        for lines in one_feature.values():
            yield from _merged([value for value, _ in lines])

    def _wide_value(self, line: Line, place: Place, cell: Cell) -> Line:
        meaning = place.meaning
        assert isinstance(meaning, Wide)
        value = Line(VALUES, line.origin, shown={"value": place.shown}, evidence=line.evidence)
        try:
            text = text_in(cell, None, self.escaped)
            if not text:
                return value
            value.texts["value"] = text
            value.fields = {n: line.fields[n] for n in ("maker", "number") if n in line.fields}
            value.fields["feature"] = meaning.feature
            if not meaning.type:
                value.bad.add("feature")
            elif meaning.type == "code" and "|" in text:
                raise Fault("several-codes")
            elif meaning.type in CODES:
                value.fields["value"] = code_json(text, meaning.type == "set")
            else:
                usual = self.things.feature(meaning.feature) or ("", "", "")
                reading = measure(text, meaning.type, meaning.unit or usual[2], comma=self.comma)
                refuse_negative(reading, VALUE)
                value.readings["value"] = reading
                value.fields["value"] = amount_json(reading)
                if meaning.unit:
                    value.fields["unit"] = meaning.unit
        except Fault as fault:
            value.texts.setdefault("value", _raw(cell))
            value.report(fault.code, "value", **fault.words)
        return value


VALUES: Final = BY_NAME["values"]
VALUE: Final = next(c for c in VALUES.columns if c.name == "value")


def _raw(cell: Cell) -> str:
    return cell.text if isinstance(cell, Odd) else cell


def _merged(lines: list[Line]) -> Iterator[Line]:
    """One claim of a feature that stands in two units, if its printed digits allow; else a finding and no claim."""
    best = lines[0]
    for other in lines[1:]:
        one, two = best.readings.get("value"), other.readings.get("value")
        if one is None or two is None:
            yield other
            continue
        if abs(one.amount - two.amount) > one.rounding + two.rounding:
            other.report("inch-disagrees", "value", one=_printed(one), other=_printed(two))
            best.bad.add("value")
            yield other
            continue
        finer, coarser = (best, other) if one.rounding <= two.rounding else (other, best)
        said = f"also printed as {_printed(coarser.readings['value'])}"
        note = finer.evidence.get("note", "")
        finer.evidence = {**finer.evidence, "note": f"{note}; {said}" if note else said}
        best = finer
    yield best


def _printed(reading: Reading) -> str:
    return f"{reading.text} {reading.unit}"


def check_sizes(line: Line) -> None:
    """The sizes of one row against each other: limits, tolerances, ranges."""
    readings = line.readings
    value, low, high = readings.get("value"), readings.get("limit_min"), readings.get("limit_max")
    if low and high and low.amount > high.amount:
        line.report("limits-crossed", "limit_min", low=_plain(low), high=_plain(high))
    elif value:
        if low and low.amount > value.amount:
            line.report("limit-below-size", "limit_min", limit=_plain(low), size=_plain(value))
        if high and high.amount < value.amount:
            line.report("limit-below-size", "limit_max", limit=_plain(high), size=_plain(value))
    for name in ("tolerance", "uncertainty"):
        tolerance = readings.get(name)
        if value and tolerance and value.quantity != "temperature" and tolerance.amount > abs(value.amount) > 0:
            line.report("tolerance-too-large", name, value=_plain(value))
    for lower, upper in (("min", "max"), ("value", "value_to")):
        one, two = readings.get(lower), readings.get(upper)
        if one and two and one.amount > two.amount:
            line.report("min-above-max", lower, low=_plain(one), high=_plain(two))


def _plain(reading: Reading) -> str:
    return shown(reading.amount, reading.quantity)


def statement(line: Line) -> Statement:
    """The statement of a faultless row."""
    return Statement(line.sheet.name, line.fields, Evidence(**line.evidence), line.origin)
