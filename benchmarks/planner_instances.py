"""Seeded plan questions as raw features, and their compilation into a network.

Fourteen seats and thirty-one joints: patterns that must be equal, windows, two stacks of three parts, features
that may be cut to suit (two of them shared by two joints), a cover with two operations, seats that may be empty,
facts that are missing, a speed joint, balance when the rotor changes, and a seal that is used once. Every part,
size and price is drawn by a seeded generator; none is anybody's.

Regimes: `core`: the core's own parts are free, three of them worn. `conv`: a larger wheel is wanted, the rotor's
and covers' own parts are excluded. `market`: no core, prices within 3 %. `scramble`: two features in five are
drawn without regard to the part's family.
"""

from dataclasses import dataclass, field

import numpy as np

from graph.planning.network import FORBIDDEN, Factor, Ints, Network
from graph.planning.tables import FAR, Cutting, barred, cut, distinct, stack, window

REGIMES = ("core", "conv", "market", "scramble")
UNKNOWN = -FAR
STEP = 2_000_000  # 0.2 mm between neighbouring sizes
BALANCE = 9_500

SEATS = (
    "cover", "wheel", "backplate", "housing", "journal", "thrust", "collar", "seal", "shaft", "shield", "turbine",
    "vanes", "actuator", "clamp",
)  # fmt: skip
PRICES = (31_000, 24_000, 9_000, 42_000, 2_500, 3_100, 1_900, 600, 52_000, 2_200, 61_000, 38_000, 27_000, 1_500)
MAY_BE_EMPTY = ("vanes", "actuator")


@dataclass(frozen=True)
class Joint:
    """left - sum of right within [low, high], or equal when `code`. A cut feature stands left (or is `reduce`)."""

    left: tuple[str, str]
    right: tuple[tuple[str, str], ...]
    low: int = 0
    high: int = 0
    code: bool = False


def _w(left: str, right: str, low: int, high: int) -> Joint:
    return Joint(_at(left), (_at(right),), low, high)


def _c(left: str, right: str) -> Joint:
    return Joint(_at(left), (_at(right),), code=True)


def _at(text: str) -> tuple[str, str]:
    seat, feature = text.split(".")
    return seat, feature


GAP = 400_000
JOINTS = (
    _w("cover.contour", "wheel.inducer", GAP, GAP * 3),
    _w("cover.recess", "backplate.rim", 0, GAP),
    _w("backplate.clear", "wheel.exducer", GAP, GAP * 3),
    _w("wheel.bore", "shaft.stub", 0, 150_000),
    _w("backplate.bore", "collar.outside", 100_000, 500_000),
    _c("backplate.pattern", "housing.front"),
    _w("housing.bore", "journal.outside", 500_000, 900_000),
    _w("journal.inside", "shaft.journal", 200_000, 450_000),
    _w("thrust.inside", "collar.neck", 100_000, 400_000),
    _c("thrust.pattern", "backplate.seat"),
    Joint(("backplate", "depth"), (("thrust", "thickness"), ("collar", "flange")), -GAP, GAP),
    _w("collar.inside", "shaft.stub", 0, 200_000),
    _w("housing.sealbore", "seal.outside", 0, GAP),
    _w("housing.sealbore", "shield.neck", -GAP, GAP),
    _w("shaft.groove", "seal.width", 100_000, 500_000),
    _w("turbine.contour", "shaft.tip", GAP, GAP * 3),
    _w("turbine.contour", "vanes.inside", -GAP * 2, GAP * 2),
    Joint(("shaft", "length"), (("wheel", "length"), ("housing", "length")), -GAP, GAP),
    _w("turbine.pilot", "shield.outside", 0, GAP),
    _c("housing.rear", "turbine.front"),
    _w("turbine.pilot", "housing.pilot", 0, GAP),
    _w("turbine.vanebore", "vanes.outside", 0, GAP),
    _c("vanes.lever", "actuator.lever"),
    _c("actuator.bracket", "cover.bracket"),
    _w("clamp.size", "turbine.flange", 0, GAP),
    _w("clamp.size", "housing.flange", 0, GAP),
    _w("shield.hub", "shaft.hub", 200_000, 900_000),
    _w("wheel.speed", "shaft.speed", 0, FAR),
    _w("cover.seat", "clamp.seat", 0, GAP),
)
COARSE = {
    ("cover", "contour"),
    ("wheel", "inducer"),
    ("housing", "sealbore"),
    ("seal", "outside"),
    ("shield", "neck"),
    ("turbine", "contour"),
    ("shaft", "tip"),
    ("vanes", "inside"),
}
"""Features in standard sizes; the others vary by the micrometre."""

