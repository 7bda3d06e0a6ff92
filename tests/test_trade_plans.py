"""What the trade knows of plans within a family, on generated families. Common practice, no source, throughout."""

from dataclasses import replace

import pytest
from families import Family, Made, MadeEngine, bundle, evidence, family

from graph.model.plan import Plan, PlanAnswer
from graph.model.record import Part
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan
from graph.swap import fits

SEEDS = range(6)
KEEP_HOUSING = ("keep:turbine_housing",)
STAYS = ("keep:actuator", "keep:bearing_housing", "keep:turbine_housing")


def planned(
    start: Made,
    engine: MadeEngine,
    made: Family,
    *,
    wishes: tuple[str, ...] = KEEP_HOUSING,
    new: tuple[Part, ...] = (),
) -> PlanAnswer:
    """From a core of `start` to the family's largest turbine wheel and a compressor wheel larger than any."""
    wheel = bigger_wheel(made)
    return plan(
        bundle(
            start,
            engine,
            new=(made.large.part("rotor"), wheel, *new),
            demands=(
                ("rotor", "exducer", "at_least", made.exducers[-1]),
                ("wheel", "exducer", "at_least", exducer(wheel)),
            ),
            wishes=wishes,
        )
    )


def bigger_wheel(made: Family) -> Part:
    size = float(str(made.large.facts["wheel"]["exducer"])) + 3
    return replace(made.large.having("wheel", exducer=size).part("wheel"), label="larger wheel")


def exducer(wheel: Part) -> float:
    return next(c.value.amount for c in wheel.claims if c.feature == "exducer") / 10_000_000  # type: ignore[union-attr]


def work(made: Plan) -> set[tuple[str, str]]:
    return {(step.operation, step.seat) for step in made.steps}


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wheel_as_large_as_its_stock_one_needs_no_cut_in_the_turbine_housing(seed: int) -> None:
    made = family(seed)
    answer = planned(made.large, made.engine, made)
    assert (answer.verdict, answer.proof) == (Verdict.WITH_WORK, Proof.CHEAPEST)
    # The cover, the backplate and the balance remain.
    assert work(answer.plans[0]) == {("bore_cover", "cover"), ("open_recess", "backplate"), ("balance", "")}
    assert {c.seat: c.source for c in answer.plans[0].seats}["rotor"] == "kept"


@pytest.mark.parametrize("seed", SEEDS)
def test_its_siblings_need_the_cut(seed: int) -> None:
    made = family(seed)
    for sibling in made.units[:-1]:
        answer = planned(sibling, made.engine, made)
        assert answer.verdict is Verdict.WITH_WORK
        assert ("bore_turbine", "turbine_housing") in work(answer.plans[0])
        assert {c.seat: c.source for c in answer.plans[0].seats}["rotor"] == "new"
        without = planned(sibling, made.engine, made, wishes=(*KEEP_HOUSING, "no-operation:bore_turbine"))
        assert (without.verdict, without.proof, without.plans) == (Verdict.NO, Proof.IMPOSSIBLE, ())


@pytest.mark.parametrize("seed", SEEDS)
def test_without_the_stock_wheel_s_size_the_large_unit_is_not_known(seed: int) -> None:
    made = family(seed)
    blind = made.large.without("rotor", "exducer")
    answer = plan(
        bundle(
            blind,
            made.engine,
            demands=(("rotor", "exducer", "at_least", made.exducers[-1]),),
            wishes=("no-new", *KEEP_HOUSING),
        )
    )
    assert answer.verdict is Verdict.UNKNOWN
    assert ("rotor", "exducer") in {(m.seat, m.feature) for m in answer.open}


@pytest.mark.parametrize("seed", SEEDS)
def test_without_a_limit_on_the_housing_s_bore_the_sibling_is_not_known(seed: int) -> None:
    made = family(seed)
    sibling = made.units[0]
    unlimited = replace(sibling, limits={k: v for k, v in sibling.limits.items() if k[0] != "turbine_housing"})
    answer = planned(unlimited, made.engine, made)
    assert answer.verdict is Verdict.UNKNOWN
    assert "turbine_housing" in {m.seat for m in answer.open}


@pytest.mark.parametrize("seed", SEEDS)
def test_units_of_a_family_interchange_once_machined_to_the_same_wheels(seed: int) -> None:
    made = family(seed)
    for unit in made.units:
        answer = planned(unit, made.engine, made)
        assert answer.verdict is Verdict.WITH_WORK
        # Afterwards every outside joint holds, and both wheels are those of the build.
        assert all(rule.verdict is Verdict.YES for rule in answer.plans[0].joints)


@pytest.mark.parametrize(
    ("seat", "feature", "side"),
    [
        ("actuator", "signal", "signal"),
        ("bearing_housing", "sensor", "sensor"),
        ("bearing_housing", "coolant", "coolant"),
        ("turbine_housing", "outlet_angle", "outlet_angle"),
    ],
)
@pytest.mark.parametrize("seed", range(3))
def test_they_do_not_where_control_sensor_cooling_or_outlet_angle_differ(
    seed: int, seat: str, feature: str, side: str
) -> None:
    made = family(seed)
    swapped = {
        "m14x1.5": "none",
        "flat": "angled",
        "angled": "flat",
        "m8x1": "none",
        "pressure": "vacuum",
        "vacuum": "bus-a",
        "bus-a": "pressure",
    }
    here = str(made.units[0].facts[seat][feature])
    other = swapped.get(here) or ("m14x1.5" if feature == "coolant" else "m8x1")
    odd = made.units[0].having(seat, **{feature: other})
    answer = planned(odd, made.engine, made, wishes=STAYS)
    assert (answer.verdict, answer.proof) == (Verdict.NO, Proof.IMPOSSIBLE)
    # The deciding fact taken away, on either side.
    for start, engine in ((odd.without(seat, feature), made.engine), (odd, made.engine.without(side))):
        open_answer = planned(start, engine, made, wishes=STAYS)
        assert open_answer.verdict is Verdict.UNKNOWN
        assert (seat if start is not odd else "engine", feature) in {(m.seat, m.feature) for m in open_answer.open}


@pytest.mark.parametrize("seed", SEEDS)
def test_fits_with_work_is_said_with_the_plan_that_proves_it(seed: int) -> None:
    made = family(seed)
    tight = made.units[0].having("backplate", recess=40)
    assert fits(evidence(tight, made.engine), plan).verdict is Verdict.UNKNOWN
    asked = evidence(tight, made.engine, mend=bundle(tight, made.engine, wishes=("no-new",)))
    answer = fits(asked, plan)
    assert (answer.as_it_stands, answer.verdict) == (Verdict.NO, Verdict.WITH_WORK)
    assert answer.plan is not None and work(answer.plan) == {("open_recess", "backplate")}
    # A wrong foot is mended by nothing that is on record here.
    odd = made.units[0].having("turbine_housing", foot="eight-stud z")
    refused = fits(
        evidence(odd, made.engine, mend=bundle(odd, made.engine, wishes=("no-new",))),
        plan,
    )
    assert (refused.as_it_stands, refused.verdict) == (Verdict.NO, Verdict.NO)
