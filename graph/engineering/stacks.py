"""Stacks of lengths along one line: the worst case decides, the root of squares only informs."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot
from typing import Final, Literal

from graph.engineering._domain import not_negative
from graph.errors import OutOfRange
from graph.model.verdict import Verdict

DECIDES: Final = "the worst case decides; the root of squares is information only"


@dataclass(frozen=True, slots=True)
class Link:
    """One length of the stack. [mm]; `sign` +1 opens the gap, -1 closes it; `plus`, `minus` are its tolerances."""

    name: str
    nominal: float
    plus: float
    minus: float
    sign: Literal[1, -1] = 1


@dataclass(frozen=True, slots=True)
class Stack:
    """What is left over the whole line. [mm]"""

    nominal: float
    low: float  # worst case
    high: float  # worst case
    rss_low: float  # about the middle of the tolerances, as information
    rss_high: float


def stack(links: Sequence[Link]) -> Stack:
    """The gap (or length) that the links leave.

    Parameters
    ----------
    links : sequence of Link
        Lengths with sign and tolerances. [mm]

    Returns
    -------
    Stack
        Nominal, worst-case limits and root-sum-square limits. [mm]

    Raises
    ------
    OutOfRange
        No link, a length that is not finite or a negative tolerance.

    Notes
    -----
    Root-sum-square takes the deviations as independent and centred, and every tolerance as equally likely to be
    used up. Measured parts of one job are none of that, so it never decides.

    Sources
    -------
    [1] R. G. Budynas, J. K. Nisbett, Shigley's Mechanical Engineering Design, 9th ed., 2011, section 1-14
        and example 1-7 (absolute and statistical tolerance system; from memory).

    Examples
    --------
    The gap w = a - b - c - d of [1], in inches there; any one unit will do throughout.

    >>> a = Link("a", 1.750, 0.003, 0.003)
    >>> b, c = Link("b", 0.750, 0.001, 0.001, -1), Link("c", 0.120, 0.005, 0.005, -1)
    >>> found = stack([a, b, c, Link("d", 0.875, 0.001, 0.001, -1)])
    >>> round(found.nominal, 3), round(found.low, 3), round(found.high, 3), round(found.rss_low, 3)
    (0.005, -0.005, 0.015, -0.001)
    """
    if not links:
        raise OutOfRange("a stack without a length", fix="name at least one link")
    for link in links:
        not_negative(**{f"{link.name}_nominal": link.nominal, f"{link.name}_plus": link.plus})
        not_negative(**{f"{link.name}_minus": link.minus})
        if link.sign not in (1, -1):
            raise OutOfRange(f"the sign of {link.name} is {link.sign!r}", fix="give +1 or -1")
    # Rounded to a millionth of a micrometre: 0.3 - 0.1 is 0.2, not a hair below a limit of 0.2.
    nominal = round(sum(link.sign * link.nominal for link in links), 9)
    low = round(nominal - sum(link.minus if link.sign > 0 else link.plus for link in links), 9)
    high = round(nominal + sum(link.plus if link.sign > 0 else link.minus for link in links), 9)
    middle = (low + high) / 2
    spread = hypot(*((link.plus + link.minus) / 2 for link in links))
    return Stack(nominal, low, high, middle - spread, middle + spread)


def stack_verdict(found: Stack, least: float, most: float) -> Verdict:
    """Whether the stack keeps its limits, by the worst case alone.

    Parameters
    ----------
    found : Stack
        What `stack` gave. [mm]
    least, most : float
        What must be left. [mm]

    Returns
    -------
    Verdict
        Fits when the whole worst case lies inside; does not fit when none of it does; else not known: measure the
        parts. [-]

    Raises
    ------
    OutOfRange
        Limits that are crossed or not finite.

    Sources
    -------
    [1] The project's own rule (docs/semantics.md, section 2): for safety the worst case decides.

    Examples
    --------
    >>> stack_verdict(Stack(0.25, -0.03, 0.53, 0.09, 0.41), 0.0, 1.0).value
    'not known'
    """
    if not least <= most:
        raise OutOfRange(f"at least {least!r} and at most {most!r}", fix="give the smaller limit first")
    if least <= found.low and found.high <= most:
        return Verdict.YES
    if found.high < least or found.low > most:
        return Verdict.NO
    return Verdict.UNKNOWN