STACKED = {at for j in JOINTS if len(j.right) > 1 for at in (j.left, *j.right)}
"""Features of the stacks, known to two hundredths of a millimetre."""

CUTS = {("cover", "contour"): 90_000, ("cover", "recess"): 0, ("backplate", "clear"): 60_000,
        ("housing", "sealbore"): 0, ("turbine", "contour"): 240_000}  # fmt: skip
"""Features that may be widened, with the ms a millimetre takes."""


@dataclass
class Instance:
    """One question: raw features a seat and candidate, prices, limits, and which candidates are excluded."""

    regime: str
    n: int
    seed: int
    values: dict[tuple[str, str], Ints] = field(default_factory=dict)  # UNKNOWN where not known
    limits: dict[tuple[str, str], Ints] = field(default_factory=dict)  # UNKNOWN where not known
    prices: dict[str, Ints] = field(default_factory=dict)
    empty: dict[str, int] = field(default_factory=dict)  # the candidate that is the empty seat
    kept: dict[str, Ints] = field(default_factory=dict)  # 1 for the core's own part
    lots: dict[str, Ints] = field(default_factory=dict)  # candidates of one lot share a number


def instance(regime: str, n: int, seed: int) -> Instance:
    """The question of that seed; the same every time."""
    rng = np.random.default_rng([seed, n, REGIMES.index(regime)])
    made = Instance(regime, n, seed)
    families = 2 if n < 10 else 3 if n < 50 else 6 + n // 100
    core = int(rng.integers(families))
    offsets = _offsets()
    own = regime in ("core", "conv")
    for seat, base in zip(SEATS, PRICES, strict=True):
        family = rng.integers(families, size=n)
        kept = np.zeros(n, dtype=np.int64)
        if own:
            family[0] = core
            kept[0] = 1
        spread = 0.03 if regime == "market" else 0.45
        price = (base * (1 + spread * (2 * rng.random(n) - 1))).astype(np.int64)
        features = sorted({at for j in JOINTS for at in (j.left, *j.right) if at[0] == seat})
        lots = np.arange(n)
        copies = np.flatnonzero(rng.random(n) < 0.08)
        copies = copies[copies > 1]
        lots[copies] = copies - 1
        for at in features:
            value = _sizes(rng, at, offsets[at], family, families, regime)
            value[(rng.random(n) < 0.02) & (kept == 0)] = UNKNOWN
            value[copies] = value[copies - 1]
            made.values[at] = value
            if at in CUTS:
                limit = value + STEP * rng.integers(0, 4, size=n)
                limit[(rng.random(n) < 0.2) | (value == UNKNOWN)] = UNKNOWN
                limit[copies] = limit[copies - 1]
                made.limits[at] = limit
        price[kept > 0] = 0
        if seat in MAY_BE_EMPTY:
            made.empty[seat] = n - 1
            price[n - 1] = 30_000  # what a plain unit without it costs more elsewhere
        made.prices[seat], made.kept[seat], made.lots[seat] = price, kept, lots
    if own:
        for seat in rng.choice([s for s in SEATS if s != "actuator"], size=3, replace=False):
            at = next(at for at in made.values if at[0] == seat and not _is_code(at))
            made.values[at][0] -= 3 * GAP
    if regime == "conv":
        for seat in ("wheel", "shaft", "cover", "backplate"):
            made.prices[seat][0] = FORBIDDEN
        inducer = made.values["wheel", "inducer"]
        made.prices["wheel"][inducer < np.median(inducer)] = FORBIDDEN
    return made


