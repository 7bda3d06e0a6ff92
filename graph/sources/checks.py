"""What a row must agree with beyond its own cells: keys, seats, kinds, rules, operations, circles, other claims.

Row checks run while rows stream by; `Checks.end` finds what only the whole shows. Nothing here keeps the values
themselves: a claim is remembered as two integers, so that a million of them fit.
"""

from array import array
from collections.abc import Callable, Iterator
from sys import intern
from typing import Any, Final

from graph.identifiers import serial_count
from graph.model.finding import Finding, Origin
from graph.model.sheet import BY_NAME
from graph.rules.reliability import reliability
from graph.sources.belonging import Belonging
from graph.sources.circles import circles
from graph.sources.codes import Fault, finding
from graph.sources.figures import check_figure
from graph.sources.gaps import check_free, check_gap
from graph.sources.known import NUMBERED
from graph.sources.operations import Operations
from graph.sources.rows import Line, check_sizes
from graph.sources.ruled import Ruled
from graph.sources.rules import check_joint, check_rule, is_quoted
from graph.sources.tags import Tags
from graph.sources.things import Things, near
from ontology.quantities import shown

SPILLED: Final = {"prices": ("price",), "rates": ("per_hour",), "figures": ("price",), "cores": ("book_value",)}
KEYS: Final = {name: sheet.key for name, sheet in BY_NAME.items()}
UNIT: Final = "unit"
"""The seat of a reading that is about the assembled unit, such as its end play."""
CLAIMS: Final = ("values", "unit_values", "engine_values", "readings")


