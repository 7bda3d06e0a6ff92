"""A shelf that remembers and evidence that is handed out again say what the ledger says, whoever asked before."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from graph.index.held import HeldShelf
from graph.index.same import Same
from graph.index.shelf import Shelf
from graph.index.store import Store
from graph.model.record import Part

DAYS = ("", "2026-01-31", "2026-11-20", "2026-11-28")


@pytest.fixture(scope="module")
def shelves(demo_folder: Path) -> tuple[HeldShelf, Shelf, list[str]]:
    store = Store.open(demo_folder)
    catalogue, shelf = store.snapshot()
    return HeldShelf(store.ledger, shelf.n, catalogue), shelf, catalogue.keys("part", most=1_000)


def test_a_held_shelf_says_what_the_shelf_says_however_often_it_is_asked(
    shelves: tuple[HeldShelf, Shelf, list[str]],
) -> None:
    held, plain, keys = shelves
    assert plain.cores() and plain.rates() and plain.prices(keys) and plain.stocks(keys)
    for some in (keys[::3], keys, keys[1::2], ["part/none/of-these"]):
        for day in (*DAYS, *reversed(DAYS)):
            assert held.prices(some, day) == plain.prices(some, day)
        assert held.stocks(some) == plain.stocks(some)
    assert held.cores() == held.cores() == plain.cores()
    assert held.rates() == held.rates() == plain.rates()
    assert [held.stock(key) for key in keys] == [plain.stock(key) for key in keys]


def test_every_answer_from_memory_is_noted_as_one_that_rests_on_the_shelf(demo_folder: Path) -> None:
    store = Store.open(demo_folder)
    catalogue, shelf = store.snapshot()
    noted: list[int] = []
    held = HeldShelf(store.ledger, shelf.n, catalogue, lambda: noted.append(1))
    some = ["part/x"]
    asks: list[Callable[[], object]] = [
        held.cores,
        held.rates,
        partial(held.stocks, some),
        partial(held.prices, some),
    ]
    for ask in asks:
        for _ in range(2):
            noted.clear()
            ask()
            assert noted == [1]


def test_what_did_not_change_is_the_same_object_at_the_next_change_set(demo_folder: Path) -> None:
    store = Store.open(demo_folder)
    catalogue, shelf = store.snapshot()
    one, other = (HeldShelf(store.ledger, shelf.n, catalogue) for _ in range(2))
    assert all(a is b for a, b in zip(one.cores(), other.cores(), strict=True))


def test_same_tells_apart_what_is_not_equal_and_holds_what_it_knows_by_identity() -> None:
    same = Same()
    first, twin, other = (Part("part/a", "a", number, "wheel", "") for number in ("1", "1", "2"))
    assert same.one(first) is first
    assert same.one(twin) is first
    assert same.one(other) is other
    row = same.row([first, other])
    assert same.row(iter([first, other])) is row
    assert same.row([other, first]) == (other, first)
    assert same.row([twin, other]) is not row, "rows are told apart by identity"
    made = [same.once("number", (Part("part/x", "x", str(n), "wheel", ""),), partial(int, n)) for n in range(200)]
    assert made == list(range(200)), "an object that nobody else holds must not give its place to another"
    assert same.once(1, (first,), lambda: "of one") != same.once(2, (first,), lambda: "of two")


def test_a_full_memory_forgets_and_is_right_all_the_same() -> None:
    same = Same(4)
    parts = [Part(f"part/{n % 7}", "a", str(n % 7), "wheel", "") for n in range(100)]
    assert [same.one(part) for part in parts] == parts
    assert [same.row([part]) for part in parts] == [(part,) for part in parts]
