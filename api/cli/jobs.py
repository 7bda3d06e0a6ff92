"""Verbs of the shop's day: jobs and their stages, deposits, stock and prices."""

import getpass
from collections.abc import Callable
from typing import Annotated

import typer

from api.cli.asking import Store, desk_at
from api.cli.keeping import now
from api.cli.output import fail, say, say_json
from api.cli.placed import At, placed
from api.settings import store_path
from graph import publish as writer
from graph.desk import jobs as looking
from graph.desk import names
from graph.desk.desk import Desk
from graph.errors import NotFound, SpoolwrightError
from graph.index.store import Store as Folder
from graph.model.codec import to_json
from graph.model.jobs import JobRecord, PriceRecord, StockRecord
from ontology.currencies import money_shown


def _typer(name: str, help_: str) -> typer.Typer:
    return typer.Typer(name=name, help=help_, no_args_is_help=True, add_completion=False, rich_markup_mode=None)


app = _typer("job", "Jobs: taken on, from stage to stage, deposits.")
stock_app = _typer("stock", "What is on hand of a part, where, and what it costs.")
Name = Annotated[str, typer.Argument(help="The job's name.")]
Part = Annotated[str, typer.Argument(help="The part, with or without its maker.")]
Author = Annotated[str, typer.Option(help="Who does this; default: the name you are logged in with.")]
Note = Annotated[str, typer.Option(help="A note on it.")]


def written(store: Store, demo: bool, as_json: bool, act: Callable[[Folder, Desk], None]) -> Desk:
    """Do what writes, and give the desk as it is then."""
    try:
        folder = Folder.open(store_path(store, demo=demo))
        act(folder, Desk.over(folder))
        return Desk.over(folder)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error


@app.command("list")
@placed
def listed(
    at: At,
    stage: Annotated[str, typer.Option(help="Only those at this stage.")] = "",
) -> None:
    """All jobs, in the order in which they were taken on."""
    found = looking.jobs(desk_at(at.store, at.demo), stage)
    if at.as_json:
        say_json(to_json(found))
    else:
        say([_line(job) for job in found] or ["There are no jobs."])


@app.command()
@placed
def show(at: At, job: Name) -> None:
    """One job with its stages and deposits."""
    _tell(looking.job(desk_at(at.store, at.demo), job), at.as_json)


@app.command()
@placed
def take(
    at: At,
    job: Name,
    core: Annotated[str, typer.Option(help="Tag of its core.")] = "",
    build: Annotated[str, typer.Option(help="What it is to become.")] = "",
    engine: Annotated[str, typer.Option(help="For which engine.")] = "",
    customer: Annotated[str, typer.Option(help="For whom.")] = "",
    due: Annotated[str, typer.Option(help="By when, YYYY-MM-DD.")] = "",
    note: Note = "",
    author: Author = "",
) -> None:
    """Take a job on; it is then received."""

    def act(folder: Folder, desk: Desk) -> None:
        cells = {"job": job, "customer": customer, "due": due, "note": note}
        if core:
            cells["tag"] = names.core(desk.shelf, core).tag
        if build:
            cells["build"] = names.build(desk.catalogue, build).name
        if engine:
            found = names.thing(desk.catalogue.find_engines, "engine", engine)
            cells |= {"engine_maker": found.maker, "engine": found.name}
        writer.take_on(folder, cells, version=0, author=author or getpass.getuser(), time=now()).sound()

    _tell(looking.job(written(at.store, at.demo, at.as_json, act), job), at.as_json)


@app.command()
@placed
def move(
    at: At,
    job: Name,
    stage: Annotated[str, typer.Argument(help="The stage it came to.")],
    note: Note = "",
    author: Author = "",
) -> None:
    """Note that a job came to a stage."""

    def act(folder: Folder, desk: Desk) -> None:
        known = looking.job(desk, job)
        by = author or getpass.getuser()
        writer.move(folder, known, stage, version=known.version, note=note, author=by, time=now()).sound()

    _tell(looking.job(written(at.store, at.demo, at.as_json, act), job), at.as_json)


