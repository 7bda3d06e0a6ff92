"""Which answers a change may turn, and what is in dispute; on the small shop of store_rows.

Expected verdicts follow from the shop's rows: engine B6 has no flange on record, so nothing is known to fit it; the
rule `outlet` admits a4 with a4. Expected disputes follow from docs/semantics.md, section 1.
"""

from pathlib import Path

import pytest
from store_rows import code, mm, row, shop

from graph.desk import Desk
from graph.desk.conflicts import conflicts, settles
from graph.desk.touching import effect, swaps
from graph.index.store import Store
from graph.model.claim import Rank
from graph.model.statement import Statement
from graph.model.watch import Question, Watch
from graph.publish import publish_statements, tried

TIME = "2026-02-01T00:00:00Z"
FLANGE = row("engine_values", "drawing 7", maker="Brackmoor", engine="B6", feature="flange", value=code("a4"))


@pytest.fixture
def store(tmp_path: Path) -> Store:
    made = Store.create(tmp_path / "store")
    publish_statements(made, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    return made


def watch(label: str, question: Question) -> Watch:
    return Watch(label, label, question, TIME, "ina", 1, "", "")


def asked(store: Store, *changes: Statement) -> list[tuple[str, str]]:
    desk = Desk.over(store)
    return [(q.unit, q.engine) for q in swaps(desk, desk, changes)]


def test_a_change_of_an_engine_asks_every_turbocharger_of_its_layout_the_factorys_first(store: Store) -> None:
    assert asked(store, FLANGE) == [("Ostrel OU 11", "Brackmoor B6"), ("Ostrel OU 10", "Brackmoor B6")]


def test_a_change_of_a_part_asks_the_turbochargers_that_have_it(store: Store) -> None:
    value = row("values", maker="Ostrel", number="OS-101", feature="flange", value=code("x"))
    assert asked(store, value) == [("Ostrel OU 11", "Brackmoor B6"), ("Ostrel OU 11", "Brackmoor B5")]


def test_a_change_of_a_rule_asks_all_and_a_price_none(store: Store) -> None:
    assert len(asked(store, row("accepted", set="flanges", left_value="b", right_value="b"))) == 4
    assert asked(store, row("rates", name="late", per_hour={"minor": 1, "text": "0.01"}, currency="EUR")) == []


def test_the_effect_has_both_verdicts_and_the_kept_questions_first(store: Store) -> None:
    kept = watch("sawmill", Question("fits", unit="OU 10", engine="B6"))
    with tried(store, [FLANGE], time=TIME) as (after, _):
        found = effect(Desk.over(store), Desk.over(after), [kept], [FLANGE], day="2026-02-01", stop=lambda: False)
    turns = [(one.kept, one.question.unit, one.turned.before.word, one.turned.after.word) for one in found.asked]
    assert turns == [
        (True, "OU 10", "not known", "fits"),
        (False, "Ostrel OU 11", "not known", "fits"),  # OU 10 on B6 is not asked twice
    ]
    assert (found.left, found.more) == (0, False)


def test_what_time_did_not_suffice_for_is_counted(store: Store) -> None:
    desk = Desk.over(store)
    found = effect(desk, desk, [], [FLANGE], day="2026-02-01", stop=lambda: True)
    assert (found.asked, found.left) == ((), 2)


def test_equal_claims_are_no_dispute_and_unequal_ones_of_one_rank_are(store: Store) -> None:
    assert conflicts(Desk.over(store), []).disputes == ()  # the shop's 57.4 stands below the drawing's 57.5
    rival = row("sources", source="drawing 8", kind="drawing")
    other = row("values", "drawing 8", maker="Ostrel", number="OS-201", feature="exducer", value=mm(57.8))
    cover = row("values", "drawing 8", maker="Ostrel", number="OS-100", feature="bore", value=mm(52.9))
    publish_statements(store, [rival, other, cover], author="ina", time=TIME)
    desk = Desk.over(store)
    found = conflicts(desk, [watch("sawmill", Question("fits", unit="OU 11", engine="B6"))]).disputes
    # A kept question hangs on the wheel of OU 11, none on the cover of OU 10.
    assert [(d.subject, d.feature, d.watches, d.units) for d in found] == [
        ("part/Ostrel/OS-201", "exducer", 1, 1),
        ("part/Ostrel/OS-100", "bore", 0, 1),
    ]
    assert [(c.value, c.source) for c in found[0].claims] == [("57.5 mm", "drawing 7"), ("57.8 mm", "drawing 8")]
    assert [c.source for c in found[0].beside] == ["bench"]
    assert found[1].measure == "measure the bore"  # the rule's own words
    assert not settles(found[0], Rank.MEASURED)  # one part measured says nothing of its kind
    assert not settles(found[0], Rank.MAKER)


def test_two_readings_of_one_seat_that_disagree_are_a_dispute_of_the_core(store: Store) -> None:
    second = row("readings", "bench", "measured", tag="C-1", seat="cover", feature="bore", value=mm(52.7),
                 uncertainty=mm(0.01), date="2025-02-01")  # fmt: skip
    publish_statements(store, [second], author="ina", time=TIME)
    found = conflicts(Desk.over(store), []).disputes
    assert [(d.subject, d.seat, d.feature) for d in found] == [("core/C-1", "cover", "bore")]


def test_a_circle_of_supersessions_and_an_edge_that_the_features_refute_are_told(store: Store) -> None:
    back = row("supersession", maker="Ostrel", old="OS-201", new="OS-200")
    publish_statements(store, [back], author="ina", time=TIME)
    found = conflicts(Desk.over(store), [])
    assert found.circles == (("part/Ostrel/OS-200", "part/Ostrel/OS-201"),)
    # OS-100 instead of OS-101: a contour of 52.6 mm where 58.0 mm stood.
    assert [(e.asserted.part, e.asserted.other) for e in found.edges] == [
        ("part/Ostrel/OS-101", "part/Ostrel/OS-100")
    ]
