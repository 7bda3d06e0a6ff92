"""A plan question as it stands in a page's address, with the customer's wishes and the form that asks for them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Final
from urllib.parse import urlencode

from fastapi import Depends, Query

from api.pages.frame import Text, _
from api.pages.terms import WISHES, wish_said
from api.words import spoken
from graph.desk import Desk
from graph.planning.problem import ON_A_SEAT

Wishes = Annotated[Sequence[Text], Query(max_length=50)]
WHOLE_JOB: Final = ("only-stock", "no-new", "no-donor", "no-machining")
"""The wishes about no part in particular, in the order of the form."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A core, a build, an engine (empty: the build's own), wishes, and the day of the prices (empty: today)."""

    core: str = ""
    build: str = ""
    engine: str = ""
    wishes: tuple[str, ...] = ()
    as_of: str = ""

    def fields(self, **more: object) -> list[tuple[str, str]]:
        """The question as fields of an address or a form; what is empty is left out."""
        asked = {"core": self.core, "build": self.build, "engine": self.engine, **more, "as_of": self.as_of}
        told = [(name, str(text)) for name, text in asked.items() if text not in ("", None)]
        return [*told, *(("wish", wish) for wish in self.wishes)]

    def at(self, path: str, **more: object) -> str:
        """The address of a page about this plan."""
        return f"{path}?" + urlencode(self.fields(**more))

    def with_wishes(self, wishes: Iterable[str]) -> "Wanted":
        """The same question with these wishes."""
        return replace(self, wishes=tuple(wishes))


async def wanted(core: Text = "", build: Text = "", engine: Text = "", wish: Wishes = (), as_of: Text = "") -> Wanted:
    """The plan question of the address; a wish that was left empty is none."""
    return Wanted(core, build, engine, tuple(text for text in wish if text.strip()), as_of)


WantedPlan = Annotated[Wanted, Depends(wanted)]


def operation_labels(desk: Desk) -> dict[str, str]:
    """How the shop calls its operations."""
    return {operation.name: operation.label for operation in desk.catalogue.all_operations}


@dataclass(frozen=True, slots=True)
class Tick:
    """One box of the form."""

    wish: str
    text: str
    ticked: bool


@dataclass(frozen=True, slots=True)
class Group:
    """Boxes of one sort; `open`: they are shown without being asked for."""

    title: str
    ticks: tuple[Tick, ...]
    open: bool


@dataclass(frozen=True, slots=True)
class Form:
    """What may be wished of a build's parts and work, what is wished already, and the question itself as fields."""

    groups: tuple[Group, ...]
    fields: tuple[tuple[str, str], ...]
    wished: int


def form(desk: Desk, asked: Wanted, layout: str, best: int) -> Form:
    """The form for a plan of a build of this layout: seats in the layout's order, work by its label. Checks and other
    services are not offered; whatever else is wished already stands in a group of its own, so that it can be dropped.
    """
    seats = desk.catalogue.layout(layout).seats
    able = desk.catalogue.operations(desk.catalogue.kinds_below(seat.kind for seat in seats))
    work = sorted((o.label or spoken(o.name), o.name) for o in able if o.kind and o.effect != "service")
    offered = (
        (_("Of the whole job"), [(wish, WISHES[wish]) for wish in WHOLE_JOB]),
        (_("Keep the core's own"), [(f"keep:{seat.name}", spoken(seat.name)) for seat in seats]),
        (_("No used"), [(f"no-used:{seat.name}", spoken(seat.name)) for seat in seats]),
        (_("Work that is not wanted"), [(f"no-operation:{name}", text) for text, name in work]),
    )
    known = {wish for _title, texts in offered for wish, _text in texts}
    others = [(wish, wish_said(wish, operation_labels(desk))) for wish in asked.wishes if wish not in known]
    groups: list[Group] = []
    for title, texts in (*offered, (_("Also wished"), others)):
        ticks = tuple(Tick(wish, text, wish in asked.wishes) for wish, text in texts)
        if ticks:
            groups.append(Group(title, ticks, not groups or any(one.ticked for one in ticks)))
    return Form(tuple(groups), tuple(asked.with_wishes(()).fields(best=best)), len(asked.wishes))


def for_any_build(desk: Desk, wishes: Iterable[str]) -> list[str]:
    """The wishes that make sense for builds of every layout: those about a seat that some layout lacks do not."""
    seats = [{seat.name for seat in layout.seats} for layout in desk.catalogue.layouts]
    return [
        wish
        for wish in wishes
        if not wish.startswith(ON_A_SEAT) or all(wish.partition(":")[2] in names for names in seats)
    ]


def left_out(pairs: Iterable[tuple[str, str]], numbers: str) -> str:
    """The address of the plan with parts left out beside what was asked: their numbers, with commas between them."""
    kept = [(name, text) for name, text in pairs if name not in ("without", "way") and text.strip()]
    barred = [number.strip() for number in numbers.split(",") if number.strip()]
    return "/plan?" + urlencode([*kept, *(("wish", f"no-part:{number}") for number in barred)])
