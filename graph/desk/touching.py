"""Which answers a change may turn: the kept questions, and whether the turbochargers that it touches fit.

A row about a part touches the turbochargers that have it, one about an engine that engine; rules, features,
operations and sources touch all. Only whole turbochargers on engines are asked: first as they left the factory, then
every touched turbocharger on each engine that some turbocharger of its layout left the factory on.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Final

from graph.desk import names
from graph.desk.desk import Desk
from graph.desk.watching import said
from graph.errors import SpoolwrightError
from graph.index.catalogue import Catalogue
from graph.model.statement import Statement, name_in, subject
from graph.model.watch import Question, Turned, Watch

OF_PART: Final = frozenset({"parts", "values", "supersession", "interchange"})
OF_UNIT: Final = frozenset({"units", "unit_seats", "unit_values"})
OF_ENGINE: Final = frozenset({"engines", "engine_values"})
OF_ALL: Final = frozenset(
    {"sources", "kinds", "layouts", "joints", "rules", "accepted", "features", "operations", "consumes", "services"}
)

MOST: Final = 400
"""Swaps that are looked at for one change; a person reads no more, and each takes a tenth of a second or longer."""


@dataclass(frozen=True, slots=True)
class Asked:
    """One question asked before and after."""

    question: Question
    turned: Turned
    kept: bool  # somebody keeps this question


@dataclass(frozen=True, slots=True)
class Effect:
    """What a change does to answers: kept questions first, then swaps in the order they were asked.

    `left`: questions that were not asked, because time was up; `more`: a change that touches more swaps than `MOST`.
    """

    asked: tuple[Asked, ...]
    left: int
    more: bool = False


def effect(
    before: Desk,
    after: Desk,
    watches: Iterable[Watch],
    changed: Iterable[Statement],
    *,
    day: str,
    stop: Callable[[], bool],
) -> Effect:
    """Ask both desks all that the change may turn, until `stop` says that time is up."""
    waiting = [(watch.id, watch.label, watch.question, True) for watch in watches]
    kept = {_in_full(before, question) for _, _, question, _ in waiting}
    found = swaps(before, after, changed)
    more = len(found) >= MOST
    waiting += [("", _label(q), q, False) for q in found if q not in kept]
    asked: list[Asked] = []
    for place, (id_, label, question, own) in enumerate(waiting):
        if stop():
            return Effect(tuple(asked), len(waiting) - place, more)
        turn = Turned(id_, label, said(before, question, day), said(after, question, day))
        asked.append(Asked(question, turn, own))
    return Effect(tuple(asked), 0, more)


def _in_full(desk: Desk, question: Question) -> Question:
    """A swap question with maker and name of both, so that it is known when it comes a second time."""
    if question.kind != "fits" or question.part:
        return question
    try:
        unit = names.thing(desk.catalogue.find_units, "turbocharger", question.unit).key
        engine = names.thing(desk.catalogue.find_engines, "engine", question.engine).key
    except SpoolwrightError:  # it names what is not on record yet
        return question
    return Question("fits", unit=name_in(unit), engine=name_in(engine))


def swaps(before: Desk, after: Desk, changed: Iterable[Statement]) -> tuple[Question, ...]:
    """The swap questions that these rows touch, `MOST` at most."""
    both = (before.catalogue, after.catalogue)
    units: set[str] = set()
    engines: set[str] = set()
    parts: set[str] = set()
    everything = False
    for row in changed:
        everything |= row.sheet in OF_ALL
        if row.sheet in OF_UNIT:
            units.add(subject("unit", *row.key[:2]))
        elif row.sheet in OF_ENGINE:
            engines.add(subject("engine", *row.key[:2]))
        elif row.sheet in OF_PART:
            parts.update(subject("part", row.key[0], name) for name in _numbers(row))
        elif row.sheet == "fitments":
            units.add(subject("unit", str(row.fields["unit_maker"]), str(row.fields["unit"])))
    units.update(u.by for c in both for part in parts for u in c.where_used(part) if u.sheet == "unit_seats")
    order: dict[tuple[str, str], None] = {}
    found = [_Fitted(c) for c in both]
    for of_factory in (True, False):
        for one in found:
            pairs = one.pairs(units, engines, everything=everything, of_factory=of_factory)
            order.update(dict.fromkeys(islice(pairs, MOST)))
    return tuple(Question("fits", unit=name_in(unit), engine=name_in(engine)) for unit, engine in order)[:MOST]


def _numbers(row: Statement) -> tuple[str, ...]:
    return row.key[1:] if row.sheet == "supersession" else row.key[1:2]


class _Fitted:
    """What turbochargers and engines a catalogue has, and which left the factory together."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.layouts = {subject("unit", *s.key): str(s.fields["layout"]) for s in catalogue.sheet("units")}
        self.engines = {subject("engine", *s.key) for s in catalogue.sheet("engines")}
        rows = (s.fields for s in catalogue.sheet("fitments"))
        self.together = {
            (subject("unit", str(r["unit_maker"]), str(r["unit"])),
             subject("engine", str(r["engine_maker"]), str(r["engine"])))
            for r in rows if r.get("unit")
        }  # fmt: skip

    def pairs(
        self, units: set[str], engines: set[str], *, everything: bool, of_factory: bool
    ) -> Iterator[tuple[str, str]]:
        """The touched pairs, by turbocharger, then engine."""
        of_layout: dict[str, set[str]] = {}
        for unit, engine in self.together:
            if unit in self.layouts:
                of_layout.setdefault(self.layouts[unit], set()).add(engine)
        alone = self.engines - {engine for _, engine in self.together}  # it may take any turbocharger
        for unit, layout in sorted(self.layouts.items()):
            for engine in sorted((of_layout.get(layout, set()) | alone) & self.engines):
                touched = everything or unit in units or engine in engines
                if touched and ((unit, engine) in self.together) is of_factory:
                    yield unit, engine


def _label(question: Question) -> str:
    return f"{question.unit} on {question.engine}"