class Checks:
    """All checks of one reading."""

    def __init__(self, things: Things) -> None:
        self.things = things
        self.operations = Operations(things)
        self._belonging = Belonging(things)
        self._ruled = Ruled(things.known)
        self._seen: dict[str, dict[int, int]] = {}
        self._claims = Claims()
        self._tags = Tags(things.known)
        self._edges: dict[str, dict[tuple[Any, Any], Origin]] = {"supersession": {}, "kits": {}, "kinds": {}}
        self._filled: dict[tuple[str, str], set[str]] = {}
        self._units: dict[tuple[str, str], tuple[str, Origin, str]] = {}
        self._currency = ""
        self._deposits: dict[str, str] = {}
        self._by_sheet: dict[str, Callable[[Line], None]] = {
            "kinds": self._kind,
            "layouts": self._ruled.seat,
            "joints": self._joint,
            "rules": self._rule,
            "values": self._belonging.value,
            "limits": self._belonging.limit,
            "units": self._unit,
            "unit_seats": self._unit_seat,
            "cores": self._core,
            "found_parts": self._found_part,
            "readings": self._reading,
            "demands": self._demand,
            "supersession": self._supersession,
            "interchange": self._interchange,
            "kits": self._kit,
            "operations": self.operations.row,
            "consumes": self._consumed,
            "services": self._consumed,
            "fitments": self._fitment,
            "job_deposits": self._deposit,
            "weaknesses": self._weakness,
            "features": self._feature,
            "figures": lambda line: check_figure(line, things),
        }

    def row(self, line: Line) -> None:
        """Check one row; what is found is added to it."""
        sheet = line.sheet.name
        self._key(line)
        if line.readings:
            check_sizes(line)
        check_gap(line)
        check = self._by_sheet.get(sheet)
        if check:
            check(line)
        if sheet in SPILLED:
            self._money(line)
        if sheet in ("prices", "rates") and line.fields.get("condition") != "used":
            check_free(line)
        if sheet in CLAIMS and not line.faulty:
            self._claim(line)

    def _key(self, line: Line) -> None:
        sheet, key = line.sheet, KEYS[line.sheet.name]
        if sheet.settled != "latest" or any(name in line.bad for name in key):
            return
        names = tuple(str(line.fields.get(name, "")) for name in key)
        seen = self._seen.setdefault(sheet.name, {})
        first = seen.setdefault(hash(names), line.origin.row)
        if first != line.origin.row:
            line.report("duplicate-key", key[0], row=first)
        elif sheet.name in NUMBERED:
            other = self.things.same_spelling(sheet.name, names)
            if other:
                line.report("duplicate-spelling", key[1], other=" ".join(other))

    def _kind(self, line: Line) -> None:
        kind, parent = line.fields.get("kind"), line.fields.get("parent")
        if kind and parent:
            if kind == parent:
                line.report("kind-cycle", "parent", circle=kind)
            self._edges["kinds"][kind, parent] = line.at("parent")

    def _joint(self, line: Line) -> None:
        check_joint(line, self.things)
        self._ruled.joint(line)

    def _rule(self, line: Line) -> None:
        check_rule(line, self.things)
        self._ruled.rule(line)
        if not line.faulty:
            self._belonging.rule(line.fields)

    def _unit(self, line: Line) -> None:
        fields = line.fields
        if not {"maker", "unit", "layout"} & line.bad:
            name = (fields["maker"], fields["unit"])
            self._units[name] = (fields["layout"], line.at("unit"), line.texts["unit"])

    def _unit_seat(self, line: Line) -> None:
        fields = line.fields
        if {"maker", "unit"} & line.bad:
            return
        unit = (fields["maker"], fields["unit"])
        words = self.things.words("units", unit) or {}
        self._filled.setdefault(unit, set()).add(fields.get("seat", ""))
        self._seat(line, words.get("layout", ""), part=("part_maker", "part_number"))
        seats = self.things.layout(words.get("layout", ""))
        takes = seats.quantities.get(fields.get("seat", "")) if seats else None
        if takes is not None and fields.get("quantity", takes) != takes:
            line.report("quantity-not-of-the-seat", "quantity", layout=words.get("layout", ""), takes=takes)

    def _core(self, line: Line) -> None:
        self._tags.row(line)
        if line.fields.get("own") and line.fields.get("may_donate"):
            line.report("customers-core-donates", "may_donate")

    def _found_part(self, line: Line) -> None:
        self._seat(line, self._layout_of_core(line), part=("part_maker", "part_number"))

    def _reading(self, line: Line) -> None:
        if line.fields.get("seat") != UNIT:
            unit = self._unit_of_core(line)
            layout = self._layout_of(unit)
            self._seat(line, layout)
            seated = self.things.known.row("unit_seats", (*unit, line.fields.get("seat", ""))) or {}
            self._belonging.reading(line, layout, (seated.get("part_maker", ""), seated.get("part_number", "")))

    def _layout_of_core(self, line: Line) -> str:
        return self._layout_of(self._unit_of_core(line))

    def _layout_of(self, unit: tuple[str, str]) -> str:
        return (self.things.words("units", unit) or {}).get("layout", "") if unit[1] else ""

    def _unit_of_core(self, line: Line) -> tuple[str, str]:
        core = self.things.words("cores", (line.fields.get("tag", ""),)) or {}
        number = core.get("as_built_unit", "")
        try:
            return self.things.resolve("units", core.get("as_built_maker", ""), number) if number else ("", "")
        except Fault:
            return "", ""  # the core's own row says so

    def _seat(self, line: Line, layout: str, part: tuple[str, str] | None = None) -> None:
        seats = self.things.layout(layout)
        seat = line.fields.get("seat")
        if seats is None or seat is None or "seat" in line.bad:
            return
        if seat not in seats.kinds:
            line.report("seat-not-in-layout", "seat", layout=layout, hint=near(seat, seats.kinds))
        elif part and part[1] in line.fields and not set(part) & line.bad:
            number = (line.fields.get(part[0], ""), line.fields[part[1]])
            kind = (self.things.words("parts", number) or {}).get("kind", "")
            wanted = seats.kinds[seat]
            known = (kind,) in self.things.rows["kinds"] and (wanted,) in self.things.rows["kinds"]
            if known and not self.things.is_kind(kind, wanted):
                line.report("wrong-kind-in-seat", part[1], wanted=wanted, part=" ".join(number), kind=kind)

    def _demand(self, line: Line) -> None:
        fields = line.fields
        build = self.things.words("builds", (fields.get("build", ""),)) or {}
        self._seat(line, build.get("layout", ""))
        type_, feature = fields.get("type"), line.texts.get("feature", "")
        if feature and self.things.feature(feature) is None:
            hint = near(feature, self.things.names("features"))
            line.report("unknown-name", "feature", name=feature, what="feature", hint=hint)
        if type_ is None or type_ == "keep":
            return
        for column in ("feature", "value", *(("value_to",) if type_ == "between" else ())):
            if column not in line.texts:
                line.report("demand-incomplete", column, type=type_, needs=f"the column {column}")

    def _supersession(self, line: Line) -> None:
        fields = line.fields
        if {"maker", "old", "new"} & line.bad:
            return
        old, new = (fields["maker"], fields["old"]), (fields["maker"], fields["new"])
        if old == new:
            line.report("supersession-self", "new")
        self._edges["supersession"][old, new] = line.at("new")

    def _interchange(self, line: Line) -> None:
        seat = line.fields.get("seat")
        if seat and seat not in self.things.all_seats():
            line.report("unknown-name", "seat", name=seat, what="seat", hint=near(seat, self.things.all_seats()))

    def _kit(self, line: Line) -> None:
        fields = line.fields
        if {"kit_maker", "kit", "maker", "number"} & line.bad:
            return
        kit, part = (fields.get("kit_maker", ""), fields["kit"]), (fields["maker"], fields["number"])
        if kit == part:
            line.report("kit-cycle", "number", circle=" ".join(kit))
        self._edges["kits"][kit, part] = line.at("number")

    def _consumed(self, line: Line) -> None:
        layout, when = line.fields.get("layout", ""), line.fields.get("when")
        if layout and self.things.layout(layout) is None:
            hint = near(layout, self.things.names("layouts"))
            line.report("unknown-name", "layout", name=layout, what="layout", hint=hint)
        names = {"always", *self.things.all_seats()}
        if line.sheet.name == "consumes":
            names |= self.things.names("operations")
        if when and when not in names:
            line.report("unknown-name", "when", name=when, what="seat or operation", hint=near(when, names))

    def _fitment(self, line: Line) -> None:
        years = []
        for column in ("year_from", "year_to"):
            text = line.fields.get(column)
            if text and not _is_year(text):
                line.report("bad-date", column)
            elif text:
                years.append(float(text))
        if len(years) == 2 and years[0] > years[1]:
            line.report("years-crossed", "year_from")
        first, last = (serial_count(line.fields.get(column) or "") for column in ("serial_from", "serial_to"))
        if first is not None and last is not None and first[0] == last[0] and first[1] > last[1]:
            line.report("years-crossed", "serial_from")

    def _deposit(self, line: Line) -> None:
        """The deposits of a job are added up, so they are in one currency."""
        job, currency = line.fields.get("job", ""), line.fields.get("currency")
        if not currency or {"job", "currency"} & line.bad:
            return
        known = self.things.known.row("job_deposits", (job, "1")) or {}
        first = self._deposits.setdefault(job, str(known.get("currency", currency)))
        if first != currency:
            line.report("deposit-currency", "currency", job=job, other=first)

    def _feature(self, line: Line) -> None:
        said = line.fields.get("identity_reliability")
        if said and reliability(str(said)) is None:
            line.report("identity-reliability", "identity_reliability")

    def _weakness(self, line: Line) -> None:
        seen, of = line.fields.get("seen"), line.fields.get("of")
        if seen is not None and of is not None and seen > of:
            line.report("seen-above-of", "seen")

    def _money(self, line: Line) -> None:
        currency = line.fields.get("currency")
        if currency and "currency" not in line.bad:
            self._currency = self._currency or currency
            if currency != self._currency:
                line.report("mixed-currency", "currency", other=self._currency)

    def _claim(self, line: Line) -> None:
        if is_quoted(line.fields["feature"]):
            line.report("quoted-size", "value")
        for code, words in self._claims.add(line):
            line.report(code, "value", **words)

    def end(self) -> Iterator[Finding]:
        """What only the whole shows."""
        yield from self._circles("kinds", "kind-cycle", self._known_kinds)
        yield from self._circles("supersession", "supersession-cycle", self._known_supersession)
        yield from self._circles("kits", "kit-cycle", self._known_kits)
        yield from self.operations.end()
        yield from self._ruled.end()
        for (maker, unit), (layout, origin, written) in self._units.items():
            seats = self.things.layout(layout)
            filled = self._filled.get((maker, unit))
            if seats is None or (filled is None and "unit_seats" not in self._seen):
                continue
            for seat in seats.must_fill:
                if seat not in (filled or ()) and self.things.known.row("unit_seats", (maker, unit, seat)) is None:
                    yield finding("unit-lacks-seat", origin, written, seat=seat, layout=layout)

    def _circles(self, sheet: str, code: str, known: Callable[[], list[tuple[Any, Any]]]) -> Iterator[Finding]:
        edges = self._edges[sheet]
        if not edges:
            return
        for circle in circles([*edges, *known()]):
            inside = set(circle)
            ours = [origin for (a, b), origin in edges.items() if a in inside and b in inside]
            if ours:
                walk = " > ".join(_said(node) for node in (*circle, circle[0]))
                yield finding(code, max(ours, key=lambda o: (o.file, o.row)), walk, circle=walk)

    def _known_kinds(self) -> list[tuple[Any, Any]]:
        rows = self.things.rows["kinds"].items()
        return [(kind, words["parent"]) for (kind,), words in rows if words.get("parent")]

    def _known_supersession(self) -> list[tuple[Any, Any]]:
        rows = self.things.known.rows("supersession")
        return [((f["maker"], f["old"]), (f["maker"], f["new"])) for f in rows]

    def _known_kits(self) -> list[tuple[Any, Any]]:
        rows = self.things.known.rows("kits")
        return [((f.get("kit_maker", ""), f["kit"]), (f["maker"], f["number"])) for f in rows]


