"""Reading a calculation's inputs and answering it; all faults in the inputs are told at once."""

import inspect
import re
from collections.abc import Callable, Mapping
from typing import Any

from api.calc.form import Asked, Calculation, CalculationAnswer, Input, Result
from graph.errors import BadQuestion, SpoolwrightError
from ontology.quantities import read_measure, read_number, shown, unit_of

LONGEST = 1_000_000
"""Characters of one input; a compressor map is some ten thousand."""

Texts = Mapping[str, str | list[str] | None]


def answer(calculation: Calculation, texts: Texts) -> CalculationAnswer:
    """The calculation's answer to inputs as a person wrote them.

    Raises
    ------
    BadQuestion
        Inputs that are missing, unknown or unreadable; all are named.
    SpoolwrightError
        What the formulas refuse.
    """
    known = {one.name for one in calculation.inputs}
    faults = [f"{name}: {calculation.name} does not ask this" for name in texts if name not in known]
    given: dict[str, Any] = {}
    asked: list[Asked] = []
    for one in calculation.inputs:
        text = texts.get(one.name)
        written = [part for part in (text if isinstance(text, list) else [text]) if part is not None and part.strip()]
        if not written and one.default:
            written = [one.default]
        if not written:
            given[one.name] = () if one.many else None
            if one.default is None:
                faults.append(f"{one.name} is missing: {one.label}")
            continue
        if len(written) > 1 and not one.many:
            faults.append(f"{one.name} is given {len(written)} times")
            continue
        try:
            read = [_read(one, part) for part in written]
        except SpoolwrightError as error:
            faults.append(f"{one.name}: {error.message} ({error.fix})")
            continue
        given[one.name] = tuple(value for value, _ in read) if one.many else read[0][0]
        asked += [Asked(one.name, part, said) for part, (_, said) in zip(written, read, strict=True)]
    if faults:
        raise BadQuestion("; ".join(faults), fix=f"for instance: spoolwright calc {calculation.example}")
    result: Result = calculation.run(given)
    formulas = calculation.chosen(given) if calculation.chosen else calculation.formulas
    sources = tuple(dict.fromkeys(line for formula in formulas for line in source_lines(formula)))
    return CalculationAnswer(calculation.name, calculation.title, tuple(asked), result, sources)


def source_lines(formula: Callable[..., Any]) -> list[str]:
    """What stands under `Sources` in a formula's docstring, a line a source."""
    found = re.search(r"^Sources\n-+\n(.*?)(?:\n\n|\Z)", inspect.getdoc(formula) or "", re.MULTILINE | re.DOTALL)
    text = " ".join(found[1].split()) if found else ""
    return [part.strip() for part in re.split(r"\[\d+\] ", text) if part.strip()]


def length(text: str) -> float:
    """A length within a longer input. [mm]"""
    return _read(Input("", "", unit="mm"), text)[0]  # type: ignore[no-any-return]


def _read(one: Input, text: str) -> tuple[Any, str]:
    if len(text) > LONGEST or (one.kind != "file" and len(text) > 200):
        raise BadQuestion(f"{len(text)} characters", fix="write one value")
    if one.kind == "amount":
        reading = read_measure(text, one.quantity, one.unit)
        unit = unit_of(one.unit, one.quantity)
        return float((reading.amount - unit.offset) / unit.scale), shown(reading.amount, one.quantity, one.unit)
    if one.kind == "number":
        number = float(read_number(text))
        return number, f"{number:g}"
    return (text, "") if one.kind == "file" else (text.strip(), text.strip())
