"""A calculation's answer in plain lines."""

from api.calc.form import CalculationAnswer, Figure
from api.words import NOT_KNOWN


def said(figure: Figure) -> str:
    """A figure as a person reads it."""
    if figure.value is None:
        return NOT_KNOWN
    if isinstance(figure.value, str):
        return figure.value
    value = f"{figure.value:.{figure.places}f}"
    if "." in value:
        value = value.rstrip("0").rstrip(".")
    return f"{'0' if value == '-0' else value} {figure.unit}".rstrip()


def calculation_lines(answer: CalculationAnswer) -> list[str]:
    """Results first, then verdict, reasons, what is assumed, cautions, and the sources."""
    asked = ", ".join(f"{one.name} {one.read}".rstrip() for one in answer.asked)
    lines = [f"{answer.name}: {answer.title}", f"  asked: {asked}"]
    wide = max((len(figure.label) for figure in answer.result.figures), default=0)
    lines += [f"  {figure.label:<{wide}}  {said(figure)}" for figure in answer.result.figures]
    if answer.result.verdict:
        lines.append(f"  verdict: {answer.result.verdict}")
    lines += [f"  because: {reason}" for reason in answer.result.reasons]
    lines += [f"  assumes: {assumed}" for assumed in answer.result.assumes]
    lines += [f"  check: {caution.text}" for caution in answer.result.cautions]
    return lines + [f"  source: {source}" for source in answer.sources]
