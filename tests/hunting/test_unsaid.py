"""What nobody said decides nothing: silence, hearsay and words that stand for a gap."""

import pytest
from asked_shop import Book, Shop, added, book, changed, engine, findings, value, without

from graph.model.verdict import Verdict


def bare() -> Book:
    """The unit has no sensor."""
    return without(book(), "unit_seats", seat="sensor")


def test_a_seat_stays_empty_only_where_more_than_hearsay_says_that_the_engine_wants_nothing() -> None:
    with Shop(engine(bare(), "plug", value="none")) as shop:
        assert shop.fits().verdict is Verdict.YES
    with Shop(engine(bare(), "plug", value="none", source="gossip")) as shop:
        said = shop.fits()
        assert said.verdict is Verdict.UNKNOWN
        assert [(m.seat, m.feature) for m in said.open] == [("engine", "plug")]
        planned = shop.plan()
        assert planned.verdict is Verdict.UNKNOWN
        assert [(m.seat, m.feature) for m in planned.open] == [("engine", "plug")]


@pytest.mark.parametrize("word", ["unknown", "?", "-", "n/a", "Not known", "TBD", "to be measured"])
def test_two_words_for_not_known_are_no_agreement(word: str) -> None:
    rows = engine(value(book(), "TH-1", "foot", value=word), "foot", value=word)
    assert "code-says-nothing" in findings(rows)
    left_out = without(without(book(), "values", feature="foot"), "engine_values", feature="foot")
    with Shop(left_out) as shop:
        assert shop.fits().verdict is Verdict.UNKNOWN


def test_letters_that_only_look_latin_are_no_other_thread() -> None:
    assert "look-alike-letter" in findings(engine(book(), "oil_thread", value="М12х1.5"))
    assert "look-alike-letter" in findings(added(book(), "cores", tag="К2"))


@pytest.mark.parametrize(
    ("rule", "cells"),
    [
        ("height", {"max": "5"}),  # at most, with a right side: reads min alone
        ("speed", {"max": "1000"}),
        ("opening", {"min": "1"}),
        ("gap", {"set": "ctl"}),
    ],
)
def test_a_limit_that_a_rule_does_not_read_is_a_fault_not_a_pass(rule: str, cells: dict[str, str]) -> None:
    assert "rule-passes-over" in findings(changed(book(), "rules", {"rule": rule}, **cells))


def test_a_height_between_two_ends_is_not_held_by_an_at_most_alone() -> None:
    row = {"layout": "wg", "joint": "env", "rule": "between", "type": "at_most", "left": "cover.height"}
    assert "rule-passes-over" in findings(added(book(), "rules", **row, min="120", max="150", unit="mm"))


def test_a_bearing_bore_read_on_the_actuator_is_doubted() -> None:
    reading = {"tag": "K1", "feature": "bearing_bore", "value": "16.102", "unit": "mm", "date": "2026-02-01"}
    astray = added(without(book(), "readings", seat="bearing_housing"), "readings", seat="actuator", **reading)
    with Shop(astray) as shop:
        assert "reading-out-of-place" in shop.codes
        housing = next(s for s in shop.plan().plans[0].seats if s.seat == "bearing_housing")
        assert housing.source == "new"  # the housing's own bore is still not read
        late = shop.publish({"readings": [[*reading, "seat"], [*reading.values(), "cover"]]})
        assert late.published
        assert "reading-out-of-place" in shop.codes  # by the rules that the store holds
    assert "reading-out-of-place" not in findings(book())


@pytest.mark.parametrize("quantity", ["1", "0", "3"])
def test_a_unit_with_another_number_of_bearings_than_its_seat_is_a_fault(quantity: str) -> None:
    where = {"seat": "bearing"}
    assert "quantity-not-of-the-seat" in findings(changed(book(), "unit_seats", where, quantity=quantity))


def test_a_size_of_zero_is_doubted() -> None:
    assert "size-of-zero" in findings(value(book(), "C-1", "bore", value="0"))


def test_a_limit_of_the_whole_unit_on_a_part_s_size_is_doubted() -> None:
    row = {"maker": "Ostrel", "feature": "journal", "condition": "used", "min": "9.98", "unit": "mm", "source": "dwg"}
    assert "limit-of-a-unit" in findings(added(book(), "limits", unit_or_part="U-1", **row))
    with Shop(added(book(), "limits", unit_or_part="R-1", **row)) as shop:
        assert "limit-of-a-unit" not in shop.codes
        # The journal was read at 9.979: the part's own limit keeps the rotor out.
        assert next(s.source for s in shop.plan().plans[0].seats if s.seat == "rotor") == "new"


@pytest.mark.parametrize("hyphen", ["\u2010", "\u2011", "\u2013", "\u2014", "\u2212"])
def test_a_hyphen_that_a_program_made_longer_is_no_other_code(hyphen: str) -> None:
    with Shop(value(book(), "TH-1", "foot", value=f"T{hyphen}A4")) as shop:
        assert shop.fits().verdict is shop.plan().verdict is Verdict.YES


def test_two_codes_in_a_cell_for_one_are_asked_about() -> None:
    assert "several-codes" in findings(value(book(), "TH-1", "foot", value="T-A4|T-A6"))
