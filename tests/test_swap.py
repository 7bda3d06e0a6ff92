"""The whole verdict, the notes and the refusals of *does it fit?*, against docs/semantics.md section 2."""

from dataclasses import replace
from itertools import pairwise

import pytest
from families import Family, evidence, family, mm
from hypothesis import given, settings
from hypothesis import strategies as st

from graph.errors import BadQuestion
from graph.model.bundle import Bundle
from graph.model.codec import from_json, to_json
from graph.model.fits import FitsAnswer
from graph.model.plan import Plan, PlanAnswer, SeatChoice, Step
from graph.model.record import Fitment, Interchange, Joint, Part, Supersession
from graph.model.verdict import Caution, Missing, Proof, Verdict
from graph.swap import circles, fits, supersession_chain

MADE: Family = family(5, "swing-vane")
UNIT, ENGINE = MADE.units[0], MADE.engine
TIGHT = UNIT.having("cover", contour=50)  # far smaller than any wheel: does not fit as it stands
OPEN = UNIT.without("cover", "contour")


class Mender:
    """Answers the plan question as told, and remembers that it was asked."""

    def __init__(
        self, verdict: Verdict, proof: Proof, *, open_facts: tuple[Missing, ...] = (), plan: bool = False
    ) -> None:
        self.said = (verdict, proof, open_facts, plan)
        self.asked: list[Bundle] = []

    def __call__(self, bundle: Bundle) -> PlanAnswer:
        self.asked.append(bundle)
        verdict, proof, open_facts, plan = self.said
        plans = (a_plan(),) if plan else ()
        return PlanAnswer(bundle.question, bundle.snapshot, verdict, proof, "", plans, None, open_facts, ())


def a_plan() -> Plan:
    step = Step("bore_cover", "bore the cover", "cover", UNIT.part_key("cover"))
    seats = (SeatChoice("cover", UNIT.part_key("cover"), "kept", operations=("bore_cover",)),)
    caution = (Caution("thin-wall", "read the wall first"),)
    return Plan(seats, (step,), (), (), (), 100, False, 0, 1, 0, "EUR", caution, ())


def a_bundle() -> Bundle:
    from families import bundle

    return bundle(UNIT, ENGINE)


CERTAIN = Mender(Verdict.WITH_WORK, Proof.CHEAPEST, plan=True)
WALL = Missing("cover", "wall", "", "no claim", "read the wall")


@pytest.mark.parametrize(
    ("unit", "mender", "stands", "whole"),
    [
        (UNIT, None, Verdict.YES, Verdict.YES),
        (TIGHT, None, Verdict.NO, Verdict.UNKNOWN),
        (TIGHT, CERTAIN, Verdict.NO, Verdict.WITH_WORK),
        (TIGHT, Mender(Verdict.NO, Proof.IMPOSSIBLE), Verdict.NO, Verdict.NO),
        (TIGHT, Mender(Verdict.UNKNOWN, Proof.FOUND, open_facts=(WALL,), plan=True), Verdict.NO, Verdict.UNKNOWN),
        (TIGHT, Mender(Verdict.UNKNOWN, Proof.UNDECIDED), Verdict.NO, Verdict.UNKNOWN),
        (OPEN, None, Verdict.UNKNOWN, Verdict.UNKNOWN),
        (OPEN, CERTAIN, Verdict.UNKNOWN, Verdict.WITH_WORK),
        (OPEN, Mender(Verdict.NO, Proof.IMPOSSIBLE), Verdict.UNKNOWN, Verdict.UNKNOWN),
    ],
)
def test_the_whole_is_what_the_joints_and_a_checked_plan_say(
    unit: object, mender: Mender | None, stands: Verdict, whole: Verdict
) -> None:
    asked = evidence(unit, ENGINE, mend=a_bundle() if mender else None)  # type: ignore[arg-type]
    answer = fits(asked, mender or CERTAIN)
    assert (answer.as_it_stands, answer.verdict) == (stands, whole)
    assert (answer.plan is not None) == (whole is Verdict.WITH_WORK)
    if mender is not None:
        assert mender.asked[-1] is asked.mend


def test_a_plan_s_steps_and_cautions_reach_the_answer() -> None:
    answer = fits(evidence(TIGHT, ENGINE, mend=a_bundle()), CERTAIN)
    assert "with work: bore the cover (cover)" in answer.sentence
    assert {"thin-wall", "emissions", "control", "calibration"} <= {c.code for c in answer.cautions}


def test_what_a_possible_plan_hangs_on_is_named_once() -> None:
    mender = Mender(Verdict.UNKNOWN, Proof.FOUND, open_facts=(WALL, WALL), plan=True)
    answer = fits(evidence(TIGHT, ENGINE, mend=a_bundle()), mender)
    assert answer.open == (WALL,)
    assert "read the wall" in answer.sentence


def test_what_fits_is_not_sent_to_the_planner() -> None:
    mender = Mender(Verdict.NO, Proof.IMPOSSIBLE)
    assert fits(evidence(UNIT, ENGINE, mend=a_bundle()), mender).verdict is Verdict.YES
    assert mender.asked == []


