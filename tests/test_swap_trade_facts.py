"""What the trade knows of swaps, on generated families. Common practice, no source, throughout."""

from dataclasses import replace
from fractions import Fraction

import families
import pytest
from families import CONTROLLED, LAYOUTS, NAMES, Family, Made, MadeEngine, evidence, family

from graph.model.bundle import Bundle
from graph.model.fits import FitsAnswer, FitsEvidence
from graph.model.plan import PlanAnswer
from graph.model.record import Rule
from graph.model.verdict import MatchLine, Verdict
from graph.swap import fits

SEEDS = range(12)


def never(_: Bundle) -> PlanAnswer:
    raise AssertionError("nothing was to be mended here")


def ask(of: FitsEvidence) -> FitsAnswer:
    return fits(of, never)


def bolt_on(unit: Made, engine: MadeEngine, **more: object) -> FitsAnswer:
    return ask(evidence(unit, engine, **more))  # type: ignore[arg-type]


def named(answer: FitsAnswer) -> set[tuple[str, str]]:
    return {(m.seat, m.feature) for m in answer.open}


def joint(answer: FitsAnswer, name: str) -> Verdict:
    return next(j.verdict for j in answer.joints if j.joint == name)


def line(answer: FitsAnswer, seat: str, feature: str) -> MatchLine:
    return next(m for m in answer.match if (m.seat, m.feature) == (seat, feature))


def is_not_known(answer: FitsAnswer, seat: str, feature: str) -> None:
    assert answer.verdict is Verdict.UNKNOWN
    assert named(answer) == {(seat, feature)}
    assert all(m.measure for m in answer.open)
    assert answer.open[0].measure in answer.sentence


@pytest.mark.parametrize("layout", NAMES)
@pytest.mark.parametrize("seed", SEEDS)
def test_every_unit_goes_onto_its_own_family_s_engine(seed: int, layout: str) -> None:
    made = family(seed, layout)
    for unit in made.units:
        answer = bolt_on(unit, made.engine, originals=[unit])
        assert answer.verdict is answer.as_it_stands is Verdict.YES, answer.sentence
        assert not answer.open
        assert {m.compared for m in answer.match if m.feature not in ("flow", "vibration")} == {"same"}
        assert {"control", "emissions", "calibration"} == {c.code for c in answer.cautions}


@pytest.mark.parametrize("layout", NAMES)
@pytest.mark.parametrize("seed", range(3))
def test_any_one_deciding_fact_less_is_not_known_and_named(seed: int, layout: str) -> None:
    made = family(seed, layout)
    unit = made.units[0]
    operands = sorted({o for rule in LAYOUTS[layout].rules for o in rule.operands})
    assert len(operands) > 25
    for seat, feature in operands:
        if seat == "engine":
            answer = bolt_on(unit, made.engine.without(feature))
        else:
            answer = bolt_on(unit.without(seat, feature), made.engine)
        is_not_known(answer, seat, feature)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_angled_outlet_does_not_go_onto_a_flat_side(seed: int) -> None:
    made = family(seed)
    unit, engine = made.units[0].having("turbine_housing", outlet_angle="angled"), made.engine
    flat = engine.having(outlet_angle="flat")
    unmended = bolt_on(unit, flat)
    assert unmended.as_it_stands is joint(unmended, "outlet") is Verdict.NO
    assert unmended.verdict is Verdict.UNKNOWN  # whether work mends it was not asked
    assert bolt_on(unit, engine.having(outlet_angle="angled")).verdict is Verdict.YES
    is_not_known(bolt_on(unit.without("turbine_housing", "outlet_angle"), flat), "turbine_housing", "outlet_angle")
    is_not_known(bolt_on(unit, flat.without("outlet_angle")), "engine", "outlet_angle")


@pytest.mark.parametrize("seed", SEEDS)
def test_a_flat_outlet_on_an_angled_side_is_another_question(seed: int) -> None:
    made = family(seed)
    unit = made.units[0].having("turbine_housing", outlet_angle="flat")
    angled = made.engine.having(outlet_angle="angled")
    assert bolt_on(unit, angled).as_it_stands is Verdict.NO
    # A shop that has a wedge for flat outlets says so in one row, and only that direction opens.
    layouts = {name: with_wedge(name) for name in NAMES}
    accepted = (*families.ACCEPTED, ("wedge", (("flat", "flat"), ("angled", "angled"), ("flat", "angled"))))
    assert ask(evidence(unit, angled, layouts=layouts, accepted=accepted)).verdict is Verdict.YES
    other_way = evidence(
        unit.having("turbine_housing", outlet_angle="angled"),
        made.engine.having(outlet_angle="flat"),
        layouts=layouts,
        accepted=accepted,
    )
    assert ask(other_way).as_it_stands is Verdict.NO
    is_not_known(
        ask(evidence(unit.without("turbine_housing", "outlet_angle"), angled, layouts=layouts, accepted=accepted)),
        "turbine_housing",
        "outlet_angle",
    )


