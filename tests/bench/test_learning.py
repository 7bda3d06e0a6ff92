"""Learning from jobs: the counts by hand, the intervals against scipy's Beta and Student distributions."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from graph.learning import Beta, Job, Look, NormalGamma, Taught, Work, learned_note, proposals
from graph.model.record import Feature, Operation

MINUTE = 60_000


def test_a_reliability_moves_by_the_cases_behind_it_by_hand() -> None:
    # 0.8 on record counts as 8 right of 10; 2 right of 5 make (8 + 2) / (10 + 5) = 2/3.
    feature = Feature("inducer", "inducer", "length", identity_reliability="0.80")
    looks = tuple(Look(f"J{i}", "", "inducer", i < 2) for i in range(5))
    (one,) = proposals(Taught((), looks, (), (feature,), (), {}))
    assert (one.name, one.now, one.proposed, one.jobs) == ("feature:inducer", "0.80", "0.67", 5)
    assert one.rule == "(8 + 2) / (10 + 5) = 0.6667; 2 of 5 were right"


def test_several_looks_in_one_job_count_as_one_job() -> None:
    feature = Feature("inducer", "inducer", "length", identity_reliability="0.80")
    looks = tuple(Look("J1", seat, "inducer", False) for seat in ("a", "b"))
    (one,) = proposals(Taught((), looks, (), (feature,), (), {}))
    assert one.jobs == 1


def test_minutes_leave_setting_up_and_depth_apart_by_hand() -> None:
    # Setup 15, 30 a mm, 0.25 mm: 47, 55, 61 and 52 min leave 24.5, 32.5, 38.5 and 29.5, their mean is 31.25.
    # 25 on record counts as 5 jobs: (5 x 25 + 4 x 31.25) / 9 = 27.78.
    hone = Operation("hone", "hone", "h", "bore", "widen_to_suit", 15 * MINUTE, 25 * MINUTE, 30 * MINUTE)
    work = tuple(Work(f"J{t}", "hone", True, t * MINUTE, 2_500_000) for t in (47, 55, 61, 52))
    minutes = next(p for p in proposals(Taught((), (), work, (), (hone,), {})) if p.name == "operation:hone:minutes")
    assert (minutes.now, minutes.proposed, minutes.jobs) == ("25", "27.8", 4)
    assert float(minutes.low) < 27.8 < float(minutes.high)


def test_work_whose_depth_nobody_wrote_down_teaches_no_minutes() -> None:
    hone = Operation("hone", "hone", "h", "bore", "widen_to_suit", 0, 25 * MINUTE, 30 * MINUTE)
    work = (Work("J1", "hone", True, 99 * MINUTE, None),)
    assert [p.name for p in proposals(Taught((), (), work, (), (hone,), {}))] == ["operation:hone:reliability"]


def test_success_without_a_number_on_record_starts_from_one_case_each_way() -> None:
    # Laplace's rule: (1 + 3) / (2 + 4).
    hone = Operation("hone", "hone", "h", "bore", "service", 0, 25 * MINUTE)
    work = tuple(Work(f"J{i}", "hone", i > 0, None, None) for i in range(4))
    (one,) = proposals(Taught((), (), work, (), (hone,), {}))
    assert (one.now, one.proposed) == ("not on record", "0.67")


def test_what_jobs_confirm_is_no_proposal() -> None:
    feature = Feature("foot", "foot", "code", identity_reliability="0.50")
    looks = tuple(Look(f"J{i}", "", "foot", i % 2 == 0) for i in range(4))
    assert proposals(Taught((Job("J0", "", ""),), looks, (), (feature,), (), {})) == ()


def test_a_feature_without_a_reliability_is_not_given_one() -> None:
    looks = (Look("J1", "", "paint", True),)
    assert proposals(Taught((), looks, (), (Feature("paint", "paint", "text"),), (), {})) == ()


@given(st.floats(0.3, 60), st.floats(0.3, 60))
@settings(deadline=None, max_examples=40)
def test_the_beta_interval_is_scipys(right: float, wrong: float) -> None:
    expected = stats.beta.ppf([0.025, 0.975], right, wrong)
    # The rule has 4,000 steps of log odds 0.015 wide.
    assert Beta(right, wrong).interval() == pytest.approx(expected, abs=2e-3)


@given(st.floats(1, 200), st.floats(1, 40), st.floats(1.5, 40), st.floats(0.1, 500))
@settings(deadline=None, max_examples=40)
def test_the_interval_of_the_mean_is_students(mean: float, cases: float, shape: float, rate: float) -> None:
    scale = math.sqrt(rate / (shape * cases))
    expected = stats.t.ppf([0.025, 0.975], 2 * shape, loc=mean, scale=scale)
    assert NormalGamma(mean, cases, shape, rate).interval() == pytest.approx(expected, abs=5e-3 * scale + 1e-9)


@given(st.lists(st.floats(1, 200), min_size=1, max_size=8), st.lists(st.floats(1, 200), min_size=1, max_size=8))
@settings(deadline=None, max_examples=60)
def test_counting_twice_is_counting_once_together(first: list[float], second: list[float]) -> None:
    # Conjugate counts do not care in which portions the values come.
    start = NormalGamma(30.0, 5.0, 2.5, 140.0)
    twice, once = start.with_cases(first).with_cases(second), start.with_cases([*first, *second])
    assert (twice.mean, twice.cases, twice.shape) == pytest.approx((once.mean, once.cases, once.shape))
    assert twice.rate == pytest.approx(once.rate)


def test_no_job_is_counted_twice_once_a_proposal_was_accepted() -> None:
    feature = Feature("inducer", "inducer", "length", identity_reliability="0.80")
    looks = tuple(Look(f"J{i}", "", "inducer", i < 2, n=1) for i in range(5))
    (first,) = proposals(Taught((), looks, (), (feature,), (), {}, until=1))
    note = learned_note("the shop's own", "identity_reliability", first, "ina")
    assert note.startswith("the shop's own | identity_reliability counts for 15 cases up to change set 1: was 0.80")
    learned = Feature("inducer", "inducer", "length", identity_reliability=first.proposed)
    notes = {"feature:inducer": note}
    assert proposals(Taught((), looks, (), (learned,), (), {}, notes, until=2)) == ()
    # One more that was wrong: 0.67 counts for 15 cases, (10.05 + 0) / (15 + 1) = 0.6281 by hand.
    more = (*looks, Look("J9", "", "inducer", False, n=3))
    (second,) = proposals(Taught((), more, (), (learned,), (), {}, notes, until=3))
    assert (second.proposed, second.jobs) == ("0.63", 1)
    again = learned_note(note, "identity_reliability", second, "ina")
    assert again.count("identity_reliability counts for") == 1
    assert again.startswith("the shop's own | ")