def test_what_does_not_fit_carries_no_cautions_about_fitting_it() -> None:
    answer = fits(evidence(TIGHT, ENGINE, mend=a_bundle()), Mender(Verdict.NO, Proof.IMPOSSIBLE))
    assert answer.cautions == answer.open == ()
    assert answer.sentence.startswith(f"{UNIT.maker} {TIGHT.name} does not fit Brackmoor {ENGINE.name}: contour")


def test_without_an_engine_only_the_inner_joints_are_judged() -> None:
    answer = plain(evidence(UNIT, None))
    assert answer.verdict is Verdict.YES
    assert not any(o.seat == "engine" for j in answer.joints for r in j.rules for o in r.operands)
    assert answer.match == ()


def plain(asked: object, mender: Mender = CERTAIN) -> FitsAnswer:
    return fits(asked, mender)  # type: ignore[arg-type]


def test_an_engine_with_no_rule_to_meet_is_never_a_fit() -> None:
    inner = replace(evidence(UNIT, ENGINE).layout, name=UNIT.layout)
    inner = replace(inner, rules=tuple(r for r in inner.rules if "engine" not in r.seats), joints=())
    answer = plain(replace(evidence(UNIT, ENGINE), layout=inner))
    assert answer.verdict is Verdict.UNKNOWN
    assert "no fit rule is on record" in answer.open[0].why


def test_a_joint_without_a_rule_is_never_a_fit_even_with_a_plan() -> None:
    asked = evidence(UNIT, ENGINE, mend=a_bundle())
    layout = replace(asked.layout, joints=(*asked.layout.joints, Joint("drain", "oil drain", ("bearing_housing",))))
    answer = plain(replace(asked, layout=layout))
    assert answer.verdict is Verdict.UNKNOWN
    lacking = [(m.seat, m.feature, m.why, m.measure) for m in answer.open]
    why = "no fit rule is on record for this joint"
    assert lacking == [("bearing_housing", "", why, "put on record what decides the joint oil drain")]


def test_a_seat_that_must_be_filled_and_is_not_is_not_known() -> None:
    bare = replace(UNIT.unit, parts=tuple(p for p in UNIT.unit.parts if p[0] != "wheel"))
    answer = plain(replace(evidence(UNIT, ENGINE), unit=bare))
    assert answer.verdict is Verdict.UNKNOWN
    assert ("wheel", "kind of part") in {(m.seat, m.feature) for m in answer.open}
    layout = evidence(UNIT, ENGINE).layout
    free = replace(layout, seats=tuple(replace(s, may_be_empty=s.name == "wheel") for s in layout.seats))
    assert plain(replace(evidence(UNIT, ENGINE), unit=bare, layout=free)).verdict is Verdict.YES


def test_a_rival_claim_makes_a_joint_disputed_and_both_are_shown() -> None:
    asked = evidence(UNIT, ENGINE)
    cover = next(p for p in asked.parts if p.kind == "compressor_cover")
    claim = next(c for c in cover.claims if c.feature == "contour")
    rival = replace(claim, id="rival", source="other drawing", value=replace(claim.value, amount=mm(50), text="50"))
    parts = tuple(replace(p, claims=(*p.claims, rival)) if p is cover else p for p in asked.parts)
    answer = plain(replace(asked, parts=parts))
    assert answer.verdict is Verdict.UNKNOWN
    assert "other drawing" in answer.open[0].why and "(drawing, drawing)" in answer.open[0].why
    assert " against " in answer.open[0].why


def test_every_answer_survives_its_json() -> None:
    for unit in (UNIT, TIGHT, OPEN):
        answer = fits(evidence(unit, ENGINE, originals=[MADE.large]), CERTAIN)
        assert from_json(FitsAnswer, to_json(answer)) == answer


@pytest.mark.parametrize(
    ("seat", "part"),
    [("wheel", ""), ("", "part/O/1"), ("funnel", UNIT.part_key("wheel")), ("wheel", "part/nobody/1")],
)
def test_a_question_whose_parts_do_not_go_together_is_refused(seat: str, part: str) -> None:
    asked = evidence(UNIT, ENGINE)
    with pytest.raises(BadQuestion):
        plain(replace(asked, question=replace(asked.question, seat=seat, part=part)))
    with pytest.raises(BadQuestion):
        plain(replace(asked, engine=None))


def test_a_part_question_compares_with_the_part_the_unit_came_with() -> None:
    larger = MADE.large.part("rotor")
    answer = plain(evidence(UNIT, None, seat="rotor", part=larger))
    assert answer.as_it_stands is Verdict.NO  # the housing is not bored for it
    assert {(m.seat, m.feature): m.compared for m in answer.match}["rotor", "exducer"] == "larger"
    assert {m.seat for m in answer.match} == {"rotor"}


# Supersession.


def row(old: str, new: str, **more: object) -> Supersession:
    return Supersession(f"part/O/{old}", f"part/O/{new}", **more)  # type: ignore[arg-type]