def _said(node: object) -> str:
    return " ".join(node) if isinstance(node, tuple) else str(node)


def _is_year(text: str) -> bool:
    return text.removesuffix(".5").removesuffix(".0").isdecimal() and 4 <= len(text) <= 6 and text.isascii()


class Claims:
    """The first claim of every feature of every thing, as small as can be, to compare later ones with."""

    def __init__(self) -> None:
        self._at: dict[int, int] = {}
        self._rows = array("q")
        self._amounts = array("q")
        self._slack = array("q")
        self._sources: list[tuple[str, str]] = []
        self._codes: list[str | None] = []
        self._evidence: dict[tuple[str, str], tuple[str, str]] = {}

    def add(self, line: Line) -> Iterator[tuple[str, dict[str, object]]]:
        """Remember a claim; what another claim of the same thing says against it."""
        sheet, fields, value = line.sheet, line.fields, line.fields["value"]
        key = hash((sheet.name, *[fields.get(name, "") for name in KEYS[sheet.name]]))
        amount, code = value.get("amount"), value.get("code") or "|".join(value.get("codes", ()))
        tolerance = next((line.readings[n].amount for n in ("tolerance", "uncertainty") if n in line.readings), 0)
        source = line.evidence.get("source", "")
        if sheet.name == "readings":  # of one source's bench sheets each reader speaks for himself
            source = "|".join((source, fields.get("who", ""), fields.get("instrument", "")))
        said = (source, line.evidence.get("date", ""))
        said = self._evidence.setdefault(said, said)
        at = self._at.setdefault(key, len(self._rows))
        if at == len(self._rows):
            self._rows.append(line.origin.row)
            self._amounts.append(amount or 0)
            self._slack.append(tolerance)
            self._sources.append(said)
            self._codes.append(intern(code) if amount is None else None)
            return
        first = self._sources[at]
        if amount is None:
            apart, same, other = code != self._codes[at], code == self._codes[at], self._codes[at] or "a size"
        else:
            gap = abs(amount - self._amounts[at])
            apart, same = gap > max(tolerance, self._slack[at]), gap == 0
            other = shown(self._amounts[at], value["quantity"])
        words: dict[str, object] = {"row": self._rows[at], "other": other}
        if same and first == said:
            yield "duplicate-row", words
        elif apart and first == said:
            yield "same-source-disagrees", words
        elif apart and (first[0] != said[0] or not _named(sheet.name, line)):
            yield "claims-disagree", words


def _named(sheet: str, line: Line) -> bool:
    """Whether a claim says who speaks, so that a later one can be told to be the same's."""
    return bool(line.fields.get("who", "") if sheet == "readings" else line.evidence.get("source", ""))
