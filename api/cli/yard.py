"""Verbs of the yard: the day's jobs against one shelf, what is promised, and which part may sit in place of which."""

import getpass
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from api.cli.asking import Day, Demo, Json, Store, desk_at, read_bytes
from api.cli.keeping import now
from api.cli.output import FAULTS, fail, remark, say, say_json
from api.settings import store_path
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.codec import to_json
from graph.model.yard import ShelfAnswer, ShelfQuestion

app = typer.Typer(
    name="shelf",
    help="The day's jobs against one shelf: who gets which core and parts, and what is promised to whom.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
)
Jobs = Annotated[
    str, typer.Argument(help="CSV with the columns job, core, build, engine, due, customer; - is standard input.")
]
By = Annotated[str, typer.Option("--by", help="A day by which all jobs are to be done, YYYY-MM-DD.")]
OnlyStock = Annotated[bool, typer.Option("--only-stock", help="Order nothing: only what is on hand.")]
Once = Annotated[bool, typer.Option("--one-teardown", help="Strip each donor once for all that is taken from it.")]
Rush = Annotated[str, typer.Option("--rush", help="A job that goes before all others; says what it displaces.")]
Seconds = Annotated[float, typer.Option(min=0.1, help="Give up after so many seconds.")]
Until = Annotated[
    str,
    typer.Option("--until", help="The last day on which the promise holds, YYYY-MM-DD; default: until released."),
]
Author = Annotated[str, typer.Option(help="Who promises; default: the name you are logged in with.")]


@app.command()
def plan(
    jobs: Jobs,
    by: By = "",
    only_stock: OnlyStock = False,
    one_teardown: Once = False,
    rush: Rush = "",
    seconds: Seconds = 60.0,
    save: Annotated[
        Path | None, typer.Option(help="Save each job's plan with its evidence, as JOB.json, in this folder.")
    ] = None,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Who gets what, so that most jobs are done, and those for the least money."""
    from api.text.yard import rush_lines, shelf_lines
    from graph.desk.yard import Yard, bare

    try:
        yard = Yard(desk_at(store, demo))
        question = ShelfQuestion(
            yard.jobs(read_bytes(jobs), jobs),
            day or date.today().isoformat(),
            by,
            only_stock,
            one_teardown,
            rush,
        )
        rushed = yard.rush(question, seconds=seconds) if rush else None
        answer = rushed.together if rushed else yard.plan(question, seconds=seconds)
        if save:
            _save(answer, save)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json and rushed:
        without = to_json(bare(rushed.without))
        say_json({**to_json(rushed), "without": without, "together": to_json(bare(rushed.together))})
    elif as_json:
        say_json(to_json(bare(answer)))
    else:
        say(rush_lines(rushed) if rushed else shelf_lines(answer))
    if answer.left_out:
        raise typer.Exit(FAULTS)


def _save(answer: ShelfAnswer, folder: Path) -> None:
    from graph.planning.saved import saved

    folder.mkdir(parents=True, exist_ok=True)
    for number, one in enumerate(answer.jobs, 1):
        plain = "".join(c if c.isalnum() or c in "-_" else "-" for c in one.job.name)
        place = folder / f"{number:02d}-{plain}.json"
        place.write_bytes(saved(one.answer))
        remark(f"saved: {place}")


@app.command()
def reserve(
    jobs: Jobs,
    by: By = "",
    only_stock: OnlyStock = False,
    one_teardown: Once = False,
    rush: Rush = "",
    seconds: Seconds = 60.0,
    until: Until = "",
    author: Author = "",
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Plan the jobs and promise each what it gets; what was promised to these jobs before is released."""
    from api.text.yard import promise_lines, shelf_lines
    from graph.desk.yard import Yard, bare, reservation_rows
    from graph.index.store import Store as Folder
    from graph.publish import record

    try:
        asked_on = day or date.today().isoformat()
        yard = Yard(desk_at(store, demo))
        question = ShelfQuestion(yard.jobs(read_bytes(jobs), jobs), asked_on, by, only_stock, one_teardown, rush)
        answer = yard.plan(question, seconds=seconds)
        by_whom = author or getpass.getuser()
        rows = reservation_rows(yard, answer, asked_on, until=until, who=by_whom)
        folder = Folder.open(store_path(store, demo=demo))
        record(
            folder,
            rows,
            author=by_whom,
            time=now(),
            title=f"promised to {len(answer.jobs)} jobs",
            unmoved_since=yard.desk.snapshot.shelf,
        )
        promised = Yard(desk_at(store, demo)).promised(asked_on)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json({"answer": to_json(bare(answer)), "promised": to_json(promised)})
    else:
        say([*shelf_lines(answer), "", "Promised", *promise_lines(promised)])
    if answer.left_out:
        raise typer.Exit(FAULTS)


@app.command()
def promised(day: Day = "", store: Store = None, demo: Demo = False, as_json: Json = False) -> None:
    """What is promised to which job, by whom, until when; what has lapsed is left out."""
    from api.text.yard import promise_lines
    from graph.desk.yard import Yard

    try:
        found = Yard(desk_at(store, demo)).promised(day or date.today().isoformat())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(found))
    else:
        say(promise_lines(found))


