"""Python's collector of circular garbage, held back while very many small records are made.

It walks over all records that are alive each time some hundred more are made, which takes a third of a publish; what
it would find there is next to nothing, since records hold no circles.
"""

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

SELDOM: Final = (50_000, 5, 5)
"""Thresholds meanwhile. Not switched off: what drivers and libraries leave in circles is still found."""

_LOCK: Final = threading.Lock()
_before: list[tuple[int, int, int]] = []


@contextmanager
def seldom() -> Iterator[None]:
    """Collect seldom inside the block, in all threads; as before once the last of several blocks is left."""
    with _LOCK:
        _before.append(gc.get_threshold())
        gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        with _LOCK:
            # Blocks of several threads may end in any order: the first one's memory stays to the last.
            first = _before[0]
            _before.pop()
            if not _before:
                gc.set_threshold(*first)
