"""One measurement: what was measured, ours beside theirs, the goal, and whether it holds."""

import re
import resource
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Measurement:
    """`theirs` and `ratio` are None where there is nothing to compare with; `note` says what a number needs said."""

    what: str
    ours: float
    theirs: float | None
    ratio: float | None
    goal: str
    holds: bool
    unit: str = "s"
    note: str = ""

    @property
    def word(self) -> str:
        """`holds` or `short`."""
        return "holds" if self.holds else "short"


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.3g}" if abs(value) < 1000 else f"{value:,.0f}"


def _cells(m: Measurement) -> tuple[str, ...]:
    ours, theirs = (f"{_number(v)} {m.unit}" if v is not None else "–" for v in (m.ours, m.theirs))
    return (m.what, ours, theirs, _number(m.ratio), m.goal or "–", m.word, m.note)


def as_line(m: Measurement) -> str:
    """The measurement as one line of text."""
    what, ours, theirs, ratio, goal, word, note = _cells(m)
    return f"{what}: ours {ours}, theirs {theirs}, ratio {ratio}, goal {goal}: {word}" + (
        f" ({note})" if note else ""
    )


def as_markdown(rows: Iterable[Measurement]) -> str:
    """The measurements as a table."""
    head = ("what", "ours", "theirs", "ratio", "goal", "", "note")
    lines = ["| " + " | ".join(head) + " |", "|" + " --- |" * len(head)]
    return "\n".join([*lines, *("| " + " | ".join(_cells(m)) + " |" for m in rows)]) + "\n"


def peak() -> float:
    """The most memory that this program held since it began [MiB]; a fork's memory before that does not count."""
    status = Path("/proc/self/status")
    found = re.search(r"VmHWM:\s+(\d+) kB", status.read_text()) if status.exists() else None
    return int(found[1]) / 1024 if found else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
