"""What was noted while one request was answered: the clocks that it read, and whether it may be kept."""

from contextvars import ContextVar
from dataclasses import dataclass, field

from graph.model.record import Snapshot


@dataclass(slots=True)
class Notes:
    """`clocks`: those of catalogue, shelf and day that the answer rests on. `kept`: it may be given again."""

    clocks: set[str] = field(default_factory=set)
    snapshot: Snapshot | None = None
    kept: bool = True


_NOTES: ContextVar[Notes | None] = ContextVar("notes", default=None)


def begin() -> Notes:
    """Fresh notes for the request that this task answers; threads that work for it see the same."""
    made = Notes()
    _NOTES.set(made)
    return made


def read(clock: str) -> None:
    """The answer rests on this clock."""
    notes = _NOTES.get()
    if notes is not None:
        notes.clocks.add(clock)


def answered_from(snapshot: Snapshot) -> None:
    """The answer comes from this snapshot."""
    notes = _NOTES.get()
    if notes is not None:
        notes.snapshot = snapshot
        notes.clocks.add("catalogue")


def not_kept() -> None:
    """The same question may be answered otherwise next time (it was stopped by its limit), so do not keep this."""
    notes = _NOTES.get()
    if notes is not None:
        notes.kept = False
