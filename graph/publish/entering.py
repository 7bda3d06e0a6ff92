"""Rows from a form or the command line: checked like a workbook's, then put on the shelf or into the catalogue."""

from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from graph.errors import Conflict, FindingsInTheWay, NotFound
from graph.identifiers import tag_spelling
from graph.index.catalogue import Catalogue
from graph.index.store import Store
from graph.learning import learned_note
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Reading
from graph.model.bench import NOT_ON_RECORD, Proposal
from graph.model.finding import Finding, in_order
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement, subject
from graph.model.value import spelled_code
from graph.publish.checking import known_of
from graph.publish.writing import Guard, publish_statements, record
from graph.sources import read_tables
from graph.sources.tables import Row, Table
from graph.triples.check import Checker

Cells = Mapping[str, str]
MS_A_MINUTE: Final = 60_000
FORM: Final = "form"
"""What stands for the file in a finding about a row that came from no file."""


@dataclass(frozen=True, slots=True)
class Entered:
    """What came of it. `change_set` is None when faults stood in the way, or when every row was known already."""

    findings: tuple[Finding, ...]
    rows: tuple[Statement, ...]
    change_set: ChangeSet | None

    @property
    def faulty(self) -> bool:
        """Whether faults stood in the way; nothing was written then."""
        return any(f.severity == "error" for f in self.findings)

    def sound(self) -> "Entered":
        """The same, for callers that have no place for findings.

        Raises
        ------
        FindingsInTheWay
            There are faults; the message names them all.
        """
        if self.faulty:
            listed = "; ".join(f"{f.origin.column or f.origin.sheet}: {f.why}" for f in self.findings)
            fix = "; ".join(dict.fromkeys(f.mend for f in self.findings if f.mend))
            raise FindingsInTheWay(listed, fix=fix)
        return self


def enter(
    store: Store,
    sheet: str,
    rows: Sequence[Cells],
    *,
    author: str,
    time: str,
    title: str = "",
    correct: bool = False,
    guard: Guard | None = None,
    along: Sequence[Statement] = (),
) -> Entered:
    """Read rows of one sheet as a workbook's rows are read, and write them, all or nothing.

    With `correct` a row that is on record keeps its cells where the new row is silent. Rows of the shelf may have a
    `guard`, asked with the lock held, and others that are known to be sound go `along` in the same change set.

    Raises
    ------
    NotFound
        With `correct`: there is no such row.
    """
    findings, statements = _read(store, sheet, rows, correct=correct)
    if any(f.severity == "error" for f in findings):
        return Entered(tuple(in_order(findings)), (), None)
    if BY_NAME[sheet].clock == "shelf":
        done = record(store, [*statements, *along], author=author, time=time, title=title, guard=guard)
    else:
        with store.locked("publishing"):
            done = publish_statements(store, statements, author=author, time=time, title=title)
    return Entered(tuple(in_order(findings)), tuple(statements), done.change_set)


def check_rows(store: Store, sheet: str, rows: Sequence[Cells]) -> tuple[Finding, ...]:
    """Everything that is wrong with rows of one sheet, as `enter` would find it; nothing is written."""
    return tuple(in_order(_read(store, sheet, rows)[0]))


def _read(
    store: Store, sheet: str, rows: Sequence[Cells], *, correct: bool = False
) -> tuple[list[Finding], list[Statement]]:
    with ExitStack() as stack:
        known = known_of(store, stack)
        read = list(read_tables([table(sheet, rows)], known))
        statements = [s for s in read if isinstance(s, Statement)]
        if correct:
            statements = [_over(known.row(sheet, s.key), s) for s in statements]
        return [f for f in read if isinstance(f, Finding)] + list(Checker().findings(statements)), statements


def enter_core(store: Store, cells: Cells, *, author: str, time: str, correct: bool = False) -> Entered:
    """Take a core in; with `correct`, change what is on record of it, by a new row.

    Raises
    ------
    Conflict
        The tag is taken.
    NotFound
        With `correct`: there is no such core.
    """
    tag = cells.get("tag", "").strip()
    filled = dict(cells)
    if not correct:
        filled.setdefault("received", time[:10])
    title = f"core {tag} {'corrected' if correct else 'taken in'}"
    with store.locked("entering"), ExitStack() as stack:  # two counters may hold one tag at the same moment
        with store.ledger.reading() as reading:
            seen = reading.head().n
        taken = known_of(store, stack).row("cores", (tag,)) is not None
        if taken and not correct:
            raise Conflict(f"there is a core {tag!r} already", fix="take another tag, or say that you correct it")
        if correct and not taken:
            raise NotFound(
                f"there is no core {tag!r} to correct", fix="read the tag again, or take the core in first"
            )
        guard = None if correct else partial(_untaken, tag, seen)
        return enter(store, "cores", [filled], author=author, time=time, title=title, correct=correct, guard=guard)


def _untaken(tag: str, seen: int, reading: Reading) -> None:
    """Refuse a tag that a workbook brought after change set `seen`."""
    for other in reading.tags() if reading.head().n != seen else ():
        if tag_spelling(other) == tag_spelling(tag):
            raise Conflict(f"there is a core {other!r} already", fix="take another tag, or say that you correct it")


