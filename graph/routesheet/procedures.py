"""What is done by hand on every unit: assembly, actuator, coating, honing, installation.

Rule 1: figures are blanks; only what the plan and its evidence know is filled in. The maker's procedure goes first.
Rule 2: a line is taken when the words in a seat's names ask for it; another trade's layout gets its own lines.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from graph.model.routing import Procedure, ProcedureLine
from graph.routesheet.ground import Ground
from graph.rules.spoken import fact_text

PRACTICE: Final = "common practice, no source; the maker's own procedure goes first"


@dataclass(frozen=True, slots=True)
class Line:
    """A line for a seat whose names hold all of `words`; without words for every unit."""

    words: frozenset[str]
    text: str
    blanks: tuple[str, ...] = ()


def _line(words: str, text: str, *blanks: str) -> Line:
    return Line(frozenset(words.split()), text, blanks)


ASSEMBLY: Final = (
    _line("", "Lay out all parts against the list above; new seals, bearings, lock plates and fasteners only."),
    _line("", "Wash, blow out every oil passage, look through it against a light."),
    _line("bearing housing", "Bearing housing in the stand, turbine end up; look through bores and oil holes."),
    _line("journal bearing", "Oil the journal bearings; fit them with their retaining rings as the maker says."),
    _line("turbine ring", "Fit the turbine-end seal ring; its gap in the bore, with a feeler.", "ring gap"),
    _line("shield", "Seat the heat shield; it turns by hand and does not touch the wheel."),
    _line("shaft wheel", "Enter the shaft without forcing the ring; it turns freely.", "free, by"),
    _line("thrust collar", "Fit the thrust collar with its mark as balanced, oiled."),
    _line("thrust bearing", "Fit the thrust bearing, oil holes as marked; the collar turns between its pads."),
    _line("compressor ring", "Fit the compressor-end seal ring; its gap away from the drain.", "ring gap"),
    _line(
        "backplate",
        "Backplate screws crosswise in three rounds, never one after the other round the circle.",
        "maker's torque, rounds 1 / 2 / 3",
    ),
    _line("compressor wheel", "Compressor wheel to its balance mark; heated or pressed only as the maker says."),
    _line(
        "compressor wheel",
        "Shaft nut by the maker's sequence, never by one torque alone: seat, let cool if heated, loosen, snug torque,"
        " then angle. Mind the hand of the thread; hold the shaft at its own hexagon so that it is not bent.",
        "seat",
        "loosened",
        "snug torque",
        "angle",
        "by",
    ),
    _line("shaft wheel", "End play and radial movement with a dial indicator, dry.", "end play", "radial movement"),
    _line("wheel", "Core balance now, before the housings go on. A mark that moved: balance again.", "balanced, by"),
    _line("vane", "Vane ring on its pilot and pin; every vane moves freely, cold and after warming.", "free, by"),
    _line("unison", "Unison ring with all levers in their slots; no play at the ends beyond the maker's.", "play"),
    _line("nozzle", "Sliding nozzle moves freely over its whole travel.", "free, by"),
    _line(
        "turbine housing",
        "Turbine housing at the clocking of the job. Bolts crosswise in three rounds; a band: tighten, tap round,"
        " tighten again.",
        "clocking",
        "maker's torque, rounds 1 / 2 / 3",
    ),
    _line("compressor cover", "Compressor cover at the clocking of the job; screws crosswise in three rounds.",
          "clocking", "maker's torque, rounds 1 / 2 / 3"),
    _line(
        "compressor wheel",
        "Gap all round with the wheel pushed to each side, compressor and turbine end, every 90°.",
        "compressor end, least",
        "turbine end, least",
    ),
    _line("clamp", "Clamps and bands after warming: tighten again by the maker's figure.", "torque"),
    _line("actuator", "Actuator and linkage as its page says.", "by"),
    _line("sensor", "Sensors with new seals, by hand first, to the maker's torque.", "torque"),
    _line("", "Spin by hand: it runs out slowly and touches nowhere. Plug every port.", "by"),
)  # fmt: skip

ACTUATOR: Final = (
    ProcedureLine("Take the maker's setting sheet for this actuator; no figure here stands in for it.", ("sheet",)),
    ProcedureLine("Lever by hand from stop to stop: free over the whole travel.", ("travel",)),
    ProcedureLine("Fit actuator and rod or gear without load at the end stop that the maker names.", ("rod length",)),
    ProcedureLine("Closed end stop: set, read, lock.", ("signal", "position")),
    ProcedureLine("Open end stop: set, read, lock.", ("signal", "position")),
    ProcedureLine("First movement, half and full travel, going up.", ("first", "half", "full")),
    ProcedureLine("The same coming down; the difference is the hysteresis.", ("first", "half", "full")),
    ProcedureLine("Holds its position for one minute; no leak, no fault stored.", ("after 1 min",)),
    ProcedureLine(
        "Seal the stops with paint. Learning or programming on the engine: by the maker's tool.", ("sealed",)
    ),
)

HONING: Final = (
    ProcedureLine("Bore clean, at room temperature; gauge set on a ring near the target.", ("ring", "temperature")),
    ProcedureLine("Hone both bores in one setting so that they stay in line.", ()),
    ProcedureLine("Stop 0.01 mm short, wash, let cool, measure; then finish.", ("size then",)),
    ProcedureLine(
        "Each bore at both ends and 90° apart: size, roundness and taper lie inside the window.",
        ("compressor end 0° / 90°", "turbine end 0° / 90°"),
    ),
    ProcedureLine("Even cross-hatch, no tears; oil holes deburred; every passage washed and blown out.", ("by",)),
)

ELSEWHERE: Final = (ProcedureLine("By the maker's own fitting sheet; priming and first run as it says.", ("by",)),)
"""What goes with a unit that is no turbocharger."""

INSTALLATION: Final = (
    ProcedureLine("Find out why the last one failed, and put that right, before this one goes on."),
    ProcedureLine("Air path, charge pipes and intercooler clean and free of pieces; exhaust free of pieces."),
    ProcedureLine("New oil and filter. Feed line new or washed; restrictor as the maker of the unit says."),
    ProcedureLine("Drain: falling all the way, nowhere narrowed, ending above the oil; crankcase breather free."),
    ProcedureLine("No sealing paste at the oil ports. New gaskets, plugs out of every port."),
    ProcedureLine(
        "Prime: fill the feed port with clean engine oil, turn the shaft by hand, fill again.", ("primed, by",)
    ),
    ProcedureLine(
        "Crank without starting until there is oil pressure; then idle three minutes, no speed, and look for leaks.",
        ("oil pressure", "leaks"),
    ),
    ProcedureLine("After the first warm run: look at clamps, bolts and hoses again, cold.", ("by",)),
    ProcedureLine("Let it idle before switching off after hard work."),
)


def assembly(ground: Ground) -> Procedure:
    """The sequence for the seats that this plan fills; a filled seat that no line speaks of gets one of its own."""
    filled = [seat for seat in ground.seats if ground.choices.get(seat) and ground.choices[seat].part]
    names = {seat: ground.words(seat) for seat in filled}
    out: list[ProcedureLine] = []
    spoken: set[str] = set()
    for line in ASSEMBLY:
        asked = [seat for seat in filled if line.words <= names[seat]]
        if line.words and not asked:
            continue
        spoken.update(asked if line.words else ())
        out.append(ProcedureLine(line.text, line.blanks))
    rest = [seat for seat in filled if seat not in spoken]
    last = out.pop()
    out += [ProcedureLine(f"Fit {_said(ground, seat)} as the maker says.", ("by",)) for seat in rest]
    return Procedure("assembly", "Assembly, in this order", PRACTICE, (*out, last))


def actuators(ground: Ground, seat: str) -> Procedure | None:
    """How the actuator in that seat is set, with what is on record of it and its mates; None for other seats."""
    if "actuator" not in ground.words(seat) or not ground.choices[seat].part:
        return None
    facts = [*_facts(ground, seat)]
    for rule in ground.plan.joints:
        seats = {operand.seat for operand in rule.operands}
        if seat in seats and seats != {seat}:
            facts += [
                (f"{ground.label(o.feature)}, {o.seat.replace('-', ' ')}", o.shown)
                for o in rule.operands
                if o.seat != seat and o.shown
            ]
    return Procedure("actuator", "Actuator calibration", PRACTICE, ACTUATOR, tuple(dict.fromkeys(facts)))


def honing(ground: Ground, operations: Iterable[str]) -> Procedure | None:
    """How bearing bores are honed, when one of these operations does that."""
    for name in operations:
        operation = ground.operations.get(name)
        if operation and "hone" in f"{name} {operation.label} {operation.equipment}".casefold().replace("-", " "):
            return Procedure("honing", "Honing the bearing bores", PRACTICE, HONING)
    return None


def coating(ground: Ground, seat: str, cut: Iterable[str]) -> Procedure:
    """Polishing and coating, when they are ordered, with every face named that must stay bare.

    That is every face cut on this part and every size of it that a rule of the layout holds.
    """
    held = [
        o.feature for rule in ground.plan.joints for o in rule.operands if o.seat == seat and o.quantity == "length"
    ]
    faces = list(dict.fromkeys([*cut, *held]))
    masked = ", ".join(ground.label(name) for name in faces)
    lines = (
        ProcedureLine("Only when ordered: after the last cut, before the last wash.", ("ordered by",)),
        ProcedureLine(f"Mask every machined face: {masked}; and all threads, oil and sensor holes.", ("masked, by",)),
        ProcedureLine(
            "Outside and gas passages only, no contour. Masks off, wash, measure the faces again.", ("by",)
        ),
    )
    return Procedure("coating", "Coating and polishing", PRACTICE, lines)


def installation(ground: Ground) -> Procedure:
    """What goes with the unit to whoever fits it."""
    facts = []
    turbo = any({"turbine", "compressor"} & ground.words(seat) for seat in ground.seats)
    for rule in ground.plan.joints:
        if all(o.seat != "engine" for o in rule.operands):
            continue
        for operand in rule.operands:
            name = f"{operand.seat} {operand.feature} {ground.label(operand.feature)}".casefold()
            if operand.seat != "engine" and operand.shown and any(w in name for w in ("oil", "drain", "coolant")):
                facts.append((f"{ground.label(operand.feature)}, {operand.seat.replace('-', ' ')}", operand.shown))
    lines = INSTALLATION if turbo else ELSEWHERE
    return Procedure("installation", "Fitting and oil priming", PRACTICE, lines, tuple(dict.fromkeys(facts)))


def _facts(ground: Ground, seat: str) -> list[tuple[str, str]]:
    """All that is known of the part in a seat."""
    out = []
    for name, feature in ground.features.items():
        fact = ground.fact(seat, name)
        if fact.alternatives:
            out.append((feature.label, fact_text(fact)))
    return out


def _said(ground: Ground, seat: str) -> str:
    part = ground.parts.get(ground.choices[seat].part)
    return f"the {seat.replace('-', ' ')}" + (f", {part.maker} {part.number}" if part else "")