def test_a_chain_is_followed_old_to_new_and_never_back() -> None:
    rows = [row("1", "2"), row("2", "3", from_date="2020-01-01")]
    assert supersession_chain("part/O/1", rows, "2024-01-01").latest == "part/O/3"
    early = supersession_chain("part/O/1", rows, "2019-12-31")
    assert (early.latest, early.held) == ("part/O/2", (rows[1],))
    assert supersession_chain("part/O/3", rows, "2024-01-01").steps == ()


def test_a_serial_a_condition_or_a_fork_is_left_to_a_person() -> None:
    for held in (
        [row("1", "2", from_serial="4711")],
        [row("1", "2", condition="with kit 9")],
        [row("1", "2"), row("1", "3")],
    ):
        chain = supersession_chain("part/O/1", held, "2024-01-01")
        assert (chain.latest, chain.steps, chain.held) == ("part/O/1", (), tuple(held))


def test_a_circle_is_never_an_equivalence() -> None:
    rows = [row("1", "2"), row("2", "3"), row("3", "2"), row("8", "9", two_way=True)]
    assert circles(rows) == (("part/O/2", "part/O/3"),)
    chain = supersession_chain("part/O/1", rows, "")
    assert (chain.latest, chain.circle) == ("part/O/1", ("part/O/2", "part/O/3"))
    assert supersession_chain("part/O/2", rows, "").steps == ()
    assert circles([row("1", "1")]) == (("part/O/1",),)


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6), st.booleans()), max_size=9))
@settings(max_examples=300, deadline=None)
def test_a_chain_ends_and_its_circles_are_those_a_walk_finds(rows_of: list[tuple[int, int, bool]]) -> None:
    rows = [row(str(a), str(b), two_way=two_way) for a, b, two_way in rows_of]

    def reaches(start: str, goal: str) -> bool:
        seen, edge = set(), [start]
        while edge:
            at = edge.pop()
            for s in rows:
                for old, new in ((s.old, s.new), *(((s.new, s.old),) if s.two_way else ())):
                    if old == at and new not in seen:
                        seen.add(new)
                        edge.append(new)
        return goal in seen

    circling = {
        k for s in rows if not s.two_way and (s.old == s.new or reaches(s.new, s.old)) for k in (s.old, s.new)
    }
    assert circling <= {k for loop in circles(rows) for k in loop}
    for loop in circles(rows):
        assert all(reaches(a, b) for a in loop for b in loop if a != b)
        assert circling & set(loop)
    for number in range(7):
        chain = supersession_chain(f"part/O/{number}", rows, "")
        path = [chain.part, *(s.new for s in chain.steps)]
        assert path[-1] == chain.latest and len(path) == len(set(path))
        assert all(any((s.old, s.new) == step for s in rows) for step in pairwise(path))


def test_the_notes_say_what_became_of_a_unit_s_numbers() -> None:
    old, new = UNIT.part_key("wheel"), MADE.large.part_key("wheel")
    rows = (Supersession(old, new, from_date="2025-01-01", from_serial="700"),)
    note = plain(evidence(UNIT, ENGINE, originals=[MADE.large], supersessions=rows)).notes[0]
    for said in (
        f"{UNIT.name}-wheel",
        "will be superseded",
        f"{MADE.large.name}-wheel",
        "2025-01-01",
        "serial 700",
        "one way",
    ):
        assert said in note
    circle = (Supersession(old, new), Supersession(new, old))
    assert any("run in a circle" in n for n in plain(evidence(UNIT, ENGINE, supersessions=circle)).notes)


@pytest.mark.parametrize(
    ("first", "second", "overlap"),
    [
        (("2005", "2009"), ("2010", ""), False),
        (("2005", "2009"), ("2009.5", ""), True),  # 2009 runs to its end, its second half included
        (("2005", "2009.5"), ("2009.5", "2012"), True),
        (("2005", "2008.5"), ("2009", "2012"), False),
        (("", ""), ("2009", "2012"), True),
    ],
)
def test_years_that_admit_two_units_ask_for_the_serial_number(
    first: tuple[str, str], second: tuple[str, str], overlap: bool
) -> None:
    def fitment(unit: str, years: tuple[str, str]) -> Fitment:
        return Fitment("Tarnholt", "Forwarder 8", ENGINE.engine.key, unit, *years)

    rows = (fitment(UNIT.key, first), fitment(MADE.large.key, second))
    notes = plain(evidence(UNIT, ENGINE, fitments=rows)).notes
    assert any("ask for the serial number" in n for n in notes) is overlap


def test_an_asserted_interchange_settles_nothing_and_is_shown_against_the_joints() -> None:
    rows = (Interchange(UNIT.part_key("rotor"), MADE.large.part_key("rotor"), "rotor", "", "counter book"),)
    larger: Part = MADE.large.part("rotor")
    answer = plain(evidence(UNIT, None, seat="rotor", part=larger, interchanges=rows))
    assert answer.verdict is not Verdict.YES
    (note,) = [n for n in answer.notes if "counter book" in n]
    assert "in that direction only; the joints judged here do not bear that out" in note
    # The reverse is not asserted.
    back = plain(evidence(MADE.large, None, seat="rotor", part=UNIT.part("rotor"), interchanges=rows))
    assert not any("counter book" in n for n in back.notes)
