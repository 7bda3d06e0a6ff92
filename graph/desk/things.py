"""Things by their keys and in lists, a page at a time, with the rows that speak of them."""

from collections.abc import Iterable, Sequence
from typing import Any, Final
from urllib.parse import unquote

from graph.desk import names, showing
from graph.desk.desk import Desk
from graph.errors import BadQuestion, NotFound
from graph.index import records
from graph.index.records import Row
from graph.model.record import Core, Engine, Fitment, Unit
from graph.model.shown import Shown
from graph.model.statement import Statement, name_in, subject
from graph.model.things import (
    MachineRecord,
    PartAnswer,
    PartOnShelf,
    PartPage,
    PartRecord,
    RowAnswer,
    SupersessionAnswer,
)
from graph.swap.supersession import Chain, in_force, supersession_chain
from ontology.terms import ID, SHEETS, STATEMENT

SMALL: Final = {
    "build": ("builds", "demands"),
    "source": ("sources",),
    "operation": ("operations", "services"),
    "kind": ("kinds",),
    "feature": ("features",),
    "layout": ("layouts", "joints", "rules"),
}
"""Things that are not filed by themselves, with the sheets whose rows name them first."""

FILED: Final = ("part", "unit", "engine")
TYPES: Final = (*FILED, "core", "machine", *SMALL)