def enter_reading(store: Store, cells: Cells, *, author: str, time: str) -> Entered:
    """Write a measurement down: a new claim, beside or after those that are there.

    Who read it and when default to the author and now, the uncertainty to the instrument's on record, the source to
    the shop's own bench sheets if it keeps one. A later reading by the same person with the same instrument at the
    same place counts instead of the earlier one; any other stands beside those that are there.

    Raises
    ------
    Conflict
        No date is given, and this reader's last reading there is later than `time`: it would count in place of this
        one. The clock was set back, or that one was dated ahead.
    """
    catalogue = store.catalogue()
    filled = {name: text for name, text in cells.items() if text.strip()}
    filled["feature"] = _feature(catalogue, filled.get("feature", ""))
    filled.setdefault("who", author)
    dated = "date" in filled
    filled.setdefault("date", time.rstrip("Z"))
    if "source" not in filled:
        own = [s.name for s in catalogue.sources if s.rank == "measured"]
        filled |= {"source": own[0]} if len(own) == 1 else {}
    if "uncertainty" not in filled:
        filled |= _uncertainty(catalogue, filled.get("instrument", ""), filled["feature"])
    if not dated:
        _refuse_clock(store, filled)
    title = f"{filled.get('feature')} of core {filled.get('tag')} read"
    return enter(store, "readings", [filled], author=author, time=time, title=title)


def _refuse_clock(store: Store, cells: Cells) -> None:
    """Raise Conflict when the same reader's reading of the same place is dated later than this one."""
    told = ("seat", "feature", "position", "who", "instrument")
    with store.ledger.reading() as reading:
        rows = list(reading.shelf(reading.head().n, ("readings",), [subject("core", cells.get("tag", ""))]))
    for row in rows:
        same = all(str(row.fields.get(name, "")) == cells.get(name, "").strip() for name in told)
        if same and row.evidence.source == cells.get("source", "") and row.evidence.date > cells["date"]:
            raise Conflict(
                f"{cells['who']} read this last on {row.evidence.date}, and now it is {cells['date']} by the clock",
                fix="set the clock right, or say when it was read",
            )


def enter_found(store: Store, cells: Cells, *, author: str, time: str) -> Entered:
    """Write down what was found in a seat: a part, or its state."""
    filled = {"state": "present", "date": time.rstrip("Z"), **{n: t for n, t in cells.items() if t.strip()}}
    title = f"{filled.get('seat')} of core {filled.get('tag')} looked at"
    return enter(store, "found_parts", [filled], author=author, time=time, title=title)


def accept(store: Store, proposal: Proposal, *, author: str, time: str) -> ChangeSet | None:
    """Put a learned number on record in place of the one that is there, with the jobs behind it as a note.

    Raises
    ------
    NotFound
        What it is about is not on record any more.
    Conflict
        The number on record is no longer the one that the proposal was made from.
    """
    kind, name, *rest = proposal.name.split(":")
    sheet = {"feature": "features", "operation": "operations"}[kind]
    column = "identity_reliability" if kind == "feature" else rest[0]
    with store.ledger.reading() as reading:
        held_now = reading.keyed(sheet, (name,))
    if not held_now:
        raise NotFound(f"there is no {kind} {name!r}", fix="ask for the proposals again")
    row, old = held_now[-1].fields, held_now[-1].evidence
    minutes = column == "minutes"
    held = row.get(column, "")
    if minutes:
        unchanged = isinstance(held, Mapping) and held["amount"] == _ms(proposal.now)
    else:
        unchanged = (held or NOT_ON_RECORD) == proposal.now
    if not unchanged:
        raise Conflict(f"{proposal.what} changed meanwhile", fix="ask for the proposals again")
    said = proposal.proposed
    value = {"amount": _ms(said), "quantity": "time", "text": said, "unit": "min"} if minutes else said
    note = learned_note(old.note, column, proposal, author)
    statement = Statement(sheet, {**row, column: value}, replace(old, date=time[:10], note=note))
    with store.locked("publishing"):
        done = publish_statements(
            store, [statement], author=author, time=time, title=f"{proposal.what}: {proposal.now} becomes {said}"
        )
    return done.change_set


def _ms(minutes: str) -> int:
    return round(float(minutes) * MS_A_MINUTE)


def _feature(catalogue: Catalogue, text: str) -> str:
    """The feature of that name or label; else the text, for the reader to object to."""
    wanted = spelled_code(text.replace("_", " "))
    named = [f.name for f in catalogue.features if spelled_code(f.name.replace("_", " ")) == wanted]
    named = named or [f.name for f in catalogue.features if spelled_code(f.label) == wanted]
    return named[0] if len(named) == 1 else text


def _uncertainty(catalogue: Catalogue, instrument: str, feature: str) -> dict[str, str]:
    for row in catalogue.sheet("instruments"):
        if row.fields["instrument"] == instrument.strip() and row.fields["feature"] == feature:
            size = row.fields["uncertainty"]
            return {"uncertainty": f"{size['text']} {size['unit']}".strip()}
    return {}


def table(sheet: str, rows: Sequence[Cells], file: str = FORM) -> Table:
    """Rows of texts as a sheet; `file` stands for them in findings."""
    header = list(dict.fromkeys(name for row in rows for name, text in row.items() if text.strip()))
    made: list[Row] = [(1, list(header))]
    made += [(place, [row.get(name, "") for name in header]) for place, row in enumerate(rows, 2)]
    return Table(sheet, file, lambda: iter(made))


def _over(old: Mapping[str, object] | None, new: Statement) -> Statement:
    return replace(new, fields={**(old or {}), **new.fields})
