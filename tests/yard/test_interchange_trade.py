"""Derived interchange as trade facts, on generated families and on the demo shop."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import permutations

import families
import pytest
from families import ACCEPTED, FEATURES, KINDS, LAYOUTS, OPERATIONS, Made, family

from demo_graph.tours import demo_store
from graph.desk import open_desk
from graph.desk.yard import Yard
from graph.errors import BadQuestion
from graph.interchange import Book, Place
from graph.interchange.answer import given_up
from graph.interchange.lookup import candidates
from graph.model.interchange import Derived, Keeps
from graph.model.record import Part, Supersession
from graph.model.verdict import Verdict

NESTED = (("coolant-supply", (("m14x1.5", "m14x1.5"), ("m14x1.5", "none"), ("none", "none"))), ACCEPTED[1])
"""As at the demo shop: ports may be left open or plugged, so that a cooled housing goes where none is asked for."""


def place(layout: str, seat: str, accepted: object = ACCEPTED, operations: object = OPERATIONS) -> Place:
    made = LAYOUTS[layout]
    found = made.seat(seat)
    assert found is not None
    return Place(
        made,
        found,
        features=FEATURES,
        accepted={name: frozenset(pairs) for name, pairs in accepted},  # type: ignore[attr-defined]
        kinds=KINDS,
        operations=operations,  # type: ignore[arg-type]
    )


def verdict(layout: str, seat: str, first: Made, second: Made, **more: object) -> Derived:
    return place(layout, seat, **more).decide(first.part(seat), second.part(seat))  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(12))
def test_covers_and_housings_of_a_family_interchange_once_machined_to_the_same_wheels(seed: int) -> None:
    """Common practice: in a family the smaller member's castings are opened to the larger member's wheels."""
    made = family(seed)
    small, large = made.units[0], made.units[-1]
    for seat in ("cover", "turbine_housing", "backplate"):
        opened = verdict(made.layout, seat, large, small)
        assert opened.verdict is Verdict.WITH_WORK, (seat, [r.text for r in opened.rules])
        assert "same" in opened.conditions[0] and "cut to suit" in opened.conditions[0]
        assert verdict(made.layout, seat, large, small, operations=()).verdict is Verdict.NO
    # What was opened further cannot be made smaller again.
    assert verdict(made.layout, "cover", small, large).verdict is Verdict.NO


@pytest.mark.parametrize("seed", range(6))
def test_a_cut_whose_limit_nobody_states_makes_no_edge(seed: int) -> None:
    made = family(seed)
    small, large = made.units[0], made.units[-1]
    found = verdict(made.layout, "cover", large, replace(small, limits={}))
    assert found.verdict is Verdict.UNKNOWN
    assert any("how far" in m.measure for m in found.missing)


@pytest.mark.parametrize("seed", range(6))
def test_a_cut_whose_limit_is_too_near_makes_no_edge(seed: int) -> None:
    made = family(seed)
    small, large = made.units[0], made.units[-1]
    near = float(small.facts["cover"]["contour"]) + 0.1  # type: ignore[arg-type]
    tight = replace(small, limits={**small.limits, ("cover", "contour"): near})
    assert verdict(made.layout, "cover", large, tight).verdict is Verdict.NO


def test_an_uncooled_housing_never_replaces_a_cooled_one_but_the_other_way_may() -> None:
    made = family(3, "swing-vane").units[0]
    cooled = made.having("bearing_housing", coolant="m14x1.5")
    plain = replace(made.having("bearing_housing", coolant="none"), name="plain")
    there = verdict("swing-vane", "bearing_housing", cooled, plain, accepted=NESTED)
    assert there.verdict is Verdict.NO
    back = verdict("swing-vane", "bearing_housing", plain, cooled, accepted=NESTED)
    assert back.verdict is Verdict.YES and any("coolant port" in c for c in back.conditions)
    # Where the engine's side takes nothing but like on like, neither replaces the other.
    for first, second in permutations((cooled, plain)):
        assert verdict("swing-vane", "bearing_housing", first, second).verdict is Verdict.NO


def test_a_sliding_nozzle_ring_and_a_vane_ring_never_stand_in_for_each_other() -> None:
    vane = family(1, "swing-vane").units[0]
    nozzle = family(1, "sliding-nozzle").units[0]
    for layout, seat, first, second in (
        ("swing-vane", "vane_ring", vane.part("vane_ring"), nozzle.part("nozzle_ring")),
        ("sliding-nozzle", "nozzle_ring", nozzle.part("nozzle_ring"), vane.part("vane_ring")),
    ):
        found = place(layout, seat).decide(first, second)
        assert found.verdict is Verdict.NO
        assert "does not go into a seat" in found.rules[0].text


def test_a_wheel_of_the_other_hand_is_refused_and_an_equal_one_taken() -> None:
    made = family(5).units[0]
    hand = "left" if made.facts["wheel"]["rotation"] == "right" else "right"
    assert verdict(made.layout, "wheel", made, made.having("wheel", rotation=hand)).verdict is Verdict.NO
    assert verdict(made.layout, "wheel", made, replace(made, name="twin")).verdict is Verdict.YES


def test_a_lower_speed_limit_is_no_stand_in_and_a_higher_one_is() -> None:
    made = family(5).units[0]
    faster = made.having("wheel", speed_limit=int(made.facts["wheel"]["speed_limit"]) + 5000)  # type: ignore[call-overload]
    assert verdict(made.layout, "wheel", made, faster).verdict is Verdict.YES
    assert verdict(made.layout, "wheel", faster, made).verdict is Verdict.NO


@pytest.mark.parametrize("seat", ["bearing_housing", "turbine_housing", "wheel", "actuator"])
def test_take_any_fact_away_on_either_side_and_there_is_no_edge(seat: str) -> None:
    made = family(8, "wastegate").units[0]
    twin = replace(made, name="twin")
    assert verdict("wastegate", seat, made, twin).verdict is Verdict.YES
    looked_at = place("wastegate", seat).looked_at
    for feature in [f for f in made.facts[seat] if f in looked_at or families.FEATURE[f].duty]:
        for first, second in ((made.without(seat, feature), twin), (made, twin.without(seat, feature))):
            found = verdict("wastegate", seat, first, second)
            assert found.verdict is not Verdict.YES, feature
            assert found.verdict is Verdict.UNKNOWN and any(m.feature == feature for m in found.missing)


def parts_of(seat: str, layout: str, seeds: range) -> list[Part]:
    out = []
    for seed in seeds:
        for unit in family(seed, layout).units:
            out.append(unit.part(seat))
            twin = replace(unit, maker="Quenby" if unit.maker == "Ostrel" else "Ostrel")
            out.append(twin.part(seat))
            out.append(replace(unit, name=f"{unit.name}y").without(seat, next(iter(unit.facts[seat]))).part(seat))
    return out


@pytest.mark.parametrize("seat", ["cover", "wheel", "bearing_housing", "turbine_housing", "actuator", "vane_ring"])
def test_the_book_finds_exactly_the_edges_that_trying_every_pair_finds(seat: str) -> None:
    parts = parts_of(seat, "swing-vane", range(4))
    where = place("swing-vane", seat)
    book = Book(where, parts)
    every = {(a.key, b.key) for a, b in permutations(parts, 2) if where.decide(a, b).verdict is Verdict.YES}
    assert every and len(every) < len(parts) * (len(parts) - 1)
    assert {(a.key, b.key) for a, b in book.edges()} == every
    shown = {one.key: one.admitted for edge in book.edges() for one in edge}
    by_key = {p.key: p for p in parts}
    for first, second in every:
        conditions = where.decide(by_key[first], by_key[second]).conditions
        assert where.conditions(shown[first], shown[second]) == conditions


@pytest.fixture(scope="module")
def yard() -> Iterator[Yard]:
    with demo_store() as folder:
        desk = open_desk(folder)
        yield Yard(desk)
        desk.close()


def test_the_demo_shop_hears_which_of_its_assertions_the_features_refute(yard: Yard) -> None:
    """The workbook says the two at the counter by hearsay; by the trade both are wrong."""
    report = yard.interchange_report()
    refuted = {(d.asserted.part, d.asserted.other) for d in report.asserted if d.how == "refuted"}
    assert refuted == {
        ("part/Ostrel/46-30-220", "part/Ostrel/46-30-140"),  # an uncooled housing for a cooled one
        ("part/Quenby/0048-5521", "part/Ostrel/46-55-140"),  # a vane ring for a sliding nozzle ring
    }
    cooled = next(d for d in report.asserted if d.asserted.other == "part/Ostrel/46-30-220")
    assert cooled.how == "agrees" and "coolant" in cooled.text
    assert len(report.asserted) == 10
    assert not {(u.part, u.other) for u in report.unasserted} & {
        (d.asserted.part, d.asserted.other) for d in report.asserted
    }


def test_an_older_number_is_no_stand_in_for_the_one_that_superseded_it(yard: Yard) -> None:
    """TRADE.md, section 7: a supersession is one-way or two-way; the workbook has both kinds."""
    older = yard.interchange("46-35-01")
    (edge,) = [d for d in older.instead if d.other == "part/Ostrel/46-35-00"]
    assert edge.verdict is Verdict.UNKNOWN
    assert [(m.feature, m.part) for m in edge.missing] == [("supersession", "part/Ostrel/46-35-00")]
    assert {d.verdict for d in older.stands_in if d.part == "part/Ostrel/46-35-00"} == {Verdict.YES}
    both = yard.interchange("46-60-140")
    assert {d.verdict for d in (*both.instead, *both.stands_in) if "46-60-310" in d.part + d.other} == {Verdict.YES}


def test_a_number_given_up_in_two_steps_is_no_stand_in_for_the_last() -> None:
    """By hand: A gave way to B, B to C; so A is no stand-in for C either. B and D are two-way."""
    key = "part/Ostrel/{}".format
    steps = {"A": [("B", False)], "B": [("C", False), ("D", True)], "C": [], "D": [("B", True)]}
    parts = {
        key(n): Part(
            key(n),
            "Ostrel",
            n,
            "wheel",
            "",
            superseded_by=tuple(Supersession(key(n), key(m), two) for m, two in news),
        )
        for n, news in steps.items()
    }

    class Listed:
        def parts(self, keys: Iterable[str]) -> tuple[Part, ...]:
            return tuple(parts[k] for k in keys)

    found = given_up(Listed(), [parts[key("A")], parts[key("D")]])  # type: ignore[arg-type]
    assert found == {key("A"): {key("B"), key("C")}, key("B"): {key("C")}}


def test_nothing_is_derived_from_a_label_alone(yard: Yard) -> None:
    """By the trade: springs for another boost, a dry housing for a jacketed one, sensors of other looms and reach."""
    report = yard.interchange_report()
    wrong = ("38-60-", "38-50-M12", "-66-01", "-65-01", "-6601", "-6501")
    sure = [edge for edge in report.unasserted if edge.verdict is Verdict.YES]
    assert not [edge for edge in sure if any(number in edge.other for number in wrong)]
    assert not [edge for edge in report.unasserted if any(number in edge.other for number in wrong[1:])]


def test_the_report_names_the_condition_of_every_edge_that_has_one(yard: Yard) -> None:
    """By the trade: castings of one family differ in what was opened for the wheels, in bosses and in coolant."""
    found = {(u.part.split("/")[-1], u.other.split("/")[-1]): u for u in yard.interchange_report().unasserted}
    opened = found["46-25-310", "46-25-140"]
    assert opened.verdict is Verdict.WITH_WORK
    assert "once its recess diameter is cut to suit the same compressor wheel" in opened.conditions[0]
    (sensor,) = found["46-30-220", "46-30-310"].conditions
    assert "plug the speed sensor boss" in sensor
    cooling = found["38-30-101", "38-30-M12"]
    assert cooling.verdict is Verdict.YES
    assert cooling.conditions == ("coolant ports: M14x1.5 instead of none, which may stay so",)
    assert all(u.conditions for u in found.values() if u.verdict is Verdict.WITH_WORK)
    pressure = found["38-60-101", "38-60-104"]
    assert pressure.verdict is Verdict.WITH_WORK and "opening pressure" in pressure.conditions[0]


def test_the_index_leads_to_every_edge_that_the_report_knows(yard: Yard) -> None:
    """Witness: the report looks at all parts of a seat, the question at what the index gives for one."""
    report = yard.interchange_report()
    for edge in report.unasserted:
        seat, part, other = edge.seat, edge.part, edge.other
        maker, number = part.split("/")[1:]
        found = yard.interchange(f"{maker} {number}", seat)
        assert other in {d.other for d in found.instead if d.verdict is edge.verdict}
        maker, number = other.split("/")[1:]
        back = yard.interchange(f"{maker} {number}", seat)
        assert part in {d.part for d in back.stands_in if d.verdict is edge.verdict}


def test_candidates_of_the_index_hold_every_part_of_the_seat_that_is_no_refusal(yard: Yard) -> None:
    from graph.interchange.answer import places

    catalogue = yard.desk.catalogue
    for where in places(catalogue):
        if where.layout.name != "swing-vane" or where.seat.name not in ("bearing-housing", "compressor-cover"):
            continue
        parts = catalogue.parts_of_kinds([where.seat.kind])
        for part in parts:
            near = {p.key for p in candidates(catalogue, where, part)}
            for other in parts:
                sure = (Verdict.YES, Verdict.WITH_WORK)
                if where.decide(part, other).verdict in sure or where.decide(other, part).verdict in sure:
                    assert other.key in near or other.key == part.key


def test_every_refusal_names_a_rule_with_both_values(yard: Yard) -> None:
    found = yard.interchange("46-30-220")
    refuted = next(d for d in found.asserted if d.how == "refuted")
    rule = next(r for d in refuted.derived for r in d.rules if r.keeps is Keeps.BROKEN)
    assert rule.joint == "coolant" and "none" in rule.text and "m14x1.5" in rule.text.casefold()


def test_a_seat_that_does_not_take_the_part_is_a_clear_error(yard: Yard) -> None:
    with pytest.raises(BadQuestion, match="no seat 'actuator' takes"):
        yard.interchange("46-30-220", "actuator")
