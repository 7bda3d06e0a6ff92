"""The power fails under a writer: what was acknowledged is there, whole, on a disk that lost what was not synced."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from power_cut import Disk, cuts
from scale import times, told
from store_crash import Nursery, acknowledged, chosen_seed

CUTS = 12
A_STORE = 50
"""Cuts on one store; its history, which is recomputed after each, stays short."""


@pytest.fixture(scope="module")
def children() -> Iterator[Nursery]:
    made = Nursery()
    yield made
    made.close()


@pytest.mark.slow
def test_what_was_acknowledged_outlasts_a_power_cut(children: Nursery, tmp_path: Path, disk: Disk) -> None:
    count, seed = times(CUTS), chosen_seed()
    left, kept, found = count, 0, []
    while left and not found:
        log = tmp_path / f"log-{left}"
        found = cuts(children, disk, log, min(left, A_STORE), seed + left)
        kept += len(acknowledged(log))
        left -= min(left, A_STORE)
        disk.emptied()
    told("power cuts under a writer", count, len(found), f"{kept} change sets acknowledged, seed {seed}")
    assert found == []
    assert kept >= count // 2  # the writers did get work done between the cuts


@pytest.mark.slow
@pytest.mark.parametrize("fault", ["unsynced", "too_soon"])
def test_the_harness_sees_what_a_power_cut_takes(children: Nursery, tmp_path: Path, disk: Disk, fault: str) -> None:
    """The controls: a database that is not synced, and a write that is noted before it is made."""
    assert cuts(children, disk, tmp_path / "log", 40, chosen_seed(), **{fault: True}) != []
