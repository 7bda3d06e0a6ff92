"""Verbs that ask: fits, plan, pick, verify, show."""

import sys
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from api.cli.output import FAULTS, fail, remark, say, say_json
from api.settings import DEMO_STORE, asked_path
from api.text.fits import fits_lines
from api.text.pick import pick_lines
from api.text.plan import answer_lines
from api.text.show import show_lines
from graph.desk import Desk, Evidence, judge, open_desk, within
from graph.desk.matching import against_originals
from graph.errors import BadFile, SpoolwrightError
from graph.model.bundle import Bundle
from graph.model.codec import to_json
from graph.model.depth import MEASURES
from graph.model.verdict import Verdict
from graph.planning.saved import Saved, saved

Store = Annotated[
    Path | None, typer.Option("--store", help="Folder of the store; default: the shop's, else the demo's.")
]
Demo = Annotated[bool, typer.Option("--demo", help="Ask the demo store.")]
Json = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]
Day = Annotated[str, typer.Option("--as-of", help="Day for prices and supersessions, YYYY-MM-DD; default: today.")]
Wish = Annotated[
    list[str] | None,
    typer.Option(
        help="What the customer wants: no-new, no-donor, no-machining, only-stock, keep:SEAT, no-used:SEAT,"
        " no-part:NUMBER, no-operation:NAME; may be repeated."
    ),
]
By = Annotated[
    list[str] | None,
    typer.Option(
        help=f"Measures, the weightiest first, by commas or repeated: {', '.join(MEASURES)}. None: cost alone."
    ),
]


def measures(by: list[str] | None) -> list[str]:
    """The measures that were typed, in their order."""
    return [name for text in by or () for name in text.replace(",", " ").split()]


def desk_at(store: Path | None, demo: bool) -> Desk:
    """The desk over the store that is meant; the demo shop is published when it is first asked."""
    path = asked_path(store, demo=demo)
    if path == DEMO_STORE:
        if not demo and store is None:
            remark("(no store of your own yet: this is the demo shop)")
        if not path.exists():
            from demo_graph.tours import publish_demo

            publish_demo(path)
    return open_desk(path)


def fits(
    unit: Annotated[str, typer.Option(help="The turbocharger's number, with or without its maker.")],
    engine: Annotated[str, typer.Option(help="The engine it is to go on.")] = "",
    seat: Annotated[str, typer.Option(help="With --part: the seat in the unit.")] = "",
    part: Annotated[str, typer.Option(help="With --seat: the part that is to go in there.")] = "",
    both: Annotated[bool, typer.Option("--both", help="Answer the other direction too.")] = False,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Will this unit go onto that engine (or this part into that seat)?"""
    try:
        desk = desk_at(store, demo)
        answers = desk.fits(unit, engine, seat=seat, part=part, both=both, day=day or date.today().isoformat())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json({"answers": [to_json(answer) for answer in answers]})
    else:
        for number, answer in enumerate(answers):
            say(([""] if number else []) + fits_lines(answer))
    if answers[0].verdict in (Verdict.NO, Verdict.UNKNOWN):
        raise typer.Exit(FAULTS)


def plan(
    core: Annotated[str, typer.Option(help="The core's tag.")],
    build: Annotated[str, typer.Option(help="The build that is wanted.")],
    engine: Annotated[str, typer.Option(help="The engine; default: the build's own.")] = "",
    best: Annotated[int, typer.Option(min=1, max=100, help="How many distinct plans, cheapest first.")] = 1,
    by: By = None,
    wish: Wish = None,
    seconds: Annotated[float, typer.Option(min=0.1, help="Give up after so many seconds.")] = 30.0,
    save: Annotated[
        Path | None, typer.Option(help="Save the answer, with its evidence, to this file as well.")
    ] = None,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What parts and machining turn this core into that build for that engine?"""
    from graph.desk.measured import planned

    try:
        desk = desk_at(store, demo)
        answer = planned(
            desk,
            core,
            build,
            engine,
            by=measures(by),
            best=best,
            wishes=wish or (),
            day=day or date.today().isoformat(),
            seconds=seconds,
        )
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if save:
        save.write_bytes(saved(answer))
        remark(f"saved: {save}")
    if as_json:
        sys.stdout.write(saved(answer).decode())
    else:
        say(answer_lines(answer, lambda number: against_originals(desk.catalogue, answer, number)))
    if not answer.plans or answer.verdict is Verdict.UNKNOWN:
        raise typer.Exit(FAULTS)


def read_bytes(name: str) -> bytes:
    """The bytes of a file, or of standard input for `-`."""
    if name == "-":
        return sys.stdin.buffer.read()
    try:
        return Path(name).read_bytes()
    except OSError as error:
        raise BadFile(f"{name} cannot be read: {error.strerror}", fix="name a saved answer") from error


def pick(
    plans: Annotated[
        list[str],
        typer.Argument(help="Saved answers of `plan --json`; FILE:2 takes its second plan; - is standard input."),
    ],
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV.")] = False,
    xlsx: Annotated[Path | None, typer.Option(help="Write an Excel workbook to this file.")] = None,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What to fetch for one plan or several: quantities, bins, shortages, prices."""
    from api.workbook import pick_csv, pick_workbook

    try:
        desk = desk_at(store, demo)
        jobs = []
        for name in plans:
            file, _, number = name.rpartition(":") if name.rpartition(":")[2].isdigit() else (name, "", "1")
            jobs.append((read_bytes(file), int(number)))
        picks = desk.pick_saved(jobs, day=day or date.today().isoformat())
        if xlsx:
            xlsx.write_bytes(pick_workbook(picks))
            remark(f"written: {xlsx}")
            return
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(picks))
    elif as_csv:
        sys.stdout.write(pick_csv(picks))
    else:
        say(pick_lines(picks))


def evidence_of(folder: Path) -> Evidence:
    """Gathers an answer's evidence again from the store in a folder."""
    return lambda answer: open_desk(folder).evidence_again(answer)


def evidence_of_demo(answer: Saved) -> Bundle | None:
    """Gathers it from the demo shop, which is always at hand: it comes with the program."""
    from demo_graph.tours import demo_store

    with demo_store() as folder:
        return open_desk(folder).evidence_again(answer)


def verify(
    answer: Annotated[str, typer.Argument(help="A saved answer of plan, why or weigh; - is standard input.")],
    seconds: Annotated[float, typer.Option(min=0.1, help="Time to prove that no better plan is missing.")] = 60.0,
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Judge a saved answer by its own evidence, and by the store it was read from where that is at hand."""
    try:
        data = read_bytes(answer)
        path = asked_path(store, demo=demo)
        stores = [evidence_of(path), evidence_of_demo] if path.exists() else [evidence_of_demo]
        judgement = judge(data, stores, within(seconds))
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(judgement))
    else:
        say([f"{refusal.code}: {refusal.where}: {refusal.text}" for refusal in judgement.refusals])
        say([judgement.sentence])
    if judgement.refusals:
        raise typer.Exit(FAULTS)


def show(
    name: Annotated[str, typer.Argument(help="A part, unit, engine, build, machine or core, as written on it.")],
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """All that is known of one thing, with sources and conflicts."""
    try:
        found = desk_at(store, demo).show(name, day=day or date.today().isoformat())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(found))
    else:
        say(show_lines(found))
