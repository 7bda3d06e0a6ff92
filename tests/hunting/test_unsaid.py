"""What nobody said decides nothing: silence, hearsay and words that stand for a gap."""

from asked_shop import Book, Shop, book, engine, without

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
