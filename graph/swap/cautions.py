"""What a person must still check, and with whom; shown with every answer that may lead to fitting something."""

from collections.abc import Iterable, Mapping, Sequence

from graph.model.fits import JointVerdict
from graph.model.record import Kind
from graph.model.said import joined, say
from graph.model.verdict import Caution
from graph.swap.match import DIFFERENT, LARGER, NOT_KNOWN, SAME, SMALLER, Compared

ALWAYS = (
    Caution(
        "control",
        say("Bolting on is not controlling: check boost control and engine protection with the engine maker's data."),
    ),
    Caution(
        "emissions",
        say(
            "Check with the engine maker's data and local emissions law before this is fitted; nothing here says it"
            " is legal."
        ),
    ),
)


def cautions(
    compared: Iterable[Compared], joints: Sequence[JointVerdict], kinds: Iterable[Kind], words: Mapping[str, str]
) -> tuple[Caution, ...]:
    """Control and emissions always; containment, speed, temperature and calibration where the facts call for it."""
    turning = {k.name for k in kinds if k.rotating}
    grown, slower, hotter = [], [], []
    for one in compared:
        feature, which = one.feature, one.line.compared
        if feature is None or which == SAME:
            continue
        name = f"{words.get(one.line.seat, one.line.seat)} {feature.label}".strip()
        said = say(
            "{feature}: {ours} against {original}", feature=name, ours=one.line.ours, original=one.line.original
        )
        open_or = which in (NOT_KNOWN, DIFFERENT)
        if one.kind in turning and feature.type in ("length", "mass") and (which == LARGER or open_or):
            grown.append(said)
        falls_short = feature.better == "larger" and (which == SMALLER or open_or)
        if feature.type in ("speed", "velocity") and falls_short:
            slower.append(said)
        if feature.type == "temperature" and falls_short:
            hotter.append(said)
    out = list(ALWAYS)
    if grown:
        out.append(
            Caution(
                "containment",
                say(
                    "A turning part is larger than original, or not known to be no larger ({features}): whether "
                    "the housing holds a burst is not proved here. Ask the maker.",
                    features=joined("; ", grown),
                ),
            )
        )
    if grown or slower:
        keep = say("Keep below the wheel maker's speed limit, at altitude too; the old limit need not hold.")
        if slower:
            keep = say(
                "Keep below the wheel maker's speed limit, at altitude too;"
                " the old limit need not hold ({features}).",
                features=joined("; ", slower),
            )
        out.append(Caution("speed-limit", keep))
    if hotter:
        out.append(
            Caution(
                "temperature",
                say(
                    "Check the gas temperature against the maker's limit for the material ({features}).",
                    features=joined("; ", hotter),
                ),
            )
        )
    if any(rule.type == "control" for joint in joints for rule in joint.rules):
        out.append(
            Caution(
                "calibration",
                say("The actuator must be set on this unit and this engine: end stops and span, by the maker."),
            )
        )
    return tuple(out)
