"""Run every benchmark, print one line a measurement, and write `benchmarks/RESULTS.md`.

`python -m benchmarks [NAME…]` runs all, or only the named modules.
"""

import importlib
import os
import platform
import sys
from datetime import date
from pathlib import Path

from benchmarks.measurement import Measurement, as_line, as_markdown

MODULES = ("planner", "store", "triples", "identify", "interchange", "depth")


def machine() -> str:
    """This machine in one line: processor, cores, Python."""
    cpu = next(
        (
            line.split(":", 1)[1].strip()
            for line in Path("/proc/cpuinfo").read_text().splitlines()
            if line.startswith("model name")
        )
        if Path("/proc/cpuinfo").exists()
        else iter(()),
        platform.processor() or platform.machine(),
    )
    return f"{cpu}, {os.cpu_count()} cores, Python {platform.python_version()}, {platform.system()}"


def main() -> int:
    """Every module in turn; a failing goal is said (`short`), not raised."""
    names = sys.argv[1:] or list(MODULES)
    rows: list[Measurement] = []
    for name in names:
        for row in importlib.import_module(f"benchmarks.{name}").run():
            rows.append(row)
            print(as_line(row), flush=True)
    if not sys.argv[1:]:
        when = f"{date.today().isoformat()} on {machine()}."
        head = f"# Measured\n\n{when} Medians; both sides of a ratio in one run.\n\n"
        (Path(__file__).parent / "RESULTS.md").write_text(head + as_markdown(rows))
    return 0


if __name__ == "__main__":
    sys.exit(main())
