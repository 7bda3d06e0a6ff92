"""What many tests share: the demo shop in a store, published once a worker."""

import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from demo_graph.tours import publish_demo
from graph.desk import Desk, open_desk

# The same examples on every machine, and no clock: a slow machine is no fault.
settings.register_profile("spoolwright", deadline=None, derandomize=True, database=None)
settings.load_profile("spoolwright")


OUTSIDE = re.compile(
    r"\[((?:iso286|flow|threads|balance|machining|expansion|geometry|graph|units|atmosphere)-\d{3})\]$"
)
"""A test that holds one value from outside carries that value's id, as tests/data/*_cases.json has it."""


HELD = "held"
Held = Callable[..., None]


@pytest.fixture
def held(record_property: Callable[[str, object], None]) -> Held:
    """Counts instances on which planner and a witness that shares no code with it agree: kind, witness, how many."""

    def count(kind: str, witness: str, instances: int) -> None:
        record_property(HELD, (kind, witness, instances))

    return count


def held_against(terminalreporter: pytest.TerminalReporter) -> dict[str, Counter[str]]:
    """For each kind of question the instances of the tests that passed, by witness."""
    counts: dict[str, Counter[str]] = {}
    for report in terminalreporter.stats.get("passed", ()):
        for name, value in report.user_properties:
            if name == HELD:
                kind, witness, instances = value
                counts.setdefault(kind, Counter())[witness] += instances
    return counts


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how many of the values from outside were met, and on how many instances planner and witnesses agreed."""
    counts = held_against(terminalreporter)
    if counts:
        total = sum(n for by in counts.values() for n in by.values())
        terminalreporter.write_line(f"planner instances on which a witness agrees: {total:,}")
        for kind, by in sorted(counts.items()):
            said = ", ".join(f"{witness} {n:,}" for witness, n in by.most_common())
            terminalreporter.write_line(f"  {kind}: {sum(by.values()):,} ({said})")
    met: dict[str, set[str]] = {}
    for report in terminalreporter.stats.get("passed", ()):
        found = OUTSIDE.search(report.nodeid)
        if found:
            met.setdefault(found[1].partition("-")[0], set()).add(found[1])
    if met:
        by_topic = ", ".join(f"{topic} {len(ids)}" for topic, ids in sorted(met.items()))
        total = sum(len(ids) for ids in met.values())
        terminalreporter.write_line(f"values from outside that are met: {total} cases ({by_topic})")


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store's folder with the demo shop in it; tests only read it."""
    folder = tmp_path_factory.mktemp("demo") / "store"
    publish_demo(folder)
    return folder


@pytest.fixture(scope="session")
def demo_desk(demo_folder: Path) -> Iterator[Desk]:
    """A desk over the demo shop."""
    desk = open_desk(demo_folder)
    yield desk
    desk.close()
