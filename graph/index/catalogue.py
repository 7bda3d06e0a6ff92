"""The catalogue of one version, read from its index file as typed records.

Everything comes back sorted by key or name. Things are read when asked for, many at a time.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from pathlib import Path
from typing import Any, Final

from graph.index import records
from graph.index.file import marks
from graph.index.filing import ABOUT, NAMES
from graph.index.known import Known
from graph.index.records import Row
from graph.index.same import Same
from graph.index.search import Candidate, candidates
from graph.index.tables import Tables, one_of, row_of
from graph.index.use import Joined, Use, joined_of, use_of
from graph.ledger.reading import batches
from graph.model.claim import Claim
from graph.model.record import (
    Engine,
    Fitment,
    Interchange,
    KitLine,
    Limit,
    Part,
    Supersession,
    Unit,
    Weakness,
)
from graph.model.statement import Statement, subject
from graph.rules.limits import standing

_AT_ONCE: Final = 2_000
USES: Final = ("unit_seats", "kits", "consumes", "supersession", "interchange")
"""The sheets that name a part beside the thing that their row is about."""

# A bare number without a maker counts only where it can mean one thing.
_BARE: Final = """JOIN thing b ON b.name = t.name AND b.type = 'bare' AND (b.maker = t.maker OR b.maker = '' AND
    (SELECT count(*) FROM thing o WHERE o.name = t.name AND o.type IN ('part', 'unit')) = 1)"""


class Catalogue(Tables):
    """Read-only access to one version; safe to share between threads."""

    @classmethod
    def open(cls, place: Path) -> "Catalogue":
        """The catalogue in an index file."""
        return cls(place)

    @cached_property
    def known(self) -> Known:
        """What was read of single things, and what follows from them alone."""
        return Known(self)

    @cached_property
    def same(self) -> Same:
        """The evidence of plan questions as it was handed out before."""
        return Same()

    # Whole sheets

    def statements(self) -> Iterator[Statement]:
        """Every statement of the catalogue, things first by their number, small tables before all."""
        for (content,) in self.index.ask("SELECT content FROM statement ORDER BY thing, sheet, id"):
            yield Statement.of(json.loads(content))

    def sheet(self, name: str) -> Iterator[Statement]:
        """The rows of one sheet, in the same order; only sheets of claims make it read the whole file."""
        if name not in ABOUT:
            query = "SELECT content FROM statement WHERE thing = 0 AND sheet = ? ORDER BY id"
        elif name in NAMES:
            query = """SELECT s.content FROM (SELECT DISTINCT filed, id, sheet FROM mention WHERE sheet = ?) m
                JOIN statement s ON s.thing = m.filed AND s.sheet = m.sheet AND s.id = m.id ORDER BY s.thing, s.id"""
        else:
            query = "SELECT content FROM statement WHERE sheet = ? ORDER BY thing, id"
        for (content,) in self.index.ask(query, (name,)):
            yield Statement.of(json.loads(content))

    def row(self, sheet: str, type_: str, maker: str, name: str) -> Statement | None:
        """The row of `parts`, `units` or `engines` that describes one thing."""
        query = "SELECT s.content FROM thing t JOIN statement s ON s.thing = t.id WHERE t.key = ? AND s.sheet = ?"
        for (content,) in self.index.ask(query, (subject(type_, maker, name), sheet)):
            return Statement.of(json.loads(content))
        return None

    def numbers(self, sheet: str, type_: str, spelled: str) -> list[tuple[str, str]]:
        """Maker and number of the described things of that spelling."""
        query = """SELECT t.maker, t.name FROM thing t JOIN statement s ON s.thing = t.id
            WHERE t.spelling = ? AND t.type = ? AND s.sheet = ? ORDER BY t.maker, t.name"""
        return [(maker, name) for maker, name in self.index.ask(query, (spelled, type_, sheet))]

    def count(self, type_: str) -> int:
        """How many things of a type (part, unit, engine, machine) there are."""
        return int(next(self.index.ask("SELECT count(*) FROM thing WHERE type = ?", (type_,)))[0])

    # Things

    def _about(self, where: str, names: Sequence[Any], sheets: Sequence[str]) -> Iterator[tuple[str, Row]]:
        query = f"""SELECT t.key, s.sheet, s.id, s.content FROM thing t JOIN statement s ON s.thing = t.id
            WHERE {where} AND s.sheet IN ({marks(sheets)}) ORDER BY t.key"""  # noqa: S608
        for key, *found in self.index.ask(query, (*names, *sheets)):
            yield key, row_of(*found)

    def _by_number(self, where: str, names: Sequence[Any], sheet: str) -> Iterator[tuple[str, Row]]:
        query = f"""SELECT t.key, s.sheet, s.id, s.content FROM thing t {_BARE} JOIN statement s ON s.thing = b.id
            WHERE {where} AND s.sheet = ?"""  # noqa: S608
        for key, *found in self.index.ask(query, (*names, sheet)):
            yield key, row_of(*found)

    def _mentioning(self, key: str, sheets: Sequence[str]) -> Iterator[tuple[str, Row]]:
        query = f"""SELECT coalesce(f.key, ''), s.sheet, s.id, s.content FROM thing t
            JOIN mention m ON m.thing = t.id
            JOIN statement s ON s.thing = m.filed AND s.sheet = m.sheet AND s.id = m.id
            LEFT JOIN thing f ON f.id = m.filed WHERE t.key = ? AND m.sheet IN ({marks(sheets)})"""  # noqa: S608
        for filed, *found in self.index.ask(query, (key, *sheets)):
            yield filed, row_of(*found)

    def part(self, key: str) -> Part:
        """One part, or NotFound."""
        return one_of(self._parts("t.key = ?", (key,)), key, "part")

    def parts(self, keys: Iterable[str]) -> tuple[Part, ...]:
        """Those of these parts that there are."""
        made: dict[str, Part] = {}
        for names in batches(sorted(set(keys)), _AT_ONCE):
            made |= self._parts(f"t.key IN ({marks(names)})", names)
        return tuple(made[key] for key in sorted(made))

    def parts_of_kinds(self, kinds: Iterable[str]) -> tuple[Part, ...]:
        """All parts of these kinds; kinds below them are named by the caller."""
        names = sorted(set(kinds) - {""})
        made = self._parts(f"t.type = 'part' AND t.kind IN ({marks(names)})", names)
        return tuple(made[key] for key in sorted(made))

    def keys_of_kinds(self, kinds: Iterable[str]) -> tuple[str, ...]:
        """The keys of all described parts of these kinds, in order."""
        names = sorted(set(kinds) - {""})
        query = f"""SELECT t.key FROM thing t JOIN statement s ON s.thing = t.id
            WHERE t.type = 'part' AND t.kind IN ({marks(names)}) AND s.sheet = 'parts' ORDER BY t.key"""  # noqa: S608
        return tuple(key for (key,) in self.index.ask(query, names))

    def _parts(self, where: str, names: Sequence[Any]) -> dict[str, Part]:
        own: dict[str, Row] = {}
        claims: dict[str, list[Claim]] = {}
        later: dict[str, list[Supersession]] = {}
        limits: dict[str, list[tuple[str, Limit]]] = {}
        for key, row in self._about(where, names, ("parts", "values", "supersession")):
            if row.sheet == "parts":
                own[key] = row
            elif row.sheet == "values":
                claims.setdefault(key, []).append(records.claim_of(row, key, self._ranks))
            else:
                later.setdefault(key, []).append(records.supersession_of(row))
        for key, row in self._by_number(where, names, "limits"):
            limits.setdefault(key, []).append(self._limit(row))
        return {
            key: Part(
                key=key,
                maker=row.text("maker"),
                number=row.text("number"),
                kind=row.text("kind"),
                label=row.text("label"),
                claims=_claims(claims.get(key, ())),
                limits=tuple(sorted(standing(limits.get(key, ())), key=_limit_order)),
                superseded_by=tuple(sorted(later.get(key, ()), key=lambda s: (s.new, s.said))),
                said=row.id,
            )
            for key, row in own.items()
        }

    def unit(self, key: str) -> Unit:
        """One unit, or NotFound."""
        return one_of(self._units("t.key = ?", (key,)), key, "unit")

    def units(self, keys: Iterable[str] | None = None) -> tuple[Unit, ...]:
        """Those of these units that there are; without keys, all."""
        if keys is None:
            made = self._units("t.type = 'unit'", ())
        else:
            made = {}
            for names in batches(sorted(set(keys)), _AT_ONCE):
                made |= self._units(f"t.key IN ({marks(names)})", names)
        return tuple(made[key] for key in sorted(made))

    def _units(self, where: str, names: Sequence[Any]) -> dict[str, Unit]:
        own: dict[str, Row] = {}
        seats: dict[str, list[tuple[str, str]]] = {}
        claims: dict[str, list[Claim]] = {}
        for key, row in self._about(where, names, ("units", "unit_seats", "unit_values")):
            if row.sheet == "units":
                own[key] = row
            elif row.sheet == "unit_seats":
                seats.setdefault(key, []).append((row.text("seat"), row.key("part", "part_maker", "part_number")))
            else:
                claims.setdefault(key, []).append(records.claim_of(row, key, self._ranks))
        return {
            key: Unit(
                key=key,
                maker=row.text("maker"),
                name=row.text("unit"),
                layout=row.text("layout"),
                label=row.text("label"),
                parts=tuple(sorted(seats.get(key, ()))),
                claims=_claims(claims.get(key, ())),
                said=row.id,
            )
            for key, row in own.items()
        }

    def engine(self, key: str) -> Engine:
        """One engine, or NotFound."""
        return one_of(self._engines("t.key = ?", (key,)), key, "engine")

    def engines(self) -> tuple[Engine, ...]:
        """All engines."""
        made = self._engines("t.type = 'engine'", ())
        return tuple(made[key] for key in sorted(made))

    def _engines(self, where: str, names: Sequence[Any]) -> dict[str, Engine]:
        own: dict[str, Row] = {}
        claims: dict[str, list[Claim]] = {}
        for key, row in self._about(where, names, ("engines", "engine_values")):
            if row.sheet == "engines":
                own[key] = row
            else:
                claims.setdefault(key, []).append(records.claim_of(row, key, self._ranks))
        return {key: records.engine_of(row, key, _claims(claims.get(key, ()))) for key, row in own.items()}

    def about(self, key: str) -> tuple[Statement, ...]:
        """Every row that is filed under a thing, those about its bare number included; by sheet, then id."""
        query = "SELECT s.content FROM thing t JOIN statement s ON s.thing = t.id WHERE t.key = ?"
        found = [Statement.of(json.loads(content)) for (content,) in self.index.ask(query, (key,))]
        query = f"""SELECT s.content FROM thing t {_BARE} JOIN statement s ON s.thing = b.id
            WHERE t.key = ? AND t.type IN ('part', 'unit')"""  # noqa: S608
        found += [Statement.of(json.loads(content)) for (content,) in self.index.ask(query, (key,))]
        return tuple(sorted(found, key=lambda s: (s.sheet, s.id)))

    def keys(
        self, type_: str, after: str = "", most: int = 100, *, kinds: Sequence[str] = (), maker: str = ""
    ) -> list[str]:
        """Keys of things of a type in order, from the first beyond `after` on; of these kinds and this maker."""
        where, names = "t.key > ? AND t.key < ?", [max(after, f"{type_}/"), f"{type_}0"]  # 0 follows / in ASCII
        if kinds:
            where, names = f"{where} AND t.kind IN ({marks(kinds)})", [*names, *kinds]
        if maker:
            where, names = f"{where} AND t.maker = ?", [*names, maker]
        query = f"SELECT t.key FROM thing t WHERE {where} ORDER BY t.key LIMIT ?"  # noqa: S608
        return [key for (key,) in self.index.ask(query, (*names, most))]

    def filed(self, sheet: str, after: tuple[int, str] = (-1, ""), most: int = 100) -> list[tuple[int, Statement]]:
        """Rows of a sheet that is filed under things, in the file's order, from the first beyond `after` on."""
        query = """SELECT thing, content FROM statement WHERE (thing, id) > (?, ?) AND sheet = ?
            ORDER BY thing, id LIMIT ?"""
        found = self.index.ask(query, (*after, sheet, most))
        return [(thing, Statement.of(json.loads(content))) for thing, content in found]

    # Between things

    def fitments(self, *, engine: str = "", unit: str = "", machine: str = "") -> tuple[Fitment, ...]:
        """The fitments of an engine, of a unit and of a machine, each that is named; together when several are."""
        rows = [row for _, row in self._about("t.key = ?", (engine,), ("fitments",))] if engine else []
        for key in filter(None, (unit, machine)):
            rows += [row for _, row in self._mentioning(key, ("fitments",))]
        made = {row.id: records.fitment_of(row) for row in rows}
        return tuple(sorted(made.values(), key=_fitment_order))

    def supersessions(self, part: str) -> tuple[Supersession, ...]:
        """Where this part takes another's place or gives up its own."""
        rows = [row for _, row in self._about("t.key = ?", (part,), ("supersession",))]
        rows += [row for _, row in self._mentioning(part, ("supersession",))]
        made = {row.id: records.supersession_of(row) for row in rows}
        return tuple(sorted(made.values(), key=lambda s: (s.old, s.new, s.said)))

    def interchange(self, part: str) -> tuple[Interchange, ...]:
        """What is asserted to stand in for this part, and what it is asserted to stand in for."""
        rows = [row for _, row in self._about("t.key = ?", (part,), ("interchange",))]
        rows += [row for _, row in self._mentioning(part, ("interchange",))]
        made = {row.id: records.interchange_of(row) for row in rows}
        return tuple(sorted(made.values(), key=lambda i: (i.part, i.other, i.seat, i.said)))

    def kits(self, kit: str) -> tuple[KitLine, ...]:
        """What is in a kit."""
        made = [records.kit_line_of(row) for _, row in self._about("t.key = ?", (kit,), ("kits",))]
        return tuple(sorted(made, key=lambda line: (line.part, line.said)))

    def limits(self, key: str) -> tuple[Limit, ...]:
        """The limits of a part or unit."""
        made = [self._limit(row) for _, row in self._by_number("t.key = ?", (key,), "limits")]
        return tuple(sorted(standing(made), key=_limit_order))

    def _limit(self, row: Row) -> tuple[str, Limit]:
        return str(row.evidence.get("date", "")), records.limit_of(row, self._ranks)

    def weaknesses(self, key: str) -> tuple[Weakness, ...]:
        """What a part or unit usually dies of."""
        made = [records.weakness_of(row, key) for _, row in self._by_number("t.key = ?", (key,), "weaknesses")]
        return tuple(sorted(made, key=lambda w: (w.text, w.said)))

    def where_used(self, part: str) -> tuple[Use, ...]:
        """Units, kits, consuming work and other parts that name this part."""
        found = self._mentioning(part, USES)
        return tuple(sorted(use_of(row, filed) for filed, row in found))

    def joined(self, part: str) -> Joined:
        """Its uses, supersessions, interchanges and kit lines at once, which costs a third of asking for each."""
        about = [row for _, row in self._about("t.key = ?", (part,), ("supersession", "interchange", "kits"))]
        return joined_of(about, self._mentioning(part, USES))

    # Looking for things

    def find_parts(self, text: str, most: int = 20, *, only_written: bool = False) -> tuple[Candidate, ...]:
        """Parts that the text may mean, the surest first."""
        return candidates(self.index, "part", text, most, only_written=only_written)

    def find_units(self, text: str, most: int = 20, *, only_written: bool = False) -> tuple[Candidate, ...]:
        """Units that the text may mean."""
        return candidates(self.index, "unit", text, most, only_written=only_written)

    def find_engines(self, text: str, most: int = 20, *, only_written: bool = False) -> tuple[Candidate, ...]:
        """Engines that the text may mean."""
        return candidates(self.index, "engine", text, most, only_written=only_written)

    def find_machines(self, text: str, most: int = 20, *, only_written: bool = False) -> tuple[Candidate, ...]:
        """Machines that the text may mean."""
        return candidates(self.index, "machine", text, most, only_written=only_written)

    def saying(self, spans: Iterable[tuple[str, int | str, int | str]], enough: int = 0) -> tuple[str, ...]:
        """Keys of the things of which someone says a value within every span: feature, from, to (of a code the same).

        No further span is looked at once no more than `enough` things are left.
        """
        found: set[int] | None = None
        for span in spans:
            query = "SELECT thing FROM saying WHERE feature = ? AND value BETWEEN ? AND ?"
            said = {thing for (thing,) in self.index.ask(query, span)}
            found = said if found is None else found & said
            if len(found) <= enough:
                break
        keys: list[str] = []
        for names in batches(sorted(found or ()), _AT_ONCE):
            keys += (key for (key,) in self.index.ask(f"SELECT key FROM thing WHERE id IN ({marks(names)})", names))  # noqa: S608
        return tuple(sorted(keys))

    def said_apart(self) -> tuple[tuple[str, str], ...]:
        """Things and features of which different claims say different values; by key, then feature."""
        query = """SELECT t.key, s.feature FROM saying s JOIN thing t ON t.id = s.thing
            GROUP BY s.thing, s.feature HAVING COUNT(DISTINCT s.id) > 1 AND COUNT(DISTINCT s.value) > 1
            ORDER BY t.key, s.feature"""
        return tuple((key, feature) for key, feature in self.index.ask(query, ()))


def _claims(claims: Iterable[Claim]) -> tuple[Claim, ...]:
    return tuple(sorted(claims, key=lambda c: (c.feature, c.position, c.rank, c.source, c.date, c.id)))


def _limit_order(limit: Limit) -> tuple[str, str, int, str]:
    return (limit.feature, limit.condition, limit.rank, limit.said)


def _fitment_order(f: Fitment) -> tuple[str, ...]:
    return (f.machine_maker, f.machine, f.engine, f.unit, f.year_from, f.said)
