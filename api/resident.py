"""A process that stays: it loads at its start what the first question would wait for."""

import gc
import time
from contextlib import suppress
from importlib import import_module
from typing import Final

from graph.desk import Desk
from graph.errors import SpoolwrightError

LATER: Final = ("networkx",)
"""What is imported where it is needed, for the sake of short commands."""

THRESHOLDS: Final = (50_000, 20, 100)
"""New objects, and rounds of the younger generations, after which the collector looks: answers make many objects and
few cycles, and Python's own figures spent half of a plan's time on looking."""

REHEARSED: Final = 3.0
"""Seconds that a server, and each of its workers, takes at its start to look into the builds."""


def rehearse(desk: Desk, day: str, seconds: float = REHEARSED) -> None:
    """Plan each build once, for the first core that is of its layout: what the parts come to with that day's
    prices is remembered.

    As many builds as the seconds are enough for, in their order.
    """
    end = time.monotonic() + seconds
    cores = {core.layout: core for core in reversed(desk.shelf.cores())}
    for build in desk.catalogue.builds:
        left = end - time.monotonic()
        if left > 0 and build.engine and build.layout in cores:
            with suppress(SpoolwrightError):  # whoever asks is told
                desk.plan(cores[build.layout].tag, build.name, day=day, seconds=left)


def stay() -> None:
    """Load what comes later, and take what is there by now for lasting: the collector does not look through it."""
    for name in LATER:
        import_module(name)
    gc.collect()
    gc.freeze()
    gc.set_threshold(*THRESHOLDS)
