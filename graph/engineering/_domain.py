"""The ranges in which formulas hold: a number outside is refused by name, never passed on."""

from math import isfinite

from graph.errors import OutOfRange


def positive(**numbers: float) -> None:
    """Refuse the first number that is not finite and over zero."""
    for name, number in numbers.items():
        if not (isfinite(number) and number > 0):
            raise OutOfRange(f"{_said(name)} is {number!r}", fix="give a number over zero")


def not_negative(**numbers: float) -> None:
    """Refuse the first number that is not finite and at least zero."""
    for name, number in numbers.items():
        if not (isfinite(number) and number >= 0):
            raise OutOfRange(f"{_said(name)} is {number!r}", fix="give zero or a number over it")


def between(low: float, high: float, **numbers: float) -> None:
    """Refuse the first number that does not lie in [low, high]."""
    for name, number in numbers.items():
        if not low <= number <= high:  # also refuses NaN
            raise OutOfRange(f"{_said(name)} is {number!r}", fix=f"give a number from {low:g} to {high:g}")


def _said(name: str) -> str:
    return name.replace("_", " ")