@app.command()
@placed
def deposit(
    at: At,
    job: Name,
    what: Annotated[str, typer.Argument(help="taken, returned or kept.")],
    amount: Annotated[str, typer.Argument(help="How much, as 120.50.")],
    currency: Annotated[str, typer.Argument(help="As EUR.")],
    note: Note = "",
    author: Author = "",
) -> None:
    """Note that a deposit was taken, returned or kept."""

    def act(folder: Folder, desk: Desk) -> None:
        known = looking.job(desk, job)
        cells = {"what": what, "amount": amount, "currency": currency, "note": note}
        by = author or getpass.getuser()
        writer.deposit(folder, known, cells, version=known.version, author=by, time=now()).sound()

    _tell(looking.job(written(at.store, at.demo, at.as_json, act), job), at.as_json)


@stock_app.command("show")
@placed
def show_stock(at: At, part: Part) -> None:
    """What is on hand of a part, how much of it is promised, and what it costs."""
    desk = desk_at(at.store, at.demo)
    _tell_stock(looking.stock(desk, part), looking.prices(desk, part), at.as_json)


@stock_app.command("put")
@placed
def put_stock(
    at: At,
    part: Part,
    quantity: Annotated[int, typer.Argument(min=0, help="How many there are now.")],
    place: Annotated[str, typer.Option(help="Where.")] = "",
    author: Author = "",
) -> None:
    """Say how many of a part are at a place."""

    def act(folder: Folder, desk: Desk) -> None:
        known = looking.stock(desk, part)
        version = next((p.version for p in known.places if p.place == place), 0)
        by = author or getpass.getuser()
        writer.put_stock(
            folder, (known.maker, known.number), place, quantity, version=version, author=by, time=now()
        ).sound()

    desk = written(at.store, at.demo, at.as_json, act)
    _tell_stock(looking.stock(desk, part), looking.prices(desk, part), at.as_json)


@stock_app.command("price")
@placed
def put_price(
    at: At,
    part: Part,
    price: Annotated[str, typer.Argument(help="As 120.50.")],
    currency: Annotated[str, typer.Argument(help="As EUR.")],
    condition: Annotated[str, typer.Option(help="new or used.")] = "new",
    as_of: Annotated[str, typer.Option(help="The day from which it holds; default: today.")] = "",
    author: Author = "",
) -> None:
    """Say what a part costs; earlier prices stay on record."""

    def act(folder: Folder, desk: Desk) -> None:
        if condition not in ("new", "used"):
            raise NotFound(f"there is no condition {condition!r}", fix="new or used")
        known = looking.part_named(desk, part)
        version = next((p.version for p in looking.prices(desk, part) if p.condition == condition), 0)
        cells = {"price": price, "currency": currency, "as_of": as_of or now()[:10]}
        by = author or getpass.getuser()
        writer.put_price(
            folder, (known.maker, known.name), condition, cells, version=version, author=by, time=now()
        ).sound()

    desk = written(at.store, at.demo, at.as_json, act)
    _tell_stock(looking.stock(desk, part), looking.prices(desk, part), at.as_json)


def _tell(job: JobRecord, as_json: bool) -> None:
    if as_json:
        say_json(to_json(job))
        return
    lines = [_line(job)]
    lines += [f"  {s.step}. {s.stage}, {s.time}, {s.who}{': ' + s.note if s.note else ''}" for s in job.steps]
    lines += [f"  deposit {d.what}: {money_shown(d.amount, d.currency)}, {d.time}, {d.who}" for d in job.deposits]
    if job.deposits:
        lines.append(f"  held: {money_shown(job.held, job.currency)}")
    lines.append(f"  may come next: {', '.join(job.may) or 'nothing'}")
    say(lines)


def _line(job: JobRecord) -> str:
    what = " ".join(part for part in (job.tag and f"core {job.tag}", job.build and f"into {job.build}") if part)
    rest = [what, job.customer, job.due and f"due {job.due}"]
    return ", ".join([f"{job.job}: {job.stage}", *[one for one in rest if one]])


def _tell_stock(found: StockRecord, prices: tuple[PriceRecord, ...], as_json: bool) -> None:
    if as_json:
        say_json({"stock": to_json(found), "prices": to_json(prices)})
        return
    lines = [f"{found.maker} {found.number}: {found.on_hand} on hand, {found.promised} promised, {found.free} free"]
    lines += [f"  {p.place or 'no place named'}: {p.quantity}" for p in found.places]
    lines += [f"  {p.condition}: {money_shown(p.price, p.currency)} as of {p.as_of}" for p in prices]
    say(lines)
