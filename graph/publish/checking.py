"""Reading a file and finding everything that is wrong with it, without writing anything into the store.

The rows are spooled to a temporary file while they are read, so that a file of any size is held once and never
in memory.
"""

import json
import tempfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

from graph.collector import seldom
from graph.index.store import Store
from graph.ledger.draft import Assertion, Change, Retraction
from graph.ledger.reading import batches, statement_from
from graph.model.finding import Finding, Origin, in_order
from graph.model.statement import Statement
from graph.publish.aside import Place, place
from graph.publish.known import StoreKnown
from graph.sources.known import EmptyKnown, Known
from graph.sources.reading import read
from graph.triples.check import Checker, result
from ontology.report import turtle

Tell = Callable[[str, int], None]
"""Called with what is being done and how many rows of it are done."""

_AT_ONCE: Final = 2_000


@dataclass(frozen=True, slots=True)
class CheckReport:
    """All findings in order, how many sound rows were read, and how many of each sheet."""

    findings: tuple[Finding, ...]
    rows: int
    counts: tuple[tuple[str, int], ...]

    @property
    def faulty(self) -> bool:
        """Whether anything stands in the way of a publish."""
        return any(f.severity == "error" for f in self.findings)

    @property
    def whole(self) -> bool:
        """Whether a fault is one of a whole file, which cannot be set aside."""
        return any(f.severity == "error" and not f.origin.row and not f.origin.sheet for f in self.findings)

    def shacl(self) -> str:
        """The findings as a W3C validation report in Turtle."""
        return turtle(result(f) for f in self.findings)


class Spool:
    """Statements in a temporary file, in the order they came, each in the form in which the ledger writes it."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file
        self._aside: frozenset[Place] = frozenset()
        self._back: list[Retraction] = []

    def take_back(self, statement: str) -> None:
        """Add that a statement is taken back."""
        self._back.append(Retraction(statement))

    def changes(self) -> Iterator[Change]:
        """What is to be written: first what is taken back, then the statements."""
        yield from self._back
        yield from self._assertions()

    def put(self, statement: Statement) -> None:
        """Add one."""
        one = Assertion.of(statement)
        # A tab is escaped in JSON and in a subject, so that it parts them; no row of the shelf has the subject "-".
        subject = "-" if one.subject is None else one.subject
        self._file.write("\t".join((one.statement, one.sheet, one.key, subject, one.content, one.origin)) + "\n")

    def leave_out(self, places: Iterable[Place]) -> None:
        """Pass over the statements that were read there."""
        self._aside = frozenset(places)

    def __iter__(self) -> Iterator[Statement]:
        return (statement_from(one.content, one.origin) for one in self._assertions())

    def _assertions(self) -> Iterator[Assertion]:
        self._file.seek(0)
        for line in self._file:
            statement, sheet, key, subject, content, origin = line[:-1].split("\t")
            if self._aside and place(Origin(*json.loads(origin)) if origin else None) in self._aside:
                continue
            yield Assertion(statement, sheet, key, None if subject == "-" else subject, content, origin)


@dataclass(frozen=True, slots=True)
class Reading:
    """How a file of text is to be read: its encoding, and whether 15,875 means what others write 15.875."""

    encoding: str = "utf-8-sig"
    decimal_comma: bool = False


USUAL: Final = Reading()


def check(
    path: Path, store: Store | None = None, progress: Tell | None = None, *, reading: Reading = USUAL
) -> CheckReport:
    """Everything that is wrong with a file, against what the store holds; nothing is written."""
    with ExitStack() as stack:
        return checked(path, known_of(store, stack), stack, progress, reading)[0]


def known_of(store: Store | None, stack: ExitStack) -> Known:
    """What a store holds, as of this moment, until the stack is closed."""
    return StoreKnown(store, stack.enter_context(store.ledger.reading())) if store else EmptyKnown()


def checked(
    path: Path, known: Known, stack: ExitStack, progress: Tell | None, reading: Reading = USUAL
) -> tuple[CheckReport, Spool]:
    """The report, and the rows that were read, until the stack is closed."""
    items = read(path, known, progress, encoding=reading.encoding, decimal_comma=reading.decimal_comma)
    return gathered(items, stack)


@seldom()
def gathered(items: Iterable[Statement | Retraction | Finding], stack: ExitStack) -> tuple[CheckReport, Spool]:
    """What was read, checked against the shapes and spooled."""
    file = tempfile.TemporaryFile("w+", encoding="utf-8", newline="\n")  # noqa: SIM115 (closed by the stack)
    spool = Spool(stack.enter_context(file))
    checker = Checker()
    findings: list[Finding] = []
    counts: dict[str, int] = {}
    for batch in batches(items, _AT_ONCE):
        statements = [item for item in batch if isinstance(item, Statement)]
        findings += [item for item in batch if isinstance(item, Finding)]
        findings += checker.findings(statements)
        for item in batch:
            if isinstance(item, Retraction):
                spool.take_back(item.statement)
        for statement in statements:
            spool.put(statement)
            counts[statement.sheet] = counts.get(statement.sheet, 0) + 1
    return CheckReport(tuple(in_order(findings)), sum(counts.values()), tuple(sorted(counts.items()))), spool
