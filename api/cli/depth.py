"""Verbs for what comes after a plan: why, unknown, rank, reach, least, measures, keep-in-stock."""

import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Annotated, TypeVar

import typer

from api.cli.asking import By, Day, Demo, Json, Store, Wish, desk_at, measures
from api.cli.output import FAULTS, fail, remark, say, say_json
from api.text.depth import least_lines, objectives_lines, ranking_lines, unknown_lines, why_lines
from graph.desk import Desk, depth
from graph.desk.measured import planned
from graph.errors import SpoolwrightError
from graph.model.codec import to_json
from graph.model.verdict import Verdict
from graph.planning.saved import saved

T = TypeVar("T")
CoreTag = Annotated[str, typer.Option(help="The core's tag.")]
BuildName = Annotated[str, typer.Option(help="The build that is wanted.")]
EngineName = Annotated[str, typer.Option(help="The engine; default: the build's own.")]
Full = Annotated[bool, typer.Option("--full", help="Tell the plan in full, for the bench.")]
Seconds = Annotated[float, typer.Option(min=0.1, help="Give up after so many seconds.")]


def _asked(store: Path | None, demo: bool, as_json: bool, ask: Callable[[Desk], T]) -> T:
    try:
        return ask(desk_at(store, demo))
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error


def _day(day: str) -> str:
    return day or date.today().isoformat()


def why(
    core: CoreTag,
    build: BuildName,
    engine: EngineName = "",
    best: Annotated[int, typer.Option(min=1, max=20, help="How many ways out, cheapest first.")] = 3,
    waive: Annotated[
        bool, typer.Option("--waive", help="Also look for ways that leave out a fit rule; never a safety rule.")
    ] = False,
    wish: Wish = None,
    seconds: Seconds = 60.0,
    save: Annotated[Path | None, typer.Option(help="Save the answer, with its evidence, to this file.")] = None,
    full: Full = False,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Why can this core not become that build, and what is the cheapest way out?"""
    answer = _asked(
        store,
        demo,
        as_json,
        lambda desk: depth.why(
            desk, core, build, engine, best=best, waive=waive, wishes=wish or (), day=_day(day), seconds=seconds
        ),
    )
    if save:
        save.write_bytes(saved(answer))
        remark(f"saved: {save}")
    if as_json:
        sys.stdout.write(saved(answer).decode())
    else:
        say(why_lines(answer, full=full))
    if answer.verdict is Verdict.NO and not answer.ways:
        raise typer.Exit(FAULTS)


def unknown(
    core: CoreTag,
    build: BuildName,
    engine: EngineName = "",
    wish: Wish = None,
    seconds: Seconds = 60.0,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Where a plan hangs on missing facts: each case, what holds in all, and what to measure."""
    answer = _asked(
        store,
        demo,
        as_json,
        lambda desk: depth.unknown(desk, core, build, engine, wishes=wish or (), day=_day(day), seconds=seconds),
    )
    if as_json:
        say_json(to_json(answer))
    else:
        say(unknown_lines(answer))


def rank(
    build: BuildName,
    engine: EngineName = "",
    best: Annotated[int, typer.Option(min=1, max=50, help="How many cores are worked out exactly.")] = 5,
    customers: Annotated[bool, typer.Option("--customers", help="Rank customers' own cores too.")] = False,
    wish: Wish = None,
    seconds: Seconds = 60.0,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Which core on the shelf is the best start for that build, and what does each need?"""
    ranking = _asked(
        store,
        demo,
        as_json,
        lambda desk: depth.rank(
            desk, build, engine, best=best, customers=customers, wishes=wish or (), day=_day(day), seconds=seconds
        ),
    )
    if as_json:
        say_json(to_json(ranking))
    else:
        say(ranking_lines(ranking))
    if not ranking.exact:
        raise typer.Exit(FAULTS)


def reach(
    core: CoreTag,
    wish: Wish = None,
    seconds: Annotated[float, typer.Option(min=0.1, help="Give up a build after so many seconds.")] = 20.0,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Which builds can this core become, cheapest first?"""
    ranking = _asked(
        store,
        demo,
        as_json,
        lambda desk: depth.reach(desk, core, wishes=wish or (), day=_day(day), seconds=seconds),
    )
    if as_json:
        say_json(to_json(ranking))
    else:
        say(ranking_lines(ranking))


def least(
    unit: Annotated[str, typer.Option(help="The turbocharger's number, with or without its maker.")],
    engine: Annotated[str, typer.Option(help="The engine it is to go on.")],
    seconds: Seconds = 20.0,
    full: Full = False,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What is the least change that puts this unit onto that engine?"""
    answer = _asked(
        store, demo, as_json, lambda desk: depth.least(desk, unit, engine, day=_day(day), seconds=seconds)
    )
    if as_json:
        say_json(to_json(answer))
    else:
        say(least_lines(answer, full=full))
    if answer.changes is None:
        raise typer.Exit(FAULTS)


def weigh(
    core: CoreTag,
    build: BuildName,
    engine: EngineName = "",
    by: By = None,
    wish: Wish = None,
    seconds: Seconds = 30.0,
    save: Annotated[
        Path | None, typer.Option(help="Save the answer, with its evidence; with --by the plan, as `plan` saves it.")
    ] = None,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """The best plan by other measures than money, or all that none beats in both money and time."""
    if save and by:
        _kept(save, core, build, engine, by=by, wish=wish, seconds=seconds, day=day, store=store, demo=demo)
    answer = _asked(
        store,
        demo,
        as_json,
        lambda desk: depth.objectives(
            desk, core, build, engine, order=measures(by), wishes=wish or (), day=_day(day), seconds=seconds
        ),
    )
    if save and not by:
        save.write_bytes(saved(answer))
        remark(f"saved: {save}")
    if as_json:
        sys.stdout.write(saved(answer).decode())
    else:
        say(objectives_lines(answer))
    if not answer.plans:
        raise typer.Exit(FAULTS)


def _kept(
    save: Path,
    core: str,
    build: str,
    engine: str,
    *,
    by: list[str],
    wish: list[str] | None,
    seconds: float,
    day: str,
    store: Path | None,
    demo: bool,
) -> None:
    """Save the plan that is best by the measures as a plan answer, which `verify` judges by them."""
    found = _asked(
        store,
        demo,
        False,
        lambda desk: planned(
            desk, core, build, engine, by=measures(by), wishes=wish or (), day=_day(day), seconds=seconds
        ),
    )
    save.write_bytes(saved(found))
    remark(f"saved: {save}")


VERBS: tuple[Callable[..., None], ...] = (why, unknown, rank, reach, least, weigh)
"""The verbs of this module, in the order in which the help lists them."""
