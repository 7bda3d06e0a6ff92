"""`spoolwright calc NAME …`: one command for each calculation of the registry."""

import inspect
from pathlib import Path
from typing import Annotated, Any

import typer

from api.calc.asking import answer
from api.calc.form import SAID, Calculation, Input
from api.calc.registry import CALCULATIONS
from api.calc.text import calculation_lines
from api.cli.asking import read_bytes
from api.cli.output import FAULTS, fail, remark, say, say_json
from graph.errors import BadFile, SpoolwrightError
from graph.model.codec import to_json
from graph.model.verdict import Verdict

app = typer.Typer(
    name="calc",
    help="Shop calculations, each with its source.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
)


def _command(calculation: Calculation) -> Any:
    def run(**given: Any) -> None:
        as_json, svg = given.pop("as_json"), given.pop("svg", None)
        try:
            for one in calculation.inputs:
                if one.kind == "file":
                    given[one.name] = _text(given[one.name])
            found = answer(calculation, given)
            if svg:
                _write(svg, found.result.picture)
        except SpoolwrightError as error:
            raise fail(error, as_json=as_json) from error
        if as_json:
            say_json(to_json(found))
        else:
            say(calculation_lines(found))
        if found.result.verdict in (SAID[Verdict.NO], SAID[Verdict.UNKNOWN]):
            raise typer.Exit(FAULTS)

    parameters = [_parameter(one) for one in sorted(calculation.inputs, key=lambda one: not one.first)]
    if calculation.pictured:
        option = typer.Option("--svg", help="Write the picture to this file.")
        parameters.append(_keyword("svg", Annotated[Path | None, option], None))
    parameters.append(_keyword("as_json", Annotated[bool, typer.Option("--json", help="Print JSON.")], False))
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    run.__doc__ = f"{calculation.title[0].upper()}{calculation.title[1:]}; for instance: {calculation.example}"
    return run


def _parameter(one: Input) -> inspect.Parameter:
    kind: Any = list[str] if one.many else str
    told = one.label + (f" [{one.unit}]" if one.unit else "") + (f"; default: {one.default}" if one.default else "")
    if one.first:
        return _keyword(
            one.name, Annotated[kind, typer.Argument(help=told, show_default=False)], inspect.Parameter.empty
        )
    option = typer.Option("--" + one.name.replace("_", "-"), help=told, show_default=False)
    return _keyword(one.name, Annotated[kind | None, option], None)


def _keyword(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)


def _text(name: str) -> str:
    try:
        return read_bytes(name).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise BadFile(f"{name} is not UTF-8 text", fix="save it as UTF-8") from error


def _write(path: Path, picture: str) -> None:
    try:
        path.write_text(picture, encoding="utf-8")
    except OSError as error:
        raise BadFile(
            f"{path} cannot be written: {error.strerror}", fix="name a file in a folder that exists"
        ) from error
    remark(f"written: {path}")


for _calculation in CALCULATIONS.values():
    app.command(_calculation.name)(_command(_calculation))
