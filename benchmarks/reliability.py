"""The store's kills, power cuts and flipped bits, a thousand of each: how many faults they found.

The tests do it (`tests/publish/test_store_crash.py`, `test_power_cut.py`, `tests/writes/test_writes_crash.py`), a few
each; here they are told to do it as often as RELIABILITY says, or 1,000 times, servers and pairs of writers a tenth
of that, and a server is soaked for 0.6 s for each (`tests/http/test_soak.py`). Zero faults in n trials bound the
share of trials with a fault at 3/n with 95 % confidence (the rule of three).
"""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.measurement import Measurement

TESTS = (
    "tests/publish/test_power_cut.py", "tests/publish/test_store_crash.py", "tests/writes/test_writes_crash.py",
    "tests/http/test_soak.py",
)  # fmt: skip
SCALED = "outlasts or kills or flipped or answers_on"
TIMES = "1000"


def run() -> Iterator[Measurement]:
    """One row for each sort of harm; a test that fails before it can tell is a row of its own."""
    with tempfile.TemporaryDirectory() as folder:
        figures = Path(folder) / "figures"
        asked = {"RELIABILITY": TIMES, **os.environ, "RELIABILITY_FIGURES": str(figures)}
        done = subprocess.run([sys.executable, "-m", "pytest", "-q", *TESTS, "-k", SCALED], env=asked, check=False)
        yield from rows(figures)
    if done.returncode:
        yield Measurement("tests that did not end well", done.returncode, None, None, "none", False, "as exit code")


def rows(figures: Path) -> Iterator[Measurement]:
    """What the tests noted, a line each."""
    for line in figures.read_text().splitlines() if figures.exists() else ():
        said = json.loads(line)
        count, faults = said["count"], said["faults"]
        bound = f"; below {3 / count:.2%} of them" if not faults and count > 1 else ""
        what = f"{said['what']}, {count:,} times" if count > 1 else said["what"]
        yield Measurement(what, faults, None, None, "0 faults", not faults, "faults", said["note"] + bound)
