"""A later limit of one source takes the place of its earlier one (docs/semantics.md, section 1); expected by hand."""

from graph.model.claim import Rank
from graph.model.record import Limit
from graph.rules.limits import standing


def limit(low: int | None, high: int | None, source: str = "notes", rank: Rank = Rank.SHOP, when: str = "") -> Limit:
    return Limit("wall", when, low, high, int(rank), source)


def test_a_later_word_of_the_same_source_stands_and_the_earlier_does_not() -> None:
    assert standing([("2025-11-03", limit(45, None)), ("2026-01-09", limit(42, None))]) == (limit(42, None),)


def test_the_order_of_the_rows_does_not_matter() -> None:
    assert standing([("2026-01-09", limit(42, None)), ("2025-11-03", limit(45, None))]) == (limit(42, None),)


def test_another_source_replaces_nothing_however_late() -> None:
    both = (limit(45, None), limit(40, None, "counter"))
    assert standing([("2025-11-03", both[0]), ("2026-06-01", both[1])]) == both


def test_two_words_of_one_day_both_stand() -> None:
    assert standing([("2026-01-09", limit(45, None)), ("2026-01-09", limit(42, None))]) == (
        limit(45, None),
        limit(42, None),
    )


def test_a_word_without_a_date_is_the_earliest() -> None:
    assert standing([("", limit(40, None)), ("2025-11-03", limit(45, None))]) == (limit(45, None),)


def test_only_the_end_that_is_said_anew_is_replaced() -> None:
    assert standing([("2025-11-03", limit(45, 60)), ("2026-01-09", limit(42, None))]) == (
        limit(None, 60),
        limit(42, None),
    )


def test_a_later_word_that_is_only_heard_replaces_nothing() -> None:
    both = (limit(45, None), limit(40, None, rank=Rank.HEARD))
    assert standing([("2025-11-03", both[0]), ("2026-01-09", both[1])]) == both


def test_new_and_used_parts_keep_limits_of_their_own() -> None:
    both = (limit(45, None, when="new"), limit(42, None, when="used"))
    assert standing([("2025-11-03", both[0]), ("2026-01-09", both[1])]) == both


def test_a_word_of_no_named_source_is_nobody_s_earlier_one() -> None:
    both = (limit(45, None, ""), limit(42, None, ""))
    assert standing([("2025-11-03", both[0]), ("2026-01-09", both[1])]) == both
