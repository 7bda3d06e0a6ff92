"""Publishing a file: read, check, append, compile, switch; all of it or nothing."""

from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from graph.index.store import Store
from graph.ledger.chain import ChangeSet
from graph.ledger.draft import Change
from graph.model.finding import Finding, Origin, in_order
from graph.publish.aside import Place, faulty_places, resting_on
from graph.publish.checking import USUAL, CheckReport, Reading, Tell, checked, known_of
from graph.publish.writing import publish_statements

_STEP: Final = 5_000


@dataclass(frozen=True, slots=True)
class PublishReport:
    """What came of publishing a file.

    `published` is False when faults stood in the way; nothing was written then. `change_set` is None, too, when
    every row was known already. `aside` are the rows that were kept out on the caller's word.
    """

    published: bool
    findings: tuple[Finding, ...]
    rows: int
    unchanged: int
    aside: tuple[Origin, ...]
    change_set: ChangeSet | None
    catalogue: str

    def lines(self) -> list[str]:
        """The report in a few plain lines, the findings apart."""
        if not self.published:
            errors = sum(f.severity == "error" for f in self.findings)
            return [f"Nothing was published: {errors} faults in {self.rows} rows read."]
        lines = [f"{o.file}, {o.sheet}, row {o.row} was set aside." for o in self.aside]
        if self.change_set is None:
            return [*lines, f"All {self.unchanged} rows were known already; nothing was written."]
        known = f", {self.unchanged} rows were known already" if self.unchanged else ""
        written = f"Change set {self.change_set.n} has {self.change_set.count} entries{known}"
        return [*lines, f"{written}; catalogue {self.catalogue} is live."]


def publish(
    path: Path,
    store: Store,
    *,
    author: str,
    time: str,
    title: str = "",
    set_aside: bool = False,
    reading: Reading = USUAL,
    progress: Tell | None = None,
) -> PublishReport:
    """Check a file and publish it.

    With `set_aside` faulty rows, and those that point to them, stay out and are listed. A fault of a whole
    file is always in the way.
    """
    store.recover()
    with store.locked("publishing"), ExitStack() as stack:
        aside: set[Place] = set()
        with ExitStack() as looking:  # ends before the writing: a held snapshot lets the WAL grow
            known = known_of(store, looking)
            report, spool = checked(path, known, stack, progress, reading)
            if set_aside and report.faulty:
                aside = faulty_places(report.findings)
                report = _with(report, resting_on(aside, spool, known))
                spool.leave_out(aside)
        if report.faulty and (not set_aside or any(row == 0 and not sheet for _, sheet, row in aside)):
            return PublishReport(False, report.findings, report.rows, 0, (), None, store.catalogue().id)
        done = publish_statements(
            store,
            _told(spool.changes(), progress),
            author=author,
            time=time,
            title=title,
            progress=(lambda count: progress("compiling", count)) if progress else None,
        )
        kept_out = tuple(Origin(*one) for one in sorted(aside))
        return PublishReport(
            True, report.findings, report.rows, done.unchanged, kept_out, done.change_set, done.catalogue
        )


def _with(report: CheckReport, further: list[Finding]) -> CheckReport:
    return CheckReport(tuple(in_order([*report.findings, *further])), report.rows, report.counts)


def _told(changes: Iterable[Change], progress: Tell | None) -> Iterator[Change]:
    for count, change in enumerate(changes, 1):
        yield change
        if progress and count % _STEP == 0:
            progress("recording", count)