def with_wedge(name: str) -> families.Layout:
    def wedged(rule: Rule) -> Rule:
        return replace(rule, type="accepted", set="wedge") if rule.left[1] == "outlet_angle" else rule

    return replace(LAYOUTS[name], rules=tuple(wedged(r) for r in LAYOUTS[name].rules))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_unit_of_another_year_bolts_on_and_is_larger_than_original(seed: int) -> None:
    made = family(seed)
    small, large = made.units[0], made.large
    answer = bolt_on(large, made.engine, originals=[small])
    assert answer.verdict is Verdict.YES
    assert line(answer, "rotor", "exducer").compared == line(answer, "wheel", "exducer").compared == "larger"
    assert {"containment", "speed-limit", "emissions", "control"} <= {c.code for c in answer.cautions}
    assert "larger than original" in answer.sentence
    # The larger wheel's speed limit is the lower one here, and a feature that is no limit is kept out of the caution.
    (speed,) = [c.text for c in answer.cautions if c.code == "speed-limit"]
    assert "wheel speed limit" in speed and "vibration" not in speed
    # The other direction is another answer.
    back = bolt_on(small, made.engine, originals=[large])
    assert back.verdict is Verdict.YES
    assert line(back, "rotor", "exducer").compared == line(back, "wheel", "exducer").compared == "smaller"
    assert "containment" not in {c.code for c in back.cautions}


@pytest.mark.parametrize("seed", SEEDS)
def test_without_the_original_s_wheel_size_larger_is_not_known(seed: int) -> None:
    made = family(seed)
    answer = bolt_on(made.large, made.engine, originals=[made.units[0].without("rotor", "exducer")])
    assert answer.verdict is Verdict.YES  # the original's wheel decides no joint of this unit
    assert line(answer, "rotor", "exducer").compared == "not known"
    assert "containment" in {c.code for c in answer.cautions}
    assert "not known: rotor exducer" in answer.sentence
    nothing = bolt_on(made.large, made.engine)
    assert {m.compared for m in nothing.match} == {"not known"}
    is_not_known(bolt_on(made.large.without("rotor", "exducer"), made.engine), "rotor", "exducer")


@pytest.mark.parametrize("seed", SEEDS)
def test_blade_count_decides_no_joint_and_shifts_the_passing_frequency_in_its_ratio(seed: int) -> None:
    made = family(seed)
    old = made.units[0].having("wheel", blades=7)
    new = old.having("wheel", blades=6)
    before, after = (bolt_on(unit, made.engine, originals=[old]) for unit in (old, new))
    assert [(j.joint, j.verdict) for j in before.joints] == [(j.joint, j.verdict) for j in after.joints]
    assert after.verdict is Verdict.YES
    assert line(after, "wheel", "blades") == MatchLine("wheel", "blades", "smaller", "6", "7")
    # Blades times shaft speed: at one speed the frequencies stand as the counts do.
    ratio = Fraction(6 * 90_000, 60) / Fraction(7 * 90_000, 60)
    assert any(f"ratio {ratio.numerator}:{ratio.denominator}" in note for note in after.notes)
    assert not any("ratio" in note for note in before.notes)
    for feature in ("flow", "vibration"):
        assert line(after, "", feature).compared == "not known"
    # The shaft that carries the wheel does decide.
    assert bolt_on(new.having("rotor", nose=3.0), made.engine).as_it_stands is Verdict.NO
    is_not_known(bolt_on(new.without("rotor", "nose"), made.engine), "rotor", "nose")
    uncounted = bolt_on(new.without("wheel", "blades"), made.engine, originals=[old])
    assert uncounted.verdict is Verdict.YES
    assert line(uncounted, "wheel", "blades").compared == "not known"


