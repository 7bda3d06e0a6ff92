"""Holding Python's collector back: held while any block is open, and as before after the last."""

import gc

import pytest

from graph.collector import SELDOM, seldom


def test_the_collector_is_held_back_until_the_last_block_is_left() -> None:
    before = gc.get_threshold()
    assert before != SELDOM
    one, other = seldom(), seldom()
    one.__enter__()
    other.__enter__()
    assert gc.get_threshold() == SELDOM
    one.__exit__(None, None, None)  # as of another thread, which need not end last
    assert gc.get_threshold() == SELDOM
    other.__exit__(None, None, None)
    assert gc.get_threshold() == before


def test_an_error_inside_sets_it_back() -> None:
    before = gc.get_threshold()
    with pytest.raises(ValueError), seldom():
        raise ValueError
    assert gc.get_threshold() == before
