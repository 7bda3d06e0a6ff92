"""Run every benchmark, print one line a measurement, and write `benchmarks/RESULTS.md`.

`python -m benchmarks [NAME…]` runs all, or only the named modules; each writes a table of its own, with its day.
What counts faults and takes half an hour (`reliability`) runs only when it is named.
"""

import importlib
import os
import platform
import re
import sys
from datetime import date
from pathlib import Path

from benchmarks.measurement import Measurement, as_line, as_markdown

RESULTS = Path(__file__).parent / "RESULTS.md"
HEAD = "# Measured\n\nMedians; both sides of a ratio in one run, a table a module.\n"
MODULES = ("planner", "store", "triples", "identify", "interchange", "depth", "http", "pages")
NAMED_ONLY = ("reliability",)


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


def written(name: str, rows: list[Measurement]) -> None:
    """Put a module's table into the results, in the order of the modules; the other tables stay as they are."""
    when = f"{date.today().isoformat()} on {machine()}."
    sections = dict(re.findall(r"^## (\w+)\n(.*?)(?=^## |\Z)", _results(), flags=re.S | re.M))
    sections[name] = f"\n{when}\n\n{as_markdown(rows)}\n"
    tables = "".join(f"## {one}\n{sections[one]}" for one in (*MODULES, *NAMED_ONLY) if one in sections)
    RESULTS.write_text(f"{HEAD}\n{tables}".rstrip() + "\n")


def _results() -> str:
    return RESULTS.read_text() if RESULTS.exists() else ""


def main() -> int:
    """Every module in turn; a failing goal is said (`short`), not raised."""
    for name in sys.argv[1:] or MODULES:
        rows = []
        for row in importlib.import_module(f"benchmarks.{name}").run():
            rows.append(row)
            print(as_line(row), flush=True)
        written(name, rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())