@pytest.mark.parametrize("seed", SEEDS)
def test_an_uncooled_housing_does_not_replace_a_cooled_one_where_coolant_is_used(seed: int) -> None:
    made = family(seed)
    cooled, uncooled = (made.units[0].having("bearing_housing", coolant=c) for c in ("m14x1.5", "none"))
    supplied, dry = (made.engine.having(coolant=c) for c in ("m14x1.5", "none"))
    assert bolt_on(cooled, supplied).verdict is Verdict.YES
    assert bolt_on(uncooled, dry).verdict is Verdict.YES
    refused = bolt_on(uncooled, supplied)
    assert refused.as_it_stands is joint(refused, "coolant") is Verdict.NO
    assert joint(bolt_on(cooled, dry), "coolant") is Verdict.NO  # the other direction: no coolant is supplied
    is_not_known(bolt_on(uncooled.without("bearing_housing", "coolant"), supplied), "bearing_housing", "coolant")
    is_not_known(bolt_on(uncooled, supplied.without("coolant")), "engine", "coolant")
    # As a part question: the uncooled housing in the cooled unit's seat.
    part = uncooled.part("bearing_housing")
    asked = ask(evidence(cooled, supplied, seat="bearing_housing", part=part))
    assert asked.as_it_stands is Verdict.NO
    assert {j.joint for j in asked.joints} == {"coolant", "oil", "sensor", "journal"}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_nozzle_ring_and_a_vane_ring_never_replace_each_other(seed: int) -> None:
    vane, nozzle = family(seed, "swing-vane"), family(seed + 100, "sliding-nozzle")
    assert ring_into(vane, "vane_ring", nozzle.units[0].part("nozzle_ring")).verdict is Verdict.NO
    assert ring_into(nozzle, "nozzle_ring", vane.units[0].part("vane_ring")).verdict is Verdict.NO
    # Even with the very sizes of the ring it would replace.
    alike = replace(vane.units[0].part("vane_ring"), key="part/Quenby/ring", kind="nozzle_ring")
    assert ring_into(vane, "vane_ring", alike).verdict is Verdict.NO
    assert ring_into(vane, "vane_ring", replace(alike, kind="vane_ring")).verdict is Verdict.YES
    unknown = ring_into(vane, "vane_ring", replace(alike, kind=""))
    is_not_known(unknown, "vane_ring", "kind of part")


def ring_into(made: Family, seat: str, part: families.Part) -> FitsAnswer:
    return ask(evidence(made.units[0], made.engine, seat=seat, part=part))


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wastegated_and_a_vane_unit_differ_in_layout_and_in_what_controls_them(seed: int) -> None:
    gated, vane = family(seed, "wastegate"), family(seed, "swing-vane")
    unit = like(vane.units[0], gated.units[0])
    assert bolt_on(unit, vane.engine).verdict is Verdict.YES
    here = bolt_on(unit, gated.engine, originals=[gated.units[0]])
    assert [j.joint for j in here.joints if j.verdict is Verdict.NO] == ["control"]
    assert line(here, "", "layout") == MatchLine("", "layout", "different", "swing-vane", "wastegate")
    assert {s.name for s in LAYOUTS["swing-vane"].seats} ^ {s.name for s in LAYOUTS["wastegate"].seats} == {
        "vane_ring",
        "unison_ring",
        "wastegate",
    }
    other = like(gated.units[0], vane.units[0])
    back = bolt_on(other, replace(vane.engine, facts={**gated.engine.facts, "signal": ("bus-a", "vacuum")}))
    assert [j.joint for j in back.joints if j.verdict is Verdict.NO] == ["control"]
    both = gated.engine.having(signal=("bus-a", CONTROLLED["wastegate"]))
    assert bolt_on(unit, both).verdict is bolt_on(other, both).verdict is Verdict.YES
    is_not_known(bolt_on(unit, gated.engine.without("signal")), "engine", "signal")
    is_not_known(bolt_on(unit.without("actuator", "signal"), gated.engine), "actuator", "signal")


def like(unit: Made, outside: Made) -> Made:
    """The unit with the other's outside, apart from what controls it."""
    hot = {k: outside.facts["turbine_housing"][k] for k in ("foot", "outlet", "outlet_angle")}
    centre = {k: outside.facts["bearing_housing"][k] for k in ("coolant", "oil_feed", "sensor")}
    envelope = outside.facts["cover"]["envelope"]
    return (
        unit.having("turbine_housing", **hot).having("bearing_housing", **centre).having("cover", envelope=envelope)
    )


@pytest.mark.parametrize(
    ("seat", "feature", "side", "other"),
    [
        ("actuator", "signal", "signal", ("vacuum",)),
        ("bearing_housing", "sensor", "sensor", "m9x1"),
        ("bearing_housing", "coolant", "coolant", None),
        ("turbine_housing", "outlet_angle", "outlet_angle", None),
    ],
)
@pytest.mark.parametrize("seed", SEEDS)
def test_control_sensor_cooling_and_outlet_angle_each_keep_a_unit_off(
    seed: int, seat: str, feature: str, side: str, other: object
) -> None:
    made = family(seed, "wastegate")
    unit = made.units[1]
    swapped = {"m14x1.5": "none", "none": "m14x1.5", "flat": "angled", "angled": "flat"}
    here = made.engine.facts[side]
    engine = made.engine.having(**{side: other or swapped[str(here)]})
    answer = bolt_on(unit, engine)
    assert answer.as_it_stands is Verdict.NO
    assert [
        (o.seat, o.feature) for j in answer.joints for r in j.rules if r.verdict is Verdict.NO for o in r.operands
    ] == [
        (seat, feature),
        ("engine", side),
    ]
