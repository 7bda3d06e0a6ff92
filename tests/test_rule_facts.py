"""Which claim counts: docs/semantics.md section 1, case by case."""

from dataclasses import replace
from itertools import permutations

from hypothesis import given
from hypothesis import strategies as st

from graph.model.claim import Claim, Rank
from graph.model.fact import Fact
from graph.model.record import Feature
from graph.model.value import Amount, Code
from graph.planning.check.facts import settled
from graph.rules.facts import settle

BORE = Feature("bore", "bore", "length")
JOURNAL = Feature("bore", "journal", "length", wears=True)


def said(amount: int, rank: Rank = Rank.DRAWING, source: str = "", **more: object) -> Claim:
    number = f"{amount}-{rank}-{source}-{sorted(more.items())}"
    return Claim(number, "part/O/1", "bore", Amount(amount, "length"), source or number, rank, **more)  # type: ignore[arg-type]


def coded(code: str, rank: Rank = Rank.DRAWING, **more: object) -> Claim:
    return Claim(f"{code}-{rank}", "part/O/1", "bore", Code(code), code, rank, **more)  # type: ignore[arg-type]


def fact(*claims: Claim, feature: Feature = BORE, **more: object) -> Fact:
    return settle(claims, feature, subject="part/O/1", **more)  # type: ignore[arg-type]


def values(of: Fact) -> list[tuple[int | None, int | None]]:
    return [(a.low, a.high) for a in of.alternatives]


def test_no_claim_is_unknown_and_none_is_a_known_absence() -> None:
    assert (fact().status, fact().why, fact().settles) == ("unknown", "no claim", False)
    assert fact(coded("none")).status == "known"


def test_the_best_rank_governs_and_nothing_is_averaged() -> None:
    best = fact(said(100, Rank.MAKER), said(110, Rank.SUPPLIER), said(90, Rank.SHOP))
    assert (best.status, values(best)) == ("known", [(100, 100)])


def test_a_measurement_of_one_specimen_says_nothing_sure_of_its_kind() -> None:
    assert fact(said(100, Rank.MEASURED)).status == "heard"
    assert values(fact(said(100, Rank.MEASURED), said(110, Rank.SHOP))) == [(110, 110)]


def test_what_is_only_heard_settles_nothing_and_limits_nothing() -> None:
    heard = fact(said(100, Rank.HEARD, limit_max=120))
    assert (heard.status, heard.settles, heard.limit_max, heard.why) == ("heard", False, None, "only heard")


def test_a_later_word_of_the_same_source_replaces_its_earlier_one_and_no_other() -> None:
    old, new = said(100, source="sheet", date="2011"), said(104, source="sheet", date="2011-05-02")
    undated = said(99, source="sheet")
    assert values(fact(old, new, undated)) == [(104, 104)]
    other = fact(old, said(104, source="other sheet", date="2019"))
    assert (other.status, values(other)) == ("disputed", [(100, 100), (104, 104)])


def test_claims_apart_by_no_more_than_the_larger_tolerance_agree() -> None:
    near = fact(said(100, tolerance=2), said(105, tolerance=5))
    assert (near.status, values(near)) == ("known", [(98, 102), (100, 110)])
    far = fact(said(100, tolerance=2), said(106, tolerance=5))
    assert far.status == "disputed"
    assert far.why.startswith("disputed: ") and " against " in far.why


def test_codes_agree_only_when_equal() -> None:
    assert fact(coded("a"), coded("b")).status == "disputed"
    assert fact(coded("a"), coded("a", date="2012")).status == "known"


def test_a_worn_part_is_known_only_by_a_reading_on_it() -> None:
    drawing = said(100, Rank.DRAWING, limit_min=90)
    unread = fact(drawing, feature=JOURNAL, used=True)
    assert (unread.status, unread.why) == ("unknown", "worn part, not read")
    assert values(fact(drawing, feature=JOURNAL)) == [(100, 100)]
    read = fact(drawing, feature=JOURNAL, used=True, readings=[said(97, Rank.MEASURED, tolerance=1)])
    assert (read.status, values(read)) == ("known", [(96, 98)])
    # The limit is the kind's; the value is this part's.
    assert read.limit_min == 90


def test_a_reading_beats_every_claim_about_the_kind() -> None:
    assert values(fact(said(100, Rank.DRAWING), used=True, readings=[said(97, Rank.MEASURED)])) == [(97, 97)]


def test_readings_at_several_positions_stand_side_by_side() -> None:
    front, rear = (said(a, Rank.MEASURED, source="bench", position=p) for a, p in ((100, "front"), (90, "rear")))
    both = fact(readings=[front, rear], used=True)
    assert both.status == "known"
    assert [(a.position, a.low) for a in both.alternatives] == [("front", 100), ("rear", 90)]
    again = said(95, Rank.MEASURED, source="second gauge", position="rear")
    assert fact(readings=[front, rear, again]).status == "disputed"


def read(amount: int, who: str = "", instrument: str = "", **more: object) -> Claim:
    more = {"source": "bench sheets", "date": "2026-03-10", **more}
    return said(amount, Rank.MEASURED, who=who, instrument=instrument, **more)


