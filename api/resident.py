"""A process that stays: it loads at its start what the first question would wait for."""

import gc
from importlib import import_module
from typing import Final

LATER: Final = ("networkx",)
"""What is imported where it is needed, for the sake of short commands."""

THRESHOLDS: Final = (50_000, 20, 100)
"""New objects, and rounds of the younger generations, after which the collector looks: answers make many objects and
few cycles, and Python's own figures spent half of a plan's time on looking."""


def stay() -> None:
    """Load what comes later, and take what is there by now for lasting: the collector does not look through it."""
    for name in LATER:
        import_module(name)
    gc.collect()
    gc.freeze()
    gc.set_threshold(*THRESHOLDS)