def _sizes(
    rng: np.random.Generator,
    at: tuple[str, str],
    offset: tuple[int, int, int],
    family: Ints,
    families: int,
    regime: str,
) -> Ints:
    """The sizes (or codes) of one feature by the families of its parts."""
    number, shift, parts = offset
    n = len(family)
    drawn = family.copy()
    if regime == "scramble":
        strange = rng.random(n) < 0.4
        drawn[strange] = rng.integers(families, size=int(strange.sum()))
    count = 3 + number % 4
    step = (drawn * (1 + number % 3)) % count
    if _is_code(at):
        return np.asarray(1 + step)
    value = parts * STEP * (100 + 7 * number + step) + shift
    if at in STACKED:
        value = value + 200_000 * rng.integers(-2, 3, size=n)
    elif at not in COARSE:
        value = value + 1000 * rng.integers(-60, 61, size=n)
    return np.asarray(value)


def _offsets() -> dict[tuple[str, str], tuple[int, int, int]]:
    """The size group of each feature, its distance to the group's size, and how many sizes it is long."""
    number: dict[tuple[str, str], int] = {}
    shift: dict[tuple[str, str], int] = {}
    parts: dict[tuple[str, str], int] = {}
    for group, joint in enumerate(JOINTS):
        ends = (joint.left, *joint.right)
        known = next((at for at in ends if at in number), None)
        for at in ends:
            number.setdefault(at, group if known is None else number[known])
        middle = 0 if joint.high >= FAR or len(joint.right) > 1 else (joint.low + joint.high) // 2
        if joint.left in shift:
            shift.setdefault(joint.right[0], shift[joint.left] - middle)
        else:
            shift[joint.left] = shift.setdefault(joint.right[0], 0) + middle
        if len(joint.right) > 1:
            parts[joint.left] = len(joint.right)
    return {at: (n, shift.get(at, 0), parts.get(at, 1)) for at, n in number.items()}


def _is_code(at: tuple[str, str]) -> bool:
    return any(j.code and at in (j.left, *j.right) for j in JOINTS)


def compiled(made: Instance) -> Network:
    """The network of a question, certain: what is not known does not fit.

    A candidate of a seat with m operations stands 2^m times, once for each set of them.
    """
    cuts = {seat: [at for at in CUTS if at[0] == seat] for seat in SEATS}
    place = {seat: v for v, seat in enumerate(SEATS)}
    modes = {seat: 1 << len(cuts[seat]) for seat in SEATS}
    unary, labels = [], []
    for seat in SEATS:
        own = np.repeat(made.prices[seat], modes[seat])
        if seat in made.empty:
            first = made.empty[seat] * modes[seat]
            own[first + 1 : first + modes[seat]] = FORBIDDEN
        unary.append(own)
        labels.append(
            (np.repeat(made.lots[seat], modes[seat]) * modes[seat]) + np.tile(np.arange(modes[seat]), made.n)
        )
    columns = {at: _column(made, at) for at in made.values}
    factors: list[Factor] = []
    for at in CUTS:
        factors.extend(_cut_factors(made, at, columns, place, modes))
    for joint in JOINTS:
        if joint.left in CUTS:
            continue
        operands = [columns[at] for at in (joint.left, *joint.right)]
        ends = [values for values, _ in operands]
        certain = stack(ends[0], ends[0], ends[1:], ends[1:], joint.low, joint.high)[0]
        for axis, values in enumerate(ends):  # distinct and ascending: at most the first is not known
            if values[0] <= UNKNOWN:
                certain[(slice(None),) * axis + (0,)] = False
        for axis, values in enumerate(ends):  # at most the last is an empty seat: the joint does not apply
            if values[-1] >= FAR:
                certain[(slice(None),) * axis + (-1,)] = True
        seats = [at[0] for at in (joint.left, *joint.right)]
        classes = [np.repeat(c, modes[s]) for s, (_, c) in zip(seats, operands, strict=True)]
        factors.append(_factor(seats, classes, barred(certain), place))
    changed = [1 - np.repeat(made.kept[s], modes[s]) for s in ("wheel", "shaft", "seal")]
    balance = np.array([[0, BALANCE], [BALANCE, BALANCE]])
    factors.append(_factor(["wheel", "shaft"], changed[:2], balance, place))
    once = np.array([[0, 0], [FORBIDDEN, 0]])  # a kept seal needs the shaft kept
    factors.append(_factor(["shaft", "seal"], changed[1:], once, place))
    return Network(tuple(unary), tuple(factors), tuple(labels), SEATS)