def test_only_a_reader_s_own_later_word_with_the_same_instrument_replaces_a_reading() -> None:
    first, later = read(100, "Ann", "bore gauge"), {"date": "2026-04-01"}
    own = fact(readings=[first, read(104, "Ann", "bore gauge", **later)], used=True)
    assert (own.status, values(own)) == ("known", [(104, 104)])
    for other in (read(104, "Bo", "bore gauge", **later), read(104, "Ann", "caliper", **later), read(104, **later)):
        both = fact(readings=[first, other], used=True)
        assert (both.status, values(both)) == ("disputed", [(100, 100), (104, 104)])
    unsigned = fact(readings=[read(100), read(104, **later)], used=True)
    assert unsigned.status == "disputed"  # nobody knows that one person took both


def test_a_dispute_says_who_read_what_with_which_instrument() -> None:
    why = fact(readings=[read(100, "Ann", "bore gauge"), read(104, "Bo", "caliper")], used=True).why
    assert "(measured, bench sheets, Ann, bore gauge, 2026-03-10) against " in why


def test_a_surer_reading_within_a_wide_one_decides_alone() -> None:
    wide, sure = read(100, "Ann", "caliper", tolerance=5), read(103, "Ann", "micrometer", tolerance=1)
    assert values(fact(readings=[wide, sure], used=True)) == [(102, 104)]
    beyond = read(104, "Ann", "micrometer", tolerance=2)  # they agree, but 106 is past what the caliper allows
    assert values(fact(readings=[wide, beyond], used=True)) == [(95, 105), (102, 106)]
    unstated = read(103, "Ann", "micrometer")  # says not how sure it is, so it makes nothing surer
    assert values(fact(readings=[wide, unstated], used=True)) == [(95, 105), (103, 103)]
    # A third that contradicts one of them leaves all of them standing.
    assert len(fact(readings=[wide, sure, read(90, "Bo", "rule")], used=True).alternatives) == 3


def test_a_drawing_within_another_s_tolerance_replaces_nothing() -> None:
    assert values(fact(said(100, tolerance=5), said(100, source="b", tolerance=1))) == [(95, 105), (99, 101)]


def test_claims_that_name_no_source_do_not_replace_each_other() -> None:
    claims = [
        Claim(number, "part/O/1", "bore", Amount(amount, "length"), "", Rank.SHOP, date)
        for number, amount, date in (("a", 100, "2020"), ("b", 104, "2024"))
    ]
    assert fact(*claims).status == settled("part/O/1", "bore", claims, of_kind=True).status == "disputed"


def test_a_reading_without_an_uncertainty_is_as_sure_as_its_digits() -> None:
    bare = replace(read(612), value=Amount(612, "length", "61.2", "mm"), resolution=5)
    found = fact(readings=[bare], used=True)
    assert values(found) == [(607, 617)]
    assert found.alternatives[0].shown == "61.2 mm, uncertainty not stated"
    assert values(fact(readings=[replace(bare, tolerance=0)], used=True)) == [(612, 612)]


def test_the_tightest_limits_of_the_governing_claims_count() -> None:
    claims = (
        said(100, limit_min=80, limit_max=130, source="a"),
        said(100, limit_min=85, limit_max=140, source="b"),
        said(100, Rank.SHOP, limit_min=99, limit_max=101),
    )
    assert (fact(*claims).limit_min, fact(*claims).limit_max) == (85, 130)


A_FEW_CLAIMS = st.lists(
    st.builds(
        said,
        st.integers(0, 6),
        st.sampled_from(list(Rank)),
        st.sampled_from(["a", "b", "c"]),
        date=st.sampled_from(["", "2010", "2012-01-01"]),
        tolerance=st.sampled_from([None, 0, 1, 2]),
        position=st.sampled_from(["", "front"]),
        who=st.sampled_from(["", "Ann", "Bo"]),
        instrument=st.sampled_from(["", "gauge"]),
        resolution=st.sampled_from([0, 1]),
    ),
    max_size=4,
)


@given(A_FEW_CLAIMS)
def test_the_order_in_which_claims_are_said_changes_nothing(claims: list[Claim]) -> None:
    assert len({fact(*order) for order in permutations(claims)}) == 1


@given(A_FEW_CLAIMS, st.booleans())
def test_the_checker_s_own_settling_says_the_same(claims: list[Claim], of_kind: bool) -> None:
    # graph.planning.check shares no code with graph.rules.
    theirs = settled("part/O/1", "bore", claims, of_kind=of_kind)
    ours = fact(*claims) if of_kind else fact(used=True, readings=claims)
    assert ours.status == theirs.status
    assert {(a.position, a.low, a.high) for a in ours.alternatives} == {
        (a.position, a.low, a.high) for a in theirs.alternatives
    }


def test_a_position_that_is_only_heard_makes_the_fact_heard() -> None:
    front, rear = said(100, Rank.MEASURED, position="front"), said(90, Rank.HEARD, position="rear")
    assert fact(readings=[front, rear]).status == "heard"
