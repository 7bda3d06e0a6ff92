"""Statements held against the shapes, in batches, as findings.

Rule 1: only one row of each form is validated (`ontology.forms` says why that is exact); its results are told of
every row of that form.
Rule 2: no batch holds more than `size` rows, whatever comes in.
"""

from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field
from itertools import islice
from typing import Any, Final, TypeVar
from urllib.parse import quote

from graph.model.finding import Finding, Origin, Severity
from graph.model.statement import Statement
from graph.triples.write import to_triples
from ontology.forms import form
from ontology.report import Result
from ontology.terms import EVIDENCE, ID, NS, SHEETS, STATEMENT, VALUE
from ontology.validate import validate

T = TypeVar("T")
BATCH: Final = 2000


def batches(items: Iterable[T], size: int) -> Iterator[list[T]]:
    """The items in lists of `size`, the last one shorter.

    >>> [len(batch) for batch in batches(range(5), 2)]
    [2, 2, 1]
    """
    source = iter(items)
    while batch := list(islice(source, size)):
        yield batch


@dataclass(frozen=True, slots=True)
class _Fault:
    """What the shapes say of every row of one form."""

    column: str
    message: str
    severity: Severity


@dataclass(slots=True)
class Checker:
    """Holds statements against the shapes and remembers the forms it has seen, over any number of batches."""

    known: dict[Hashable, tuple[_Fault, ...]] = field(default_factory=dict)
    validated: int = 0
    """How many rows went through SHACL itself."""

    def findings(self, statements: Iterable[Statement], *, size: int = BATCH) -> Iterator[Finding]:
        """A finding for each fault of each statement, in the order of the statements."""
        for batch in batches(statements, size):
            forms = [form(s.sheet, s.fields, _said(s)) for s in batch]
            new = {f: s for f, s in zip(forms, batch, strict=True) if f not in self.known}
            if new:
                self._learn(new)
            for one, statement in zip(forms, batch, strict=True):
                for fault in self.known[one]:
                    yield _finding(fault, statement)

    def _learn(self, new: dict[Hashable, Statement]) -> None:
        by_id: dict[str, list[Result]] = {}
        for result in validate(to_triples(new.values())):
            by_id.setdefault(_statement_of(result.focus), []).append(result)
        for one, statement in new.items():
            results = by_id.get(statement.id, [])
            self.known[one] = tuple(dict.fromkeys(_fault(r, statement.sheet) for r in results))
        self.validated += len(new)


def findings(statements: Iterable[Statement], *, size: int = BATCH) -> Iterator[Finding]:
    """What the shapes say against the statements; nothing if they conform."""
    return Checker().findings(statements, size=size)


def result(finding: Finding) -> Result:
    """A finding of plain code as a result of a validation report: its row as focus, its column as path."""
    origin = finding.origin
    place = "/".join(part for part in (origin.file, origin.sheet, str(origin.row) if origin.row else "") if part)
    known = SHEETS.get(origin.sheet)
    name = (dict(known.columns) | dict(EVIDENCE)).get(origin.column, "") if known else ""
    return Result(
        focus=ID + "row/" + quote(place, safe="/"),
        path=NS + name if name else "",
        value=finding.found,
        message=f"{finding.why} {finding.mend}".strip(),
        severity=finding.severity,
    )


def _said(statement: Statement) -> dict[str, str]:
    return {column: getattr(statement.evidence, column) for column in EVIDENCE}


def _statement_of(focus: str) -> str:
    if focus.startswith(VALUE):
        return focus.removeprefix(VALUE).partition("-")[0]
    return focus.removeprefix(STATEMENT)


def _fault(found: Result, sheet: str) -> _Fault:
    """The column that a result speaks of: of a value's node, the column that the value stands in."""
    name = found.focus.partition("-")[2] if found.focus.startswith(VALUE) else found.path.removeprefix(NS)
    columns = {p: column for column, p in (*SHEETS[sheet].columns.items(), *EVIDENCE.items())}
    severity: Severity = "warning" if found.severity == "warning" else "error"
    return _Fault(columns.get(name, ""), found.message, severity)


def _finding(fault: _Fault, statement: Statement) -> Finding:
    origin = statement.origin or Origin("")
    place = Origin(origin.file, statement.sheet, origin.row, fault.column)
    why, _, mend = fault.message.partition(": ")
    return Finding("shape", fault.severity, place, _found(statement, fault.column), why, mend)


def _found(statement: Statement, column: str) -> str:
    cell: Any = statement.fields.get(column, getattr(statement.evidence, column, "") if column in EVIDENCE else "")
    if isinstance(cell, dict):
        return f"{cell.get('text', '')} {cell.get('unit', '')}".strip()
    if isinstance(cell, list | tuple):
        return "|".join(str(item) for item in cell)
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return str(cell)[:200]
