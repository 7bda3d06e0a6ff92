"""The verb that makes route sheets."""

from pathlib import Path
from typing import Annotated, Any

import typer

from api import jsontext
from api.cli.asking import Demo, Json, Store, desk_at, read_bytes
from api.cli.output import FAULTS, fail, remark, say, say_json
from api.site import site_of
from api.text.sheet import sheet_lines
from graph.desk.sheeting import sheet_saved
from graph.errors import BadFile, SpoolwrightError
from graph.model.codec import to_json
from graph.routesheet import refusals


def sheet(
    answer: Annotated[str, typer.Argument(help="A saved answer of `plan --json`; - is standard input.")],
    pdf: Annotated[Path | None, typer.Option(help="Write the sheet as PDF to this file.")] = None,
    plan: Annotated[int, typer.Option(min=1, max=100, help="Which plan of the answer.")] = 1,
    manifold: Annotated[str, typer.Option(help="Manifold pressure, absolute, as the customer says it.")] = "",
    height: Annotated[str, typer.Option(help="Height over sea level where it works.")] = "",
    record: Annotated[
        Path | None,
        typer.Option(help="What was written down, as JSON {field: text}: say what keeps the unit from going out."),
    ] = None,
    store: Store = None,
    demo: Demo = False,
    as_json: Json = False,
) -> None:
    """The route sheet of a saved plan: a page for each part, assembly, records, and what else changes."""
    try:
        made = sheet_saved(
            desk_at(store, demo), read_bytes(answer), plan=plan, site=site_of(manifold=manifold, height=height)
        )
        if pdf:
            from api.paper.sheet import sheet_pdf

            _write(pdf, sheet_pdf(made))
        against = refusals(made, _filled(record)) if record else ()
    except SpoolwrightError as error:
        raise fail(error, as_json=as_json) from error
    if record:
        say_json({"refused": list(against)}) if as_json else say([*against, _released(len(against))])
    elif as_json:
        say_json(to_json(made))
    elif not pdf:
        say(sheet_lines(made))
    if against or made.blocks:
        raise typer.Exit(FAULTS)


def _released(against: int) -> str:
    return f"Not released: {against} things are in the way." if against else "Nothing is blank; it may go out."


def _filled(path: Path) -> dict[str, str]:
    try:
        read: Any = jsontext.read(read_bytes(str(path)), str(path))
    except jsontext.NotJson as error:
        raise BadFile(f"not read: {error}", fix='write {"step-4.after": "62.66 mm", …}') from error
    if not isinstance(read, dict) or not all(isinstance(text, str) for text in read.values()):
        raise BadFile(f"{path} is no object of texts", fix='write {"step-4.after": "62.66 mm", …}')
    return read


def _write(path: Path, content: bytes) -> None:
    try:
        path.write_bytes(content)
    except OSError as error:
        raise BadFile(
            f"{path} cannot be written: {error.strerror}", fix="name a file in a folder that exists"
        ) from error
    remark(f"written: {path}")
