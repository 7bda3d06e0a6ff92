"""What else changes against what the engine left the factory with: ranges with assumptions, or not known."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from graph.engineering import changes, housing, rotor
from graph.engineering.atmosphere import Height
from graph.engineering.changes import Change, Duty
from graph.model.record import Part, Unit
from graph.model.routing import ChangeLine, WhatChanges
from graph.routesheet.ground import Ground
from graph.rules.facts import settle

MM: Final = 10_000_000
MILLI_RPM: Final = 1000
WHEELS: Final = frozenset({"inducer", "exducer", "turbine_inducer"})

Middle = Callable[[str, str], int | None]
"""The one known amount of a feature of what sits in a seat, in quanta."""


@dataclass(frozen=True, slots=True)
class Site:
    """Where the engine works, as the customer says. `manifold` absolute [Pa], `height` [m]; None: not said."""

    manifold: float | None = None
    height: float | None = None
    kind: Height = "geometric"


@dataclass(frozen=True, slots=True)
class Original:
    """A unit that the engine left the factory with, and its parts by key."""

    unit: Unit
    parts: Mapping[str, Part]


def differences(ground: Ground, originals: Sequence[Original], site: Site) -> tuple[WhatChanges, ...]:
    """Against each unit that the engine left the factory with; where none is on record, all is not known."""
    seats = [choice.seat for choice in ground.plan.seats if choice.part]
    ours = duty(seats, ground.middle)
    if not originals:
        lines = _lines(ground, Duty(), ours, site)
        return (WhatChanges("", lines, (changes.EMISSIONS, housing.CONTAINMENT), False),)
    return tuple(_against(ground, one, ours, site) for one in originals)


def _against(ground: Ground, original: Original, ours: Duty, site: Site) -> WhatChanges:
    fitted = dict(original.unit.parts)

    def middle(seat: str, name: str) -> int | None:
        part, feature = original.parts.get(fitted.get(seat, "")), ground.features.get(name)
        if part is None or feature is None:
            return None
        fact = settle(part.claims, feature, subject=part.key)
        if fact.status != "known" or fact.low is None or fact.high is None or len(fact.alternatives) > 1:
            return None
        return (fact.low + fact.high) // 2

    changed = any(step.target is not None or step.to_code for step in ground.plan.steps)
    lasting = {seat: part for seat, part in fitted.items() if not _one_time(ground, original.parts.get(part))}
    same = all(ground.choices[seat].part == part for seat, part in lasting.items() if seat in ground.choices)
    standard = same and not changed and original.unit.layout == ground.bundle.layout.name
    cautions = () if standard else (changes.EMISSIONS, housing.CONTAINMENT)
    name = f"{original.unit.maker} {original.unit.name}"
    return WhatChanges(name, _lines(ground, duty(list(fitted), middle), ours, site), cautions, standard)


def _one_time(ground: Ground, part: Part | None) -> bool:
    return part is not None and part.kind in ground.kinds and ground.kinds[part.kind].one_time


def duty(seats: Sequence[str], middle: Middle) -> Duty:
    """The wheels of a unit, by the features `inducer`, `exducer`, `turbine_inducer`, `blade_count`, `splitters` and
    `speed_limit`; what is not on record, or is there twice, is not known."""

    def one(feature: str, of: Sequence[str]) -> int | None:
        found = [value for seat in of if (value := middle(seat, feature)) is not None]
        return found[0] if len(found) == 1 else None

    def size(feature: str, of: Sequence[str]) -> float | None:
        value = one(feature, of)
        return None if value is None else value / MM

    compressor = [
        seat for seat in seats if middle(seat, "inducer") is not None or middle(seat, "exducer") is not None
    ]
    exducer, limit = size("exducer", compressor), one("speed_limit", compressor)
    return Duty(
        inducer=size("inducer", compressor),
        exducer=exducer,
        turbine=size("turbine_inducer", seats),
        full_blades=one("blade_count", compressor),
        splitters=one("splitters", compressor),
        tip_limit=rotor.tip_speed(exducer, limit / MILLI_RPM) if exducer and limit else None,
    )


def _lines(ground: Ground, before: Duty, after: Duty, site: Site) -> tuple[ChangeLine, ...]:
    """None for a trade whose vocabulary has no wheels."""
    if not WHEELS & ground.features.keys():
        return ()
    found = [
        changes.flow_change(before, after),
        *changes.spool_change(before, after),
        _height(after, site),
        *changes.sound_change(before, after),
        changes.burst_energy(before, after),
    ]
    return tuple(ChangeLine(c.what, c.unit, c.low, c.high, c.says, c.assumes) for c in found)


def _height(after: Duty, site: Site) -> Change:
    what = "pressure ratio left at height"
    if site.manifold is None or site.height is None:
        missing = "not known: say the manifold pressure and the height where it works"
        return Change(what, "-", None, None, missing)
    return changes.ratio_margin(after, site.manifold, site.height, site.kind)
