"""The pitches a rotor sings at: once a turn for unbalance, once a blade for the wheel."""

from dataclasses import dataclass
from math import isclose, log2

from graph.engineering._domain import between, positive


def first_order(speed: float) -> float:
    """Frequency of one pulse a turn: what unbalance is heard at.

    Parameters
    ----------
    speed : float
        Shaft speed. [rev/min]

    Returns
    -------
    float
        Frequency; plain revolutions a second, not radians. [Hz]

    Raises
    ------
    OutOfRange
        A speed that is not positive.

    Sources
    -------
    [1] H. Nguyen-Schäfer, Rotordynamics of Automotive Turbochargers, ch. 8 (seen as an excerpt: unbalance whistle
        at the shaft's own frequency).

    Examples
    --------
    >>> first_order(90_000.0)
    1500.0
    """
    positive(speed=speed)
    return speed / 60


@dataclass(frozen=True, slots=True)
class BladePass:
    """The pitches of the blades passing. [Hz]; without splitters both are one."""

    full: float  # of the full blades
    total: float  # of full blades and splitters


def blade_pass(full_blades: int, splitters: int, speed: float) -> BladePass:
    """Blade-pass frequency for the full blades and for all blades.

    Parameters
    ----------
    full_blades, splitters : int
        Counts; no splitters is 0. [-]
    speed : float
        Shaft speed. [rev/min]

    Returns
    -------
    BladePass
        Both frequencies: with splitters either may be heard. [Hz]

    Raises
    ------
    OutOfRange
        No full blade, a negative count, a speed that is not positive.

    Sources
    -------
    [1] Definition, f = zN/60; no published worked example was found.

    Examples
    --------
    >>> blade_pass(7, 0, 90_000.0).full, blade_pass(6, 6, 90_000.0)
    (10500.0, BladePass(full=9000.0, total=18000.0))
    """
    between(1, 100, full_blades=full_blades)
    between(0, 100, splitters=splitters)
    turns = first_order(speed)
    return BladePass(full_blades * turns, (full_blades + splitters) * turns)


def pitch_change(old_blades: int, new_blades: int) -> float:
    """What another blade count does to the pitch at the same speed.

    Parameters
    ----------
    old_blades, new_blades : int
        Counts, compared alike (full with full, total with total). [-]

    Returns
    -------
    float
        Change of pitch, 12 to the octave; negative is lower, where hearing is better. [semitone]

    Raises
    ------
    OutOfRange
        A count below one.

    Sources
    -------
    [1] Definition of the equal-tempered semitone, 12·log2(new/old).

    Examples
    --------
    >>> round(pitch_change(7, 6), 2), pitch_change(6, 12)
    (-2.67, 12.0)
    """
    between(1, 200, old_blades=old_blades, new_blades=new_blades)
    return 12 * log2(new_blades / old_blades)


def whistle(heard: float, speed: float, full_blades: int, splitters: int, slack: float = 0.05) -> tuple[str, ...]:
    """Which of the rotor's pitches a heard whistle goes with.

    Parameters
    ----------
    heard : float
        Frequency that was recorded. [Hz]
    speed : float
        Shaft speed at that moment. [rev/min]
    full_blades, splitters : int
        Counts of the wheel. [-]
    slack : float
        Relative error of the recording and of the speed together. [-]

    Returns
    -------
    tuple of str
        Those of `unbalance (1x)`, `full blades`, `all blades` within the slack; none: look for a leak. [-]

    Raises
    ------
    OutOfRange
        A number that is not positive, or a slack above 0.2.

    Sources
    -------
    [1] H. Nguyen-Schäfer, Rotordynamics of Automotive Turbochargers, ch. 8 (seen as an excerpt).

    Examples
    --------
    >>> whistle(1480.0, 90_000.0, 6, 6), whistle(9100.0, 90_000.0, 6, 6), whistle(4000.0, 90_000.0, 6, 6)
    (('unbalance (1x)',), ('full blades',), ())
    """
    positive(heard=heard)
    between(0, 0.2, slack=slack)
    blades = blade_pass(full_blades, splitters, speed)
    pitches = {"unbalance (1x)": first_order(speed), "full blades": blades.full}
    if splitters:
        pitches["all blades"] = blades.total
    return tuple(name for name, pitch in pitches.items() if isclose(heard, pitch, rel_tol=slack))