class Things:
    """The things of one desk's snapshot."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._catalogue = desk.catalogue

    # One thing

    def part(self, key: str, *, shelf: bool, day: str) -> PartAnswer:
        """One part; what is on hand and what it costs only where asked for, since that is read live.

        Raises
        ------
        NotFound
            There is no part of that key.
        """
        page = self._page(key)
        held = None
        if shelf:
            prices = self.desk.shelf.prices([key], day)
            held = PartOnShelf(self.desk.shelf.stock(key), prices.get((key, "new")), prices.get((key, "used")), day)
        return PartAnswer(ID + key, self.desk.snapshot, page.part, page.facts, page.links, held)

    def _page(self, key: str) -> PartPage:
        """What the catalogue alone says of a part: the same until the next publish, and kept that long."""
        kept = self._catalogue.known.kept
        found: PartPage | None = kept.get(("page", key))
        if found is None:
            part = self._catalogue.part(key)
            found = PartPage(
                PartRecord.of(part),
                showing.facts_of(part.claims, self._catalogue.features, key),
                showing.part_links(self._catalogue, key),
            )
            kept.put(("page", key), found)
        return found

    def shown(self, key: str) -> Shown:
        """One unit, engine or machine, ready to be read.

        Raises
        ------
        NotFound
            There is none of that key.
        """
        type_, _, name = key.partition("/")
        if type_ == "unit":
            return showing.show_unit(self._catalogue, self.desk.shelf, self._catalogue.unit(key))
        if type_ == "engine":
            return showing.show_engine(self._catalogue, self.desk.shelf, self._catalogue.engine(key))
        if type_ == "machine" and self._catalogue.fitments(machine=key):
            return showing.show_machine(self._catalogue, self.desk.shelf, key, unquote(name.replace("/", " ")))
        raise NotFound(f"there is no {key!r}", fix="search finds things by a piece of their name")

    def rows(self, key: str) -> tuple[Statement, ...]:
        """All rows that speak of one thing and hold in this snapshot, by sheet, then id.

        Raises
        ------
        NotFound
            Nothing speaks of it.
        """
        type_, _, name = key.partition("/")
        found: Iterable[Statement]
        if type_ in FILED:
            found = self._catalogue.about(key)
        elif type_ == "core":
            held = self.desk.shelf.rows_of(unquote(name))
            found = [h.statement for h in held if h.to_n is None or h.to_n > self.desk.shelf.n]
        elif type_ == "machine":
            found = self.saying((f.engine, f.said) for f in self._catalogue.fitments(machine=key))
        elif type_ in SMALL:
            found = [s for sheet in SMALL[type_] for s in self._catalogue.sheet(sheet) if s.key[0] == unquote(name)]
        else:
            raise NotFound(f"there are no things of the type {type_!r}", fix=f"one of {', '.join(TYPES)}")
        made = tuple(sorted(found, key=lambda s: (s.sheet, s.id)))
        if not made:
            raise NotFound(f"nothing here speaks of {key!r}", fix="search finds things by a piece of their name")
        return made

    def saying(self, filed: Iterable[tuple[str, str]]) -> tuple[Statement, ...]:
        """Rows of the catalogue by the thing that each is filed under and its id; by sheet, then id."""
        wanted = set(filed)
        things = sorted({key for key, _ in wanted})
        found = {said.id: said for key in things for said in self._catalogue.about(key) if (key, said.id) in wanted}
        return tuple(sorted(found.values(), key=lambda s: (s.sheet, s.id)))

    def told(self, key: str, feature: str = "") -> tuple[Statement, ...]:
        """All rows that speak of one thing, whose key may be spelled as in an address, or of one feature of it."""
        type_, *named = key.split("/")
        found = self.rows(subject(type_, *(unquote(name) for name in named)))
        return tuple(row for row in found if not feature or row.fields.get("feature") == feature)

    def claims(self, key: str, feature: str = "") -> tuple[RowAnswer, ...]:
        """The same as claims with their sources."""
        return tuple(self._row(row) for row in self.told(key, feature))

    def row(self, id_: str) -> RowAnswer:
        """One row of the ledger by its id, whether it still holds or not.

        Raises
        ------
        NotFound
            There never was such a row up to this snapshot.
        """
        held = self.desk.shelf.known(id_)
        if not held:
            raise NotFound(f"there is no row {id_!r}", fix="answers name the rows they rest on")
        last = held[-1]
        to_n = last.to_n if last.to_n is not None and last.to_n <= self.desk.shelf.n else None
        return self._row(last.statement, last.from_n, to_n)

    def _row(self, said: Statement, from_n: int | None = None, to_n: int | None = None) -> RowAnswer:
        known = SHEETS[said.sheet]
        named = [str(said.fields.get(column, "")) for column in known.thing_columns]
        evidence = said.evidence
        return RowAnswer(
            STATEMENT + said.id,
            said.id,
            said.sheet,
            dict(said.fields),
            evidence.source,
            evidence.rank,
            evidence.date,
            evidence.note,
            subject(known.thing, *named),
            to_n is None,
            from_n,
            to_n,
        )

    def supersession(self, part: str, day: str) -> SupersessionAnswer:
        """Where the part's number leads on a day, with every row in reach.

        Raises
        ------
        NotFound
            There is no such part, nor does a supersession name it.
        """
        rows = self._catalogue.known.supersessions([part])
        if not rows:
            self._catalogue.part(part)
        chain = supersession_chain(part, rows, day)
        return SupersessionAnswer(
            part,
            day,
            self.desk.snapshot,
            chain.latest,
            chain.steps,
            chain.held,
            chain.circle,
            rows,
            _sentence(chain, day),
        )

    def part_key(self, text: str) -> str:
        """The key of the part that a person names.

        Raises
        ------
        NotFound, Ambiguous
            None, or several.
        """
        return names.thing(self._catalogue.find_parts, "part", text).key

    def fitments_of(self, engine: str, unit: str) -> tuple[Fitment, ...]:
        """The fitments of an engine, of a unit, or of that unit on that engine."""
        onto = names.thing(self._catalogue.find_engines, "engine", engine).key if engine else ""
        with_ = names.thing(self._catalogue.find_units, "turbocharger", unit).key if unit else ""
        found = self._catalogue.fitments(engine=onto, unit=with_)
        return tuple(f for f in found if onto in ("", f.engine) and with_ in ("", f.unit))

    # Lists: each from the first beyond `after`, at most `most`

    def parts(self, after: str, most: int, *, kind: str = "", maker: str = "") -> tuple[PartRecord, ...]:
        """Parts by key; of a kind and those below it, and of a maker."""
        kinds = self._catalogue.kinds_below([kind]) if kind else ()
        found = self._catalogue.parts(self._catalogue.keys("part", after, most, kinds=kinds, maker=maker))
        return tuple(PartRecord.of(part) for part in found)

    def units(self, after: str, most: int, *, maker: str = "") -> tuple[Unit, ...]:
        """Units by key."""
        return self._catalogue.units(self._catalogue.keys("unit", after, most, maker=maker))

    def engines(self, after: str, most: int, *, maker: str = "") -> tuple[Engine, ...]:
        """Engines by key."""
        return tuple(self._catalogue.engine(key) for key in self._catalogue.keys("engine", after, most, maker=maker))

    def machines(self, after: str, most: int, *, maker: str = "") -> tuple[MachineRecord, ...]:
        """Machines by key."""
        found = self._catalogue.keys("machine", after, most, maker=maker)
        return tuple(MachineRecord(key, *(unquote(name) for name in key.split("/")[1:])) for key in found)

    def fitments(self, after: tuple[int, str], most: int) -> tuple[tuple[int, Fitment], ...]:
        """Fitments, by engine; each with where it is filed, for the next page."""
        return tuple(
            (at, records.fitment_of(_record(row))) for at, row in self._catalogue.filed("fitments", after, most)
        )

    def cores(self, after: str, most: int) -> tuple[Core, ...]:
        """Cores by tag."""
        return tuple(core for core in self.desk.shelf.cores() if core.tag > after)[:most]

    def small(self, type_: str) -> Sequence[Any]:
        """All builds, sources, operations, kinds, features or layouts, by name."""
        lists: dict[str, Sequence[Any]] = {
            "build": self._catalogue.builds,
            "source": self._catalogue.sources,
            "operation": self._catalogue.all_operations,
            "kind": self._catalogue.kinds,
            "feature": self._catalogue.features,
            "layout": self._catalogue.layouts,
        }
        if type_ not in lists:
            raise BadQuestion(f"there is no list of {type_!r}", fix=f"one of {', '.join(lists)}")
        return sorted(lists[type_], key=lambda one: one.name)

    def one_small(self, type_: str, name: str) -> Any:
        """One of them by its name.

        Raises
        ------
        NotFound
            There is none.
        """
        for one in self.small(type_):
            if one.name == name:
                return one
        raise NotFound(f"there is no {type_} {name!r}", fix=f"/v1/{type_}s lists them")


def _record(said: Statement) -> Row:
    content = said.content()
    return Row(said.sheet, said.id, content["fields"], content["evidence"])


def _sentence(chain: Chain, day: str) -> str:
    """Where a number leads; it is the latest only where nothing leads on."""
    part, latest = name_in(chain.part), name_in(chain.latest)
    text = f"{part} leads to {latest}."
    if chain.part == chain.latest:
        text = f"{part} is the latest number."
        if chain.held or chain.circle:
            text = f"No one number takes the place of {part} in every case."
    rivals = [s for s in chain.held if in_force(s, day) and not s.condition and not s.from_serial]
    if len({s.new for s in rivals}) > 1 and not chain.circle:
        text += f" {latest} is superseded by several: {', '.join(name_in(s.new) for s in rivals)}; choose one."
    more = 0 if chain.circle else len(chain.held) - len(rivals)
    if more:
        text += f" {more} {'row leads' if more == 1 else 'rows lead'} on under a condition, from a date or a serial."
    if chain.circle:
        text += f" It runs into a circle: {', '.join(map(name_in, chain.circle))}."
    return text
