"""Readings of one feature of one core by several people and instruments, from the sheet to every answer about it."""

import pytest
from asked_shop import DAY, Book, Shop, added, book, changed

from graph.desk.bench import Bench
from graph.desk.conflicts import conflicts
from graph.desk.desk import Desk
from graph.model.bench import Outcome
from graph.model.plan import PlanAnswer
from graph.model.verdict import Verdict

LATER = {"date": "2026-03-01", "source": "gauge"}
RAO = {"who": "Rao", "instrument": "micrometer"}


def shop(*readings: dict[str, str]) -> Book:
    """The journal of K1 read once by Rao (it goes into its bearing, and is above its least size), then these.

    By hand: the bearing is 10.022 to 10.028 inside and wants a clearance of 0.03 to 0.06; 9.979 ± 0.002 leaves 0.041
    to 0.051, 9.999 ± 0.002 leaves 0.021 to 0.031.
    """
    where = {"tag": "K1", "seat": "rotor", "feature": "journal"}
    rows = added(book(), "limits", maker="Ostrel", unit_or_part="R-1", feature="journal", condition="used",
                 min="9.970", max="9.990", unit="mm", source="dwg")  # fmt: skip
    rows = added(rows, "readings", tag="K1", seat="wheel", feature="blades", value="7", who="Rao", instrument="eye")
    rows = changed(rows, "readings", where, instrument="micrometer", source="gauge")
    for cells in readings:
        rows = added(rows, "readings", **{**where, "unit": "mm", **LATER, **cells})
    return rows


def kept(one: Shop) -> PlanAnswer:
    return Desk.over(one.store).plan("K1", "stock", wishes=("keep:rotor",), day=DAY)


WRONG = {"value": "9.999", "uncertainty": "0.002"}
WIDE = {"value": "9.98", "uncertainty": "0.03", "instrument": "caliper"}


@pytest.mark.parametrize(
    ("readings", "plan", "outcome", "counting"),
    [
        ([], Verdict.WITH_WORK, Outcome.REUSE, 1),
        ([{**RAO, **WRONG}], Verdict.NO, Outcome.REPLACE, 1),  # Rao puts his own right
        ([{**RAO, **WRONG, "who": "Bo"}], Verdict.UNKNOWN, Outcome.UNKNOWN, 2),
        ([{**RAO, **WRONG, "instrument": "caliper"}], Verdict.UNKNOWN, Outcome.UNKNOWN, 2),
        ([{**RAO, **WRONG, "who": ""}], Verdict.UNKNOWN, Outcome.UNKNOWN, 2),
        ([{**RAO, **WRONG, "date": "2025-01-01"}], Verdict.WITH_WORK, Outcome.REUSE, 1),  # an earlier one of his
        ([{**RAO, "value": "9.980", "uncertainty": "0.002", "who": "Bo"}], Verdict.WITH_WORK, Outcome.REUSE, 2),
        # A caliper says less than the micrometer within it: what it leaves open is closed already.
        ([{**RAO, **WIDE}], Verdict.WITH_WORK, Outcome.REUSE, 2),
    ],
)  # fmt: skip
def test_plan_checker_inspection_and_record_read_the_same(
    readings: list[dict[str, str]], plan: Verdict, outcome: Outcome, counting: int
) -> None:
    with Shop(shop(*readings)) as one:
        desk = Desk.over(one.store)
        assert kept(one).verdict in ((plan, Verdict.YES) if plan is Verdict.WITH_WORK else (plan,))
        rotor = next(d for d in Bench(desk).inspect("K1").decisions if d.seat == "rotor")
        assert rotor.outcome is outcome
        shown = [r for r in Bench(desk).record("K1").readings if r.feature == "journal"]
        assert (len(shown), sum(r.counts for r in shown)) == (1 + len(readings), counting)
        disputes = [d for d in conflicts(desk, ()).disputes if d.feature == "journal"]
        assert len(disputes) == (plan is Verdict.UNKNOWN)
        if disputes:
            assert {one.by for one in disputes[0].claims} >= {"Rao, micrometer"}
            assert any("measure" in m.measure for m in kept(one).open)


def test_taking_the_wrong_reading_back_settles_it() -> None:
    with Shop(shop({**RAO, **WRONG, "who": "Bo"})) as one:
        wrong = next(r for r in Bench(Desk.over(one.store)).record("K1").readings if r.who == "Bo")
        from graph.ledger.draft import Retraction
        from graph.publish.writing import publish_statements

        publish_statements(one.store, [Retraction(wrong.said)], author="Ada", time="2026-11-28T09:00:00Z")
        assert kept(one).verdict in (Verdict.YES, Verdict.WITH_WORK)


@pytest.mark.parametrize(
    ("value", "plan"),
    [
        ("9.979", Verdict.YES),  # ± 0.0005
        ("9.98", Verdict.YES),  # 9.975 to 9.985: 0.037 to 0.053 beside the bearing
        ("9.97", Verdict.UNKNOWN),  # 9.965 to 9.975; 0.047 to 0.063, and the least size is 9.970
        ("9.9", Verdict.NO),  # 9.85 to 9.95, 0.072 at the least
        ("10.0", Verdict.UNKNOWN),  # 9.95 to 10.05
        ("10.1", Verdict.NO),  # 10.05 to 10.15, larger than the bearing
    ],
)
def test_a_reading_without_uncertainty_is_as_sure_as_its_digits(value: str, plan: Verdict) -> None:
    where = {"tag": "K1", "seat": "rotor", "feature": "journal"}
    with Shop(changed(shop(), "readings", where, value=value, uncertainty="")) as one:
        answer = kept(one)
        assert answer.verdict in ((Verdict.YES, Verdict.WITH_WORK) if plan is Verdict.YES else (plan,))
        if plan is Verdict.UNKNOWN:
            assert any("uncertainty not stated" in m.why for m in answer.open)
        rotor = next(d for d in Bench(Desk.over(one.store)).inspect("K1").decisions if d.seat == "rotor")
        assert rotor.outcome is Outcome.UNKNOWN