@app.command()
def hold(
    job: Annotated[str, typer.Argument(help="The job's name.")],
    core: Annotated[str, typer.Option(help="The core's tag; with --seat the part there alone.")] = "",
    seat: Annotated[str, typer.Option(help="With --core: the seat whose part is promised.")] = "",
    part: Annotated[str, typer.Option(help="The number of a part in stock.")] = "",
    quantity: Annotated[int, typer.Option(min=1, help="With --part: how many.")] = 1,
    until: Until = "",
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Promise one thing to a job: a core, a donor's part, or parts out of stock. Refused where it is not free."""
    from api.text.yard import promise_lines
    from graph import publish as writer
    from graph.desk import names
    from graph.desk.yard import Yard
    from graph.index.store import Store as Folder

    try:
        desk = desk_at(store, demo)
        if bool(core) == bool(part):
            raise BadQuestion("a core or a part is promised, one of the two", fix="name --core or --part")
        by_whom = author or getpass.getuser()
        cells = {"job": job, "seat": seat, "until": until, "who": by_whom}
        if until and until < now()[:10]:
            raise BadQuestion(f"until {until} is over", fix="name a later day, or none")
        if core:
            cells["tag"] = names.core(desk.shelf, core).tag
        else:
            found = names.thing(desk.catalogue.find_parts, "part", part)
            cells |= {"maker": found.maker, "number": found.name, "quantity": str(quantity)}
        folder = Folder.open(store_path(store, demo=demo))
        writer.promise(folder, cells, author=by_whom, time=now()).sound()
        held = Yard(desk_at(store, demo)).promised(date.today().isoformat())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(held))
    else:
        say(promise_lines(held))


@app.command()
def release(
    jobs: Annotated[list[str], typer.Argument(help="Names of the jobs.")],
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Promise these jobs nothing any more."""
    from api.text.yard import promise_lines
    from graph.desk.yard import Yard, release_rows
    from graph.index.store import Store as Folder
    from graph.publish import record

    try:
        yard = Yard(desk_at(store, demo))
        rows = release_rows(yard, jobs, date.today().isoformat())
        folder = Folder.open(store_path(store, demo=demo))
        record(folder, rows, author=author or getpass.getuser(), time=now(), title=f"released: {', '.join(jobs)}")
        left = Yard(desk_at(store, demo)).promised(date.today().isoformat())
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(left))
    else:
        say(promise_lines(left))


def interchange(
    part: Annotated[
        str, typer.Argument(help="The part's number, with or without its maker; none with --report.")
    ] = "",
    seat: Annotated[str, typer.Option(help="Look at this seat alone.")] = "",
    report: Annotated[
        bool, typer.Option("--report", help="Hold all asserted interchanges against the features.")
    ] = False,
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What else could sit where this part sits, whose place it could take, and why."""
    from api.text.yard import interchange_lines, report_lines
    from graph.desk.yard import Yard

    refuted = False
    try:
        yard = Yard(desk_at(store, demo))
        if bool(part) == report:
            raise BadQuestion(
                "a part or --report is wanted, one of the two", fix="name a part, or ask for the report"
            )
        if report:
            found = yard.interchange_report()
            refuted = any(d.how == "refuted" for d in found.asserted)
            data, lines = to_json(found), report_lines(found)
        else:
            answer = yard.interchange(part, seat)
            data, lines = to_json(answer), interchange_lines(answer)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(data)
    else:
        say(lines)
    if refuted:
        raise typer.Exit(FAULTS)
