"""What else changes against what the engine had: each a range with what it assumes, or not known."""

from dataclasses import dataclass
from typing import Final

from graph.engineering._domain import positive
from graph.engineering.atmosphere import Height, standard_air
from graph.engineering.pitch import pitch_change
from graph.engineering.rotor import AreaRadius, area_radius_ratio
from graph.engineering.wheel import expected_ratio
from graph.model.verdict import Caution

EMISSIONS: Final = Caution(
    "emissions",
    "Another unit than the certified one: check with the engine maker's data, and with whoever enforces emissions law"
    " there, before it is fitted.",
)


@dataclass(frozen=True, slots=True)
class Duty:
    """What a unit's wheels and volute are; None is not known."""

    inducer: float | None = None  # compressor. [mm]
    exducer: float | None = None  # compressor. [mm]
    turbine: float | None = None  # largest diameter of the turbine wheel. [mm]
    full_blades: int | None = None
    splitters: int | None = None
    turbine_ar: AreaRadius | None = None
    tip_limit: float | None = None  # compressor wheel's own limit. [m/s]


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that changes. `low`, `high` None: not known, and `says` what would settle it."""

    what: str
    unit: str
    low: float | None
    high: float | None
    says: str
    assumes: tuple[str, ...] = ()


def flow_change(before: Duty, after: Duty) -> Change:
    """How much more air the new compressor wheel's eye passes, at best.

    Parameters
    ----------
    before, after : Duty
        The units; their inducers are read. [mm]

    Returns
    -------
    Change
        Change of the highest flow, or not known. [%]

    Raises
    ------
    OutOfRange
        A diameter that is not positive.

    Sources
    -------
    [1] Eye areas compared, within a tenth for blades and hub (common practice, no source).

    Examples
    --------
    >>> found = flow_change(Duty(inducer=58.0), Duty(inducer=62.0))
    >>> round(found.low), round(found.high)
    (3, 26)
    """
    if before.inducer is None or after.inducer is None:
        return Change("flow range", "%", None, None, "not known: measure both inducers, or bring both maps")
    positive(inducer_before=before.inducer, inducer_after=after.inducer)
    area = (after.inducer / before.inducer) ** 2
    assumes = ("eye areas alone, within a tenth for blades and hub (common practice, no source)", "no map was read")
    return Change(
        "flow range", "%", 100 * (area * 0.9 - 1), 100 * (area * 1.1 - 1), "highest flow; surge moves too", assumes
    )


def spool_change(before: Duty, after: Duty) -> tuple[Change, ...]:
    """What makes the new unit come in earlier or later: wheel inertia and the turbine's A/R.

    Parameters
    ----------
    before, after : Duty
        The units; exducer, turbine diameter [mm] and A/R [mm] are read.

    Returns
    -------
    tuple of Change
        Inertia of each wheel [%] and A/R [%]; more of either is later.

    Raises
    ------
    OutOfRange
        A size that is not positive.

    Sources
    -------
    [1] Wheels alike in shape and metal: inertia goes with the fifth power of the diameter; within a fifth
        (common practice, no source).

    Examples
    --------
    >>> [change.low is None for change in spool_change(Duty(exducer=80.0), Duty(exducer=88.0))]
    [False, True, True]
    """
    found = [
        _inertia("compressor wheel", before.exducer, after.exducer),
        _inertia("turbine wheel", before.turbine, after.turbine),
    ]
    one, other = before.turbine_ar, after.turbine_ar
    if one is None or other is None or one.convention.casefold() != other.convention.casefold():
        says = "not known: measure both throats in one convention"
        return *found, Change("turbine A/R", "%", None, None, says)
    change = 100 * (area_radius_ratio(other, one) - 1)
    return *found, Change("turbine A/R", "%", change, change, "larger comes in later and flows more freely")


def _inertia(wheel: str, before: float | None, after: float | None) -> Change:
    if before is None or after is None:
        return Change(f"inertia of the {wheel}", "%", None, None, "not known: measure both wheels' largest diameters")
    positive(before=before, after=after)
    ratio = (after / before) ** 5
    assumes = ("wheels alike in shape and metal, within a fifth (common practice, no source)",)
    return Change(
        f"inertia of the {wheel}", "%", 100 * (ratio * 0.8 - 1), 100 * (ratio * 1.2 - 1), "more is later", assumes
    )


def ratio_margin(after: Duty, manifold: float, height: float, kind: Height, temp_in: float | None = None) -> Change:
    """How much pressure ratio the new wheel may have left at the customer's height, below its own speed limit.

    Parameters
    ----------
    after : Duty
        The new unit; its wheel's tip limit is read. [m/s]
    manifold : float
        Absolute pressure that the compressor must deliver. [Pa]
    height : float
        The customer's height. [m]
    kind : str
        `geometric` or `geopotential`. [-]
    temp_in : float or None
        Inlet temperature; None: the standard day's there. [K]

    Returns
    -------
    Change
        Expected ratio at the limit less the ratio asked, or not known. [-]

    Raises
    ------
    OutOfRange
        A number outside its range.
    BadQuestion
        Another kind of height.

    Sources
    -------
    [1] `wheel.expected_ratio` and `atmosphere.standard_air` and theirs.

    Examples
    --------
    >>> ratio_margin(Duty(), 300e3, 1600.0, "geopotential").says
    "not known: ask the wheel's maker for its speed limit"
    """
    if after.tip_limit is None:
        says = "not known: ask the wheel's maker for its speed limit"
        return Change("pressure ratio left at height", "-", None, None, says)
    positive(manifold=manifold)
    air = standard_air(height, kind)
    wanted = manifold / air.pressure
    expected = expected_ratio(after.tip_limit, temp_in or air.temperature)
    return Change(
        "pressure ratio left at height",
        "-",
        expected.low - wanted,
        expected.high - wanted,
        f"{wanted:.2f} is asked at {height:g} m; below zero the wheel would need more than its limit",
        expected.assumes,
    )


def sound_change(before: Duty, after: Duty) -> tuple[Change, ...]:
    """What the new blade counts do to the pitch at the same shaft speed.

    Parameters
    ----------
    before, after : Duty
        The units; blade counts are read. [-]

    Returns
    -------
    tuple of Change
        Pitch of the full blades and of all blades, or not known. [semitone]

    Raises
    ------
    OutOfRange
        A count below one.

    Sources
    -------
    [1] `pitch.pitch_change`.

    Examples
    --------
    >>> found = sound_change(Duty(full_blades=7, splitters=7), Duty(full_blades=6, splitters=6))
    >>> [round(change.low, 1) for change in found]
    [-2.7, -2.7]
    """
    names = ("pitch of the full blades", "pitch of all blades")
    counts = (before.full_blades, before.splitters, after.full_blades, after.splitters)
    old, old_split, new, new_split = counts
    if old is None or old_split is None or new is None or new_split is None:
        return tuple(
            Change(name, "semitone", None, None, "not known: count full blades and splitters") for name in names
        )
    pairs = ((old, new), (old + old_split, new + new_split))
    out = []
    for name, (was, is_now) in zip(names, pairs, strict=True):
        change = pitch_change(was, is_now)
        out.append(Change(name, "semitone", change, change, "lower is easier to hear", ("the same shaft speed",)))
    return tuple(out)


def burst_energy(before: Duty, after: Duty) -> Change:
    """How much more energy a burst of the new compressor wheel would set free, at the same tip speed.

    Parameters
    ----------
    before, after : Duty
        The units; exducers are read. [mm]

    Returns
    -------
    Change
        Change of the wheel's energy, or not known; whether the housing holds it is the maker's to say. [%]

    Raises
    ------
    OutOfRange
        A diameter that is not positive.

    Sources
    -------
    [1] Wheels alike in shape and metal: energy at one tip speed goes with the third power of the diameter.

    Examples
    --------
    >>> round(burst_energy(Duty(exducer=80.0), Duty(exducer=88.0)).high)
    33
    """
    name = "energy of a burst"
    if before.exducer is None or after.exducer is None:
        return Change(name, "%", None, None, "not known: measure both exducers")
    positive(before=before.exducer, after=after.exducer)
    change = 100 * ((after.exducer / before.exducer) ** 3 - 1)
    assumes = ("the same tip speed", "wheels alike in shape and metal")
    return Change(name, "%", change, change, "ask the maker whether the housing holds it", assumes)
