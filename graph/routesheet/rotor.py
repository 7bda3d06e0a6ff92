"""The rotor on the sheet: permissible unbalance by both published grades, speeds against each part's own limit."""

from dataclasses import dataclass
from typing import Final

from graph.engineering import balance, housing
from graph.model.routing import BalanceRow, BalanceTarget, SheetBlock
from graph.routesheet.ground import Ground
from graph.rules.spoken import number

NANOGRAM: Final = 1e12  # in one kilogram
MILLI_RPM: Final = 1000  # in one rev/min
MICRO: Final = 1_000_000  # µg·mm in one g·mm
PLANES: Final = (
    "In two planes, shared by where the centre of mass lies between them; one plane takes 0.3 to 0.7 of the whole."
)
WHEELS: Final = frozenset({"wheel", "impeller", "rotor"})
UNKNOWN: Final = "Not known: take the maker's figure and write it down."


@dataclass(frozen=True, slots=True)
class Running:
    """How fast a part is to run and may run; None: not known. [0.001 rev/min]"""

    asked: int | None
    limit: int | None
    blocked: bool


def running(ground: Ground, seat: str) -> Running:
    """Highest speed that the engine asks of a part, and the part's own limit, from the rules that compare them.

    A speed limit of the part without such a rule is held against the fastest that any rule of the plan names.
    """
    asked = limit = None
    for rule in ground.plan.joints:
        speeds = [o for o in rule.operands if o.quantity == "speed" and o.status in ("known", "disputed")]
        here = [o for o in speeds if o.seat == seat]
        there = [o for o in speeds if o.seat == "engine" and o.high is not None]
        if here and there:
            asked = max([asked or 0, *(o.high or 0 for o in there)])
            lows = [o.low for o in here if o.low is not None]
            limit = min([*lows, *([limit] if limit is not None else [])], default=limit)
    if asked is None:
        every = [
            o.high for r in ground.plan.joints for o in r.operands if o.seat == "engine" and o.quantity == "speed"
        ]
        asked = max((high for high in every if high is not None), default=None)
    for feature in ground.features.values():
        if limit is None and feature.type == "speed":
            fact = ground.fact(seat, feature.name)
            limit = fact.low if fact.settles else None
    return Running(asked, limit, asked is not None and limit is not None and asked > limit)


def mass_of(ground: Ground, seat: str) -> int | None:
    """The part's mass, where exactly one is known. [ng]"""
    masses = [ground.middle(seat, f.name) for f in ground.features.values() if f.type == "mass"]
    known = [mass for mass in masses if mass is not None]
    return known[0] if len(known) == 1 else None


def target(what: str, mass: int | None, speed: int | None) -> BalanceTarget:
    """What each published grade permits; without mass and speed nothing."""
    rows = tuple(
        BalanceRow(
            advice.grade,
            round(balance.permissible_unbalance(advice.grade, mass / NANOGRAM, speed / MILLI_RPM) * MICRO)
            if mass and speed
            else None,
            advice.says,
        )
        for advice in balance.ADVICE
    )
    missing = " and ".join(name for name, value in (("mass", mass), ("highest speed", speed)) if not value)
    note = f"{UNKNOWN} (No {missing} on record.) {PLANES}" if missing else f"The maker's figure goes first. {PLANES}"
    return BalanceTarget(what, mass, speed, rows, note)


def part_target(ground: Ground, seat: str) -> BalanceTarget:
    """The target of one rotating part by itself."""
    return target(_named(ground, seat), mass_of(ground, seat), running(ground, seat).asked)


def core_target(ground: Ground) -> BalanceTarget | None:
    """The target of the whole rotor; None where nothing rotates."""
    turning = [seat for seat in ground.seats if seat in ground.choices and ground.rotates(seat)]
    if not turning:
        return None
    masses = [(mass_of(ground, seat), ground.choices[seat].quantity) for seat in turning]
    known = [mass * pieces for mass, pieces in masses if mass is not None]
    speeds = [speed for speed in (running(ground, seat).asked for seat in turning) if speed is not None]
    return target("the whole rotor", sum(known) if len(known) == len(masses) else None, max(speeds, default=None))


def balanced(ground: Ground) -> tuple[str, ...]:
    """The seats whose part is balanced by itself: wheels; where nothing that turns is called one, all that turns."""
    turning = tuple(seat for seat in ground.seats if seat in ground.choices and ground.rotates(seat))
    return tuple(seat for seat in turning if ground.words(seat) & WHEELS) or turning


def blocks(ground: Ground) -> tuple[SheetBlock, ...]:
    """Rotating parts that are cracked or would run above their own limit: nobody lifts these."""
    out = []
    for seat in ground.seats:
        if seat not in ground.choices or not ground.rotates(seat):
            continue
        found = ground.found(ground.choices[seat])
        if found is not None and found.state == "cracked":
            out.append(SheetBlock(housing.CRACKED.code, f"{_named(ground, seat)}: {housing.CRACKED.text}"))
        speed = running(ground, seat)
        if speed.blocked and speed.asked is not None and speed.limit is not None:
            said = f"{number(speed.asked, 'speed')} asked, limit {number(speed.limit, 'speed')}"
            text = f"{_named(ground, seat)}: {said}. {housing.OVER_LIMIT.text}"
            out.append(SheetBlock(housing.OVER_LIMIT.code, text))
    return tuple(out)


def _named(ground: Ground, seat: str) -> str:
    part = ground.parts.get(ground.choices[seat].part)
    return part.label or f"{part.maker} {part.number}" if part else seat
