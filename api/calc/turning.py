"""Calculations for what turns: trim, tip speed, blade pass, balance."""

from api.calc.form import SAID, Calculation, Figure, Given, Input, Result
from graph.engineering import balance, pitch, rotor
from graph.model.verdict import Caution

SPEED = ("speed", "rpm")


def _trim(given: Given) -> Result:
    found = rotor.trim(given["inducer"], given["exducer"])
    return Result((Figure("trim", "trim", found, "", 1),), assumes=("trim alone is not a size",))


TRIM = Calculation(
    "trim",
    "trim of a wheel",
    (
        Input("inducer", "inducer diameter", unit="mm", first=True),
        Input("exducer", "exducer diameter", unit="mm", first=True),
    ),
    _trim,
    (rotor.trim,),
    'trim "63 mm" "96 mm"',
)


def _tip_speed(given: Given) -> Result:
    found = rotor.speed_check(given["diameter"], given["speed"], given["limit"])
    figures = [
        Figure("tip_speed", "tip speed", found.tip_speed, "m/s", 1),
        Figure(
            "margin", "left of the wheel's own limit", None if found.margin is None else 100 * found.margin, "%", 1
        ),
    ]
    if given["limit"] is not None:
        most = rotor.shaft_speed(given["diameter"], given["limit"])
        figures.append(Figure("highest", "shaft speed at that limit", most, "rev/min", 0))
    return Result(tuple(figures), SAID[found.verdict], cautions=found.cautions)


TIP_SPEED = Calculation(
    "tip-speed",
    "a wheel's tip speed against its own limit",
    (
        Input("diameter", "largest diameter of the wheel", unit="mm", first=True),
        Input("speed", "highest shaft speed, altitude included", "amount", *SPEED, first=True),
        Input("limit", "the wheel maker's limit of tip speed; left out: not known", "amount", "velocity", "m/s", ""),
    ),
    _tip_speed,
    (rotor.speed_check, rotor.tip_speed),
    'tip-speed "96 mm" "100000 rpm" --limit "520 m/s"',
)


def _blade_pass(given: Given) -> Result:
    full, splitters = int(given["blades"]), int(given["splitters"])
    found, once = pitch.blade_pass(full, splitters, given["speed"]), pitch.first_order(given["speed"])
    figures = [
        Figure("full", "full blades", found.full, "Hz", 0),
        Figure("total", "all blades", found.total, "Hz", 0),
        Figure("unbalance", "unbalance (once a turn)", once, "Hz", 0),
    ]
    if given["old_blades"] is not None:
        change = pitch.pitch_change(int(given["old_blades"]), full)
        figures.append(Figure("change", "pitch against the old count", change, "semitone", 1))
    if given["heard"] is not None:
        names = pitch.whistle(given["heard"], given["speed"], full, splitters)
        figures.append(
            Figure("whistle", "the whistle goes with", ", ".join(names) or "none of these: look for a leak")
        )
    return Result(tuple(figures), assumes=("with splitters either count may be heard",))


BLADE_PASS = Calculation(
    "blade-pass",
    "the pitches of blades and of unbalance",
    (
        Input("blades", "full blades", "amount", "count", "", first=True),
        Input("speed", "shaft speed", "amount", *SPEED, first=True),
        Input("splitters", "splitter blades", "amount", "count", "", "0"),
        Input("old_blades", "full blades of the old wheel", "amount", "count", "", ""),
        Input("heard", "frequency of a heard whistle, Hz", "number", default=""),
    ),
    _blade_pass,
    (pitch.blade_pass, pitch.first_order, pitch.pitch_change, pitch.whistle),
    'blade-pass 6 "90000 rpm" --splitters 6',
)

SHOP = Caution(
    "balance",
    "The shop sets its own limit and signs it. Use the maximum service speed, not the balancing machine's; after any"
    " wheel change balance the core again.",
)


def _balance(given: Given) -> Result:
    advice = [(a.grade, a.says) for a in balance.ADVICE]
    if given["grade"] is not None:
        advice = [(given["grade"], "as asked")]
    figures, assumes = [], []
    for grade, says in advice:
        whole = balance.permissible_unbalance(grade, given["mass"], given["speed"])
        figures.append(Figure(f"G{grade:g}", f"G {grade:g}: permissible residual unbalance", whole, "g·mm"))
        assumes.append(f"G {grade:g}: {says}")
        if given["left"] is not None and given["right"] is not None:
            planes = balance.two_planes(whole, given["left"], given["right"])
            figures.append(Figure(f"G{grade:g}_left", f"G {grade:g}: left plane", planes.left, "g·mm"))
            figures.append(Figure(f"G{grade:g}_right", f"G {grade:g}: right plane", planes.right, "g·mm"))
    if given["residual"] is not None:
        reached = balance.achieved_grade(given["residual"], given["mass"], given["speed"])
        figures.append(Figure("reached", "grade that the measured residual amounts to", reached, "mm/s", 2))
    return Result(tuple(figures), assumes=tuple(assumes), cautions=(SHOP,))


BALANCE = Calculation(
    "balance",
    "permissible residual unbalance, both published grades, and its share in two planes",
    (
        Input("mass", "mass of the rotor", "amount", "mass", "kg", first=True),
        Input("speed", "maximum service speed", "amount", *SPEED, first=True),
        Input("grade", "another grade G, mm/s", "number", default=""),
        Input("left", "centre of mass to the left plane", unit="mm", default=""),
        Input("right", "centre of mass to the right plane", unit="mm", default=""),
        Input("residual", "measured residual unbalance", "amount", "unbalance", "g·mm", ""),
    ),
    _balance,
    (balance.permissible_unbalance, balance.two_planes, balance.achieved_grade),
    'balance "0.4 kg" "100000 rpm" --left "30 mm" --right "20 mm"',
)
