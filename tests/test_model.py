"""The plain records: one text for one content, and JSON that reads back to the same thing."""

import pytest

from graph.errors import BadFile
from graph.model.bundle import PlanQuestion
from graph.model.codec import from_json, to_json
from graph.model.record import Demand
from graph.model.statement import Evidence, Statement, subject
from graph.model.value import Amount, Code, CodeSet, spelled_code


@pytest.mark.parametrize(
    "value",
    [Amount(523_875_000, "length", "2 1/16", "in"), Code("m12x1.25", "M12 x 1.25"), CodeSet(("a", "b"), "a|b"), None],
)
def test_a_record_survives_its_own_json(value: Amount | Code | CodeSet | None) -> None:
    demand = Demand("b", "turbine-wheel", "exducer", "same", value)
    assert from_json(Demand, to_json(demand)) == demand


def test_a_saved_answer_with_a_stranger_field_is_refused() -> None:
    data = to_json(PlanQuestion("core/1", "build/1", "engine/1"))
    with pytest.raises(BadFile, match="discount"):
        from_json(PlanQuestion, {**data, "discount": 1})


def test_yes_is_not_a_number() -> None:
    data = to_json(PlanQuestion("core/1", "build/1", "engine/1"))
    with pytest.raises(BadFile, match="best"):
        from_json(PlanQuestion, {**data, "best": True})


def test_the_same_row_read_twice_is_the_same_statement() -> None:
    one = Statement("kinds", {"kind": "seal", "label": "seal ring"}, Evidence(source="notes"))
    two = Statement.of(one.content())
    assert (one.id, one) == (two.id, two)


def test_a_statement_of_another_source_is_another_statement() -> None:
    one = Statement("kinds", {"kind": "seal", "label": "seal ring"}, Evidence(source="notes"))
    two = Statement("kinds", {"kind": "seal", "label": "seal ring"}, Evidence(source="drawing"))
    assert one.id != two.id


def test_a_slash_in_a_number_does_not_make_another_thing() -> None:
    assert subject("part", "A", "1/2") != subject("part", "A/1", "2")


def test_a_code_has_one_spelling() -> None:
    assert spelled_code("Ｍ12 × 1.25") == spelled_code("m12  x 1.25") == "m12 x 1.25"