def _column(made: Instance, at: tuple[str, str]) -> tuple[Ints, Ints]:
    """Distinct values of a feature and the class of each candidate; FAR stands for the empty seat."""
    values = made.values[at]
    if at[0] in made.empty:
        values = values.copy()
        values[made.empty[at[0]]] = FAR
    return distinct(values)


def _factor(seats: list[str], classes: list[Ints], table: Ints, place: dict[str, int]) -> Factor:
    order = sorted(range(len(seats)), key=lambda i: place[seats[i]])
    return Factor(
        tuple(place[seats[i]] for i in order),
        tuple(classes[i] for i in order),
        np.ascontiguousarray(table.transpose(order)),
    )


def _cut_factors(
    made: Instance,
    at: tuple[str, str],
    columns: dict[tuple[str, str], tuple[Ints, Ints]],
    place: dict[str, int],
    modes: dict[str, int],
) -> list[Factor]:
    """The joints of a feature that may be cut: as it is and cut in one factor over all its partners."""
    seat = at[0]
    joints = [j for j in JOINTS if j.left == at]
    bit = [a for a in CUTS if a[0] == seat].index(at)
    values, limits = made.values[at], made.limits[at]
    as_is, as_is_class = columns[at]
    cuttable, cut_class = distinct(np.where(limits == UNKNOWN, UNKNOWN, values * 8 + (limits - values) // STEP))
    size = cuttable // 8
    known = cuttable > UNKNOWN
    spare = np.where(known, (cuttable % 8) * STEP, -FAR)
    count = len(size)
    low = np.where(known, size, 0)
    cutting = Cutting(
        low=low,
        high=low,
        limit=low + spare,
        capability=np.full(count, 20_000),
        setup=np.full(count, 600_000),
        time=np.full(count, 300_000),
        time_per_mm=np.full(count, CUTS[at]),
        rate=np.full(count, 6_000),
    )
    partners = [columns[j.right[0]] for j in joints]
    lows, highs, plain = [], [], []
    for joint, (sizes, _) in zip(joints, partners, strict=True):
        empty, unknown = sizes >= FAR, sizes <= UNKNOWN
        lows.append(np.where(empty, -FAR, np.where(unknown, FAR, sizes + joint.low)))
        highs.append(np.where(empty, FAR, np.where(unknown, -FAR, sizes + joint.high)))
        fits = window(as_is, as_is, sizes, sizes, joint.low, joint.high)[0]
        fits = (fits & (as_is > UNKNOWN)[:, None] & ~unknown) | empty
        plain.append(fits)
    work = cut(cutting, lows, highs).cost
    work[~known] = FORBIDDEN
    together = plain[0] if len(plain) == 1 else plain[0][:, :, None] & plain[1][:, None, :]
    table = np.concatenate([barred(together), work])
    m = modes[seat]
    subset = np.tile(np.arange(m), made.n)
    classes = np.where((subset >> bit) & 1, len(as_is) + np.repeat(cut_class, m), np.repeat(as_is_class, m))
    seats = [seat, *(j.right[0][0] for j in joints)]
    others = [np.repeat(c, modes[j.right[0][0]]) for j, (_, c) in zip(joints, partners, strict=True)]
    return [_factor(seats, [classes, *others], table, place)]
