"""Verbs of the bench: identify, core add, measure, found, inspect, settle, show, and learn."""

import getpass
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

from api.cli.asking import Day, Demo, Json, Store, desk_at
from api.cli.keeping import now
from api.cli.output import FAULTS, fail, remark, say, say_json
from api.settings import store_path
from api.text.bench import (
    HOW,
    identify_lines,
    inspection_lines,
    learned_lines,
    record_lines,
    settle_lines,
    weakness_lines,
)
from api.text.findings import finding_lines
from graph.desk.bench import Bench
from graph.errors import BadQuestion, NotFound, SpoolwrightError
from graph.index.store import Store as Folder
from graph.model.bench import Identification, NextLook, Proposal
from graph.model.codec import to_json
from graph.model.verdict import Verdict

if TYPE_CHECKING:
    from graph.publish import Entered

T = TypeVar("T")
Author = Annotated[str, typer.Option(help="Who writes this down; default: the name you are logged in with.")]
Tag = Annotated[str, typer.Option("--tag", help="The core's tag.")]

app = typer.Typer(help="A core's record: take it in, measure it, decide over its parts.", no_args_is_help=True)


def identify(
    see: Annotated[
        list[str] | None,
        typer.Option(
            help="What was seen, FEATURE=VALUE or FEATURE!=VALUE, as 'boost control=vanes'; may be repeated."
        ),
    ] = None,
    core: Annotated[str, typer.Option(help="A core on the shelf: its plate and readings count too.")] = "",
    none: Annotated[float, typer.Option(help="The chance beforehand that it is no unit on record.")] = 0.05,
    cannot_tell: Annotated[
        list[str] | None, typer.Option(help="seat.feature that cannot be made out; may be repeated.")
    ] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for the next look, again and again.")] = False,
    arithmetic: Annotated[bool, typer.Option("--arithmetic", help="Show how the probabilities come about.")] = False,
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Which unit is this core, by what can be seen of it?"""
    try:
        bench = Bench(desk_at(store, demo))
        seen, skipped = list(see or ()), list(cannot_tell or ())
        answer = bench.identify(seen, core=core, none=none, cannot_tell=skipped)
        if ask:
            answer = _asked(bench, answer, seen, skipped, core, none)
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(answer))
    else:
        say(identify_lines(answer, arithmetic=arithmetic))
    if not answer.settled:
        raise typer.Exit(FAULTS)


def _asked(
    bench: Bench, answer: Identification, seen: list[str], skipped: list[str], core: str, none: float
) -> Identification:
    """Ask look after look until the unit is known, nothing is left to ask, or the person has had enough."""
    later: list[str] = []
    while not answer.settled:
        look = next((q for q in answer.questions if _name(q) not in later), None)
        if look is None:
            break
        likeliest = look.values[0][0]
        stands = answer.sentence.partition(" Look next ")[0]  # a look that was put off is not urged again
        remark(f"\n{stands}\n{look.label}, {HOW.get(look.look, look.look)}: {_choices(look)}")
        said = typer.prompt(
            f"Is it {likeliest}? (y, n, what you see, ? cannot tell, s skip, q enough)", err=True
        ).strip()
        if said == "q":
            break
        if said == "s":
            later.append(_name(look))
            continue
        if said == "?":
            skipped.append(_name(look))
        else:
            value = likeliest if said in ("y", "n") else said
            text = f"{_name(look)}{'!=' if said == 'n' else '='}{value}"
            try:
                bench.identify([text])
            except SpoolwrightError as error:
                remark(f"{error.message}\n  {error.fix}")
                continue
            seen.append(text)
        answer = bench.identify(seen, core=core, none=none, cannot_tell=skipped, listed=5 + len(later))
    return answer


def _name(look: NextLook) -> str:
    return f"{look.seat}.{look.feature}" if look.seat else look.feature


def _choices(look: NextLook) -> str:
    return ", ".join(shown for shown, _ in look.values)


@app.command("add")
def add(
    tag: Annotated[str, typer.Option("--tag", help="The tag; without it, every field is asked for.")] = "",
    unit: Annotated[str, typer.Option(help="The turbocharger that its plate names.")] = "",
    customer: Annotated[str, typer.Option(help="Whose it was.")] = "",
    received: Annotated[str, typer.Option(help="The day it came in; default: today.")] = "",
    plate: Annotated[str, typer.Option(help="What is written on the plate, as read.")] = "",
    serial: Annotated[str, typer.Option(help="The serial number.")] = "",
    photo: Annotated[list[str] | None, typer.Option(help="File name of a photo; may be repeated.")] = None,
    grade: Annotated[str, typer.Option(help="The grade given at intake.")] = "",
    place: Annotated[str, typer.Option(help="Where it lies.")] = "",
    deposit: Annotated[str, typer.Option(help="The deposit, for instance 80.00.")] = "",
    book_value: Annotated[str, typer.Option(help="What it stands in the books for.")] = "",
    currency: Annotated[str, typer.Option(help="EUR, for instance.")] = "",
    own: Annotated[bool, typer.Option("--own", help="It is the customer's own and goes back.")] = False,
    may_donate: Annotated[bool, typer.Option("--may-donate", help="Parts may be taken out of it.")] = False,
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    correct: Annotated[bool, typer.Option("--correct", help="Change what is on record of this tag.")] = False,
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Take a core in; where to look first is said at once."""
    cells = {
        "received": received,
        "customer": customer,
        "plate": plate,
        "serial": serial,
        "photos": "|".join(photo or ()),
        "grade": grade,
        "place": place,
        "deposit": deposit,
        "book_value": book_value,
        "currency": currency,
        "note": note,
    }
    if not tag:
        tag = typer.prompt("tag")
        unit = unit or typer.prompt("turbocharger by the plate (empty: not known)", default="", show_default=False)
        cells = {name: text or _asked_for(name) for name, text in cells.items()}
    try:
        path = store_path(store, demo=demo)
        if unit:
            maker, name = Bench(desk_at(store, demo)).unit_named(unit)
            cells |= {"as_built_maker": maker, "as_built_unit": name}
        cells |= {"tag": tag, **({"own": "yes"} if own else {}), **({"may_donate": "yes"} if may_donate else {})}
        cells = {name: text for name, text in cells.items() if text.strip()}
        from graph import publish as writer

        entered = writer.enter_core(
            Folder.open(path), cells, author=author or getpass.getuser(), time=now(), correct=correct
        )
        _told(entered, f"Core {tag} is on record", as_json=as_json)
        if not as_json:
            known = Bench(desk_at(store, demo)).record(tag)
            say(weakness_lines(known.weaknesses, "Where to look first"))
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error


def _asked_for(name: str) -> str:
    if name == "photos":
        name = "photos (file names with | between them)"
    return str(typer.prompt(name.replace("_", " "), default="", show_default=False))


@app.command("measure")
def measure(
    tag: Tag = "",
    seat: Annotated[str, typer.Option(help="The seat; `unit` for the unit as a whole.")] = "",
    feature: Annotated[str, typer.Option(help="What was measured, by name or label.")] = "",
    value: Annotated[str, typer.Option(help="What it shows, with its unit if it is not the usual one.")] = "",
    position: Annotated[str, typer.Option(help="Where: a plane of a journal, a place of a wall.")] = "",
    instrument: Annotated[str, typer.Option("--with", help="The instrument.")] = "",
    uncertainty: Annotated[
        str, typer.Option(help="How far it may be off; default: the instrument's on record.")
    ] = "",
    who: Annotated[str, typer.Option(help="Who read it; default: the author.")] = "",
    when: Annotated[str, typer.Option(help="When, YYYY-MM-DD or with THH:MM; default: now.")] = "",
    condition: Annotated[str, typer.Option(help="In which state: cleaned, free of oil, warm.")] = "",
    source: Annotated[str, typer.Option(help="The bench sheet; default: the shop's only source of readings.")] = "",
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Write a reading down; what is not given is asked for. Correcting one is writing it down again."""
    cells = {"tag": tag, "seat": seat, "feature": feature, "value": value}
    prompted = not all(cells.values())
    for name, text in cells.items():
        cells[name] = text or typer.prompt(name)
    further = {"position": position, "instrument": instrument, "uncertainty": uncertainty}
    if prompted:
        further = {n: t or typer.prompt(n, default="", show_default=False) for n, t in further.items()}
    cells |= further | {"who": who, "date": when, "condition": condition, "source": source, "note": note}
    try:
        from graph import publish as writer

        entered = writer.enter_reading(
            Folder.open(store_path(store, demo=demo)), cells, author=author or getpass.getuser(), time=now()
        )
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    _told(
        entered,
        f"{cells['seat']} {cells['feature']} of core {cells['tag']}: {cells['value']} is written down",
        as_json=as_json,
    )


@app.command("found")
def found(
    tag: Tag,
    seat: Annotated[str, typer.Option(help="The seat.")],
    state: Annotated[str, typer.Option(help="present, missing, scrap or cracked.")] = "present",
    part: Annotated[str, typer.Option(help="The part's number, where it is another than the plate says.")] = "",
    note: Annotated[str, typer.Option(help="Anything else.")] = "",
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """Write down what was found in a seat."""
    try:
        cells = {"tag": tag, "seat": seat, "state": state, "note": note}
        if part:
            maker, number = Bench(desk_at(store, demo)).part_named(part)
            cells |= {"part_maker": maker, "part_number": number}
        from graph import publish as writer

        entered = writer.enter_found(
            Folder.open(store_path(store, demo=demo)), cells, author=author or getpass.getuser(), time=now()
        )
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    _told(entered, f"{seat} of core {tag}: {state}", as_json=as_json)


@app.command("show")
def show(tag: Tag, store: Store = None, demo: Demo = False, as_json: Json = False) -> None:
    """A core as taken in and measured, replaced readings included."""
    _answer(lambda bench: bench.record(tag), record_lines, store, demo, as_json)


@app.command("inspect")
def inspect(tag: Tag, store: Store = None, demo: Demo = False, as_json: Json = False) -> None:
    """Reuse, machine, replace or scrap, for every part of the core."""
    _answer(lambda bench: bench.inspect(tag), inspection_lines, store, demo, as_json)


@app.command("settle")
def settle(
    tag: Annotated[str, typer.Option("--tag", help="The core; with --build.")] = "",
    build: Annotated[str, typer.Option(help="The build that is wanted.")] = "",
    unit: Annotated[str, typer.Option(help="Instead of a core: the turbocharger; with --engine.")] = "",
    engine: Annotated[str, typer.Option(help="The engine; default: the build's own.")] = "",
    wish: Annotated[list[str] | None, typer.Option(help="As for plan; may be repeated.")] = None,
    seconds: Annotated[float, typer.Option(min=0.1, help="Give up after so many seconds.")] = 60.0,
    day: Day = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What to measure so that a plan (core and build) or a fit (unit and engine) that is not known becomes known."""
    on = day or date.today().isoformat()
    try:
        bench = Bench(desk_at(store, demo))
        if tag and build:
            answer = bench.settle_plan(tag, build, engine, wishes=tuple(wish or ()), day=on, seconds=seconds)
        elif unit and engine:
            answer = bench.settle_fits(unit, engine, day=on, seconds=seconds)
        else:
            raise BadQuestion("nothing is asked", fix="name a core and a build, or a unit and an engine")
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(answer))
    else:
        say(settle_lines(answer, bench.currency))
    if answer.now.verdict == Verdict.UNKNOWN.value:
        raise typer.Exit(FAULTS)


def learn(
    accept: Annotated[list[str] | None, typer.Option(help="A proposal's name; may be repeated.")] = None,
    author: Author = "",
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """What finished jobs propose for reliabilities and minutes; with --accept, put it on record."""
    try:
        learned = Bench(desk_at(store, demo)).learn()
        if accept:
            from graph import publish as writer

            chosen = [_proposal(learned.proposals, name) for name in accept]
            folder = Folder.open(store_path(store, demo=demo))
            for one in chosen:
                writer.accept(folder, one, author=author or getpass.getuser(), time=now())
                remark(f"accepted: {one.what}: {one.now} becomes {one.proposed}")
            learned = Bench(desk_at(store, demo)).learn()
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(learned))
    else:
        say(learned_lines(learned))


def _proposal(proposals: Sequence[Proposal], name: str) -> Proposal:
    found = next((p for p in proposals if p.name == name), None)
    if found is None:
        listed = ", ".join(p.name for p in proposals) or "none"
        raise NotFound(f"there is no proposal {name!r}", fix=f"proposals: {listed}")
    return found


def _answer(
    ask: Callable[[Bench], T], lines: Callable[[T], list[str]], store: Path | None, demo: bool, as_json: bool
) -> None:
    try:
        answer = ask(Bench(desk_at(store, demo)))
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if as_json:
        say_json(to_json(answer))
    else:
        say(lines(answer))


def _told(entered: "Entered", done: str, *, as_json: bool) -> None:
    """Say what came of a row; faults end with the exit code for them."""
    n = entered.change_set.n if entered.change_set else None
    if as_json:
        say_json({"findings": [to_json(f) for f in entered.findings], "change_set": n})
    else:
        say(finding_lines(entered.findings) if entered.findings else [])
        if not entered.faulty:
            say([f"{done} (change set {n})." if n else f"{done} already; nothing was written."])
    if entered.faulty:
        raise typer.Exit(FAULTS)
