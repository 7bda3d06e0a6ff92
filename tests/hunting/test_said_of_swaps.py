"""What the sentence of a swap says is done, or left out, is what its plan does."""

from asked_shop import Shop, book, engine

from graph.model.verdict import Verdict


def test_a_part_that_has_to_come_out_is_named() -> None:
    with Shop(engine(book(), "plug", value="none")) as shop:
        said = shop.fits()
    assert said.verdict is Verdict.WITH_WORK
    assert said.plan is not None
    assert {c.seat for c in said.plan.seats if c.source == "empty"} >= {"sensor"}
    assert "leave out the sensor" in said.sentence
    assert "nothing but" not in said.sentence
