"""Stand-ins on the pick list: asserted before derived, none that is refuted, none across a demand or wish."""

from dataclasses import replace

import pytest

from demo_graph.tours import DAY
from graph.desk import Desk
from graph.desk.stand_ins import stand_ins
from graph.model.bundle import Bundle
from graph.model.picking import PickEvidence, StandIn
from graph.model.plan import Plan
from graph.model.record import Demand, Interchange, Part, Snapshot, Stock
from graph.picklist import pick_list


@pytest.fixture(scope="module")
def planned(demo_desk: Desk) -> tuple[Plan, Bundle]:
    answer = demo_desk.plan("HB-003", "stock-101", day=DAY)
    assert answer.bundle is not None
    return answer.plans[0], answer.bundle


def taking(planned: tuple[Plan, Bundle], seat: str, part: str, **more: object) -> tuple[Plan, Bundle]:
    """The same plan with that part new in that seat."""
    plan, bundle = planned
    seats = tuple(
        replace(c, source="new", part=part, lot="", operations=(), **more) if c.seat == seat else c  # type: ignore[arg-type]
        for c in plan.seats
    )
    return replace(plan, seats=seats), bundle


def told(desk: Desk, *jobs: tuple[Plan, Bundle]) -> dict[tuple[str, str], str]:
    found = stand_ins(desk.catalogue, desk.snapshot, jobs)
    return {(s.part.rpartition("/")[2], s.other.rpartition("/")[2]): s.how for s in found}


UNCOOLED = "part/Ostrel/38-30-101"


def test_a_cooled_housing_is_derived_for_an_uncooled_one_with_what_is_left_open(
    demo_desk: Desk, planned: tuple[Plan, Bundle]
) -> None:
    job = taking(planned, "bearing-housing", UNCOOLED)
    found = stand_ins(demo_desk.catalogue, demo_desk.snapshot, [job])
    (edge,) = [s for s in found if s.part == UNCOOLED]
    assert (edge.other, edge.how) == ("part/Ostrel/38-30-M12", "derived")
    assert "coolant ports" in edge.text


def test_no_stand_in_for_a_part_that_is_machined_or_against_a_wish_or_a_demand(
    demo_desk: Desk, planned: tuple[Plan, Bundle]
) -> None:
    plan, bundle = taking(planned, "bearing-housing", UNCOOLED)
    pair = ("38-30-101", "38-30-M12")
    assert pair in told(demo_desk, (plan, bundle))
    cut = tuple(
        replace(c, operations=("hone-bearing-bore",)) if c.seat == "bearing-housing" else c for c in plan.seats
    )
    assert pair not in told(demo_desk, (replace(plan, seats=cut), bundle))
    wished = replace(bundle, question=replace(bundle.question, wishes=("no-part:part/Ostrel/38-30-M12",)))
    assert pair not in told(demo_desk, (plan, wished))
    dry = Demand("build/stock-101", "bearing-housing", "coolant", "same")
    demanding = replace(bundle, build=replace(bundle.build, demands=(*bundle.build.demands, dry)))
    assert pair not in told(demo_desk, (plan, demanding))
    assert pair not in told(demo_desk, (plan, bundle), (plan, wished))  # of two jobs one does not want it


def test_an_asserted_stand_in_that_the_features_refute_is_told_as_such(
    demo_desk: Desk, planned: tuple[Plan, Bundle]
) -> None:
    """demo_graph/README.md: the caller's uncooled housing for a cooled one; the shield that the maker gave up."""
    found = told(
        demo_desk,
        taking(planned, "bearing-housing", "part/Ostrel/46-30-220"),
        taking(planned, "heat-shield", "part/Ostrel/38-45-101"),
    )
    assert found["46-30-220", "46-30-140"] == "refuted"
    assert found["38-45-101", "38-45-100"] == "not borne out"


def test_lines_show_asserted_before_derived_and_never_the_refuted(planned: tuple[Plan, Bundle]) -> None:
    """By hand: asserted first, unconditional before conditional; derived last, though it alone is in stock."""
    plan, _ = taking(planned, "bearing-housing", UNCOOLED)
    plan = replace(plan, seats=tuple(c for c in plan.seats if c.seat == "bearing-housing"), consumed=())
    numbers = ("38-30-101", "A", "B", "C", "D")
    parts = tuple(
        Part(
            f"part/Ostrel/{n}",
            "Ostrel",
            n,
            "bearing-housing",
            "",
            stock=(Stock("shelf", 3),) if n == "C" else (),
        )
        for n in numbers
    )
    asserted = tuple(
        Interchange(UNCOOLED, f"part/Ostrel/{n}", "bearing-housing", condition, "LIST", f"s{n}")
        for n, condition in (("A", "with another gasket"), ("B", ""), ("D", ""))
    )
    derived = (
        StandIn(UNCOOLED, "part/Ostrel/C", "derived", ""),
        StandIn(UNCOOLED, "part/Ostrel/D", "refuted", "drain: 44 against 48"),
    )
    evidence = PickEvidence(Snapshot("c", 1), DAY, parts, (), asserted, derived)
    (line,) = pick_list([("job", plan)], evidence, {}, frozenset()).lines
    assert [(s.label, s.basis.split()[1].strip(",")) for s in line.substitutes] == [
        ("Ostrel B", "asserted"),
        ("Ostrel A", "asserted"),
        ("Ostrel C", "derived"),
    ]
    assert line.notes == ("not Ostrel D, though somebody asserts it: drain: 44 against 48",)
