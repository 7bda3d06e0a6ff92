"""`/v1/calc/NAME`: one route for each calculation of the registry."""

import inspect
from typing import Annotated, Any

from fastapi import APIRouter, Body, Query, Response

from api.calc.asking import answer
from api.calc.form import Calculation, CalculationAnswer, Input
from api.calc.registry import CALCULATIONS
from api.documented import PROBLEMS
from graph.errors import NotAcceptable

router = APIRouter(prefix="/v1/calc", tags=["calculations"], responses=PROBLEMS)
SVG = "image/svg+xml"


def _handler(calculation: Calculation, *, posted: bool = False) -> Any:
    def run(**given: Any) -> Any:
        form = given.pop("format", "json")
        if form not in ("json", "svg"):
            raise NotAcceptable(f"a calculation has no form {form!r}", fix="ask for json or svg")
        found = answer(calculation, given)
        return Response(found.result.picture, media_type=SVG) if form == "svg" else found

    inputs = [one for one in calculation.inputs if not (posted and one.kind == "file")]
    parameters = [_parameter(one) for one in inputs]
    if posted:
        (file,) = [one for one in calculation.inputs if one.kind == "file"]
        body = Annotated[str, Body(media_type="text/csv", description=file.label)]
        parameters.append(_keyword(file.name, body, inspect.Parameter.empty))
    if calculation.pictured:
        parameters.append(
            _keyword("format", Annotated[str, Query(description="json, or svg for the picture")], "json")
        )
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    run.__name__ = ("post_" if posted else "") + calculation.name.replace("-", "_")
    run.__doc__ = f"{calculation.title[0].upper()}{calculation.title[1:]}."
    return run


def _parameter(one: Input) -> inspect.Parameter:
    told = one.label + (f" [{one.unit}]" if one.unit else "") + (f"; default: {one.default}" if one.default else "")
    if one.default is None:
        kind: Any = list[str] if one.many else str
        return _keyword(one.name, Annotated[kind, Query(description=told)], inspect.Parameter.empty)
    kind = list[str] | None if one.many else str
    default = None if one.many else ""
    return _keyword(one.name, Annotated[kind, Query(description=told)], default)


def _keyword(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=annotation)


@router.get("")
def calculations() -> dict[str, str]:
    """The calculations by name, each with what it is for."""
    return {name: calculation.title for name, calculation in CALCULATIONS.items()}


for _calculation in CALCULATIONS.values():
    _picture: dict[int | str, dict[str, Any]] = {200: {"content": {SVG: {}}}} if _calculation.pictured else {}
    router.get(f"/{_calculation.name}", response_model=CalculationAnswer, responses=_picture)(_handler(_calculation))
    if any(one.kind == "file" for one in _calculation.inputs):
        router.post(f"/{_calculation.name}", response_model=CalculationAnswer, responses=_picture)(
            _handler(_calculation, posted=True)
        )
