"""Change sets in the making, checked as one whole and committed as one change set.

An item `back` holds the ids of statements that are taken back. Only claims and edges are taken back one by one;
whatever others may rest on goes by undoing a change set.
"""

import json
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from graph.errors import FindingsInTheWay
from graph.index.store import Store
from graph.ledger.draft import Retraction
from graph.ledger.notes import carrying
from graph.ledger.reading import Reading
from graph.ledger.staging import Item, Staging, mark_committed
from graph.model.finding import Finding, Origin, in_order
from graph.model.sheet import SHEETS
from graph.model.statement import Statement
from graph.publish.aside import faulty_places, resting_on
from graph.publish.checking import CheckReport, Spool, gathered, known_of
from graph.publish.entering import table
from graph.publish.known import Over
from graph.publish.writing import Published, publish_statements
from graph.sources import KnownStatements, read, read_tables
from graph.sources.known import Known

_SUFFIX: Final = {"csv": ".csv", "zip": ".zip", "xlsx": ".xlsx", "ttl": ".ttl", "nq": ".nq", "jsonld": ".jsonld"}
TAKEN_BACK: Final = frozenset(s.name for s in SHEETS if s.settled == "ranked") | {"supersession", "interchange"}
"""Sheets whose rows are taken back one by one: claims, and edges between two things; no row points to one of them."""


def check_staged(
    store: Store, id_: str, stack: ExitStack, version: int | None = None, *, set_aside: bool = False
) -> tuple[CheckReport, Spool]:
    """Everything that is wrong with a change set in the making, and its rows until the stack is closed.

    An item may rest on the items before it. With `set_aside` faulty rows, and those that point to them, are left out
    of the rows; they are in the report all the same.
    """
    items = Staging(store.ledger).bodies(id_, version)
    with ExitStack() as looking:  # a held snapshot lets the WAL grow
        known = known_of(store, looking)
        report, spool = gathered(_read(items, known, looking.enter_context(store.ledger.reading())), stack)
        if set_aside and report.faulty:
            aside = faulty_places(report.findings)
            further = resting_on(aside, spool, known)
            spool.leave_out(aside)
            report = CheckReport(tuple(in_order([*report.findings, *further])), report.rows, report.counts)
    return report, spool


def commit_staged(
    store: Store,
    id_: str,
    version: int,
    *,
    head: int,
    author: str,
    time: str,
    title: str = "",
    set_aside: bool = False,
) -> Published:
    """Check it once more and publish it, all or nothing; with `set_aside` without the faulty rows.

    Raises
    ------
    FindingsInTheWay
        It has faults; a check lists them.
    Stale
        Either the change has another version, or the last change set is not `head`.
    Conflict
        It is committed or dropped already.
    """
    store.recover()
    staged = Staging(store.ledger).get(id_)
    with store.locked("publishing"), ExitStack() as stack:
        report, spool = check_staged(store, id_, stack, version, set_aside=set_aside)
        if report.faulty and (not set_aside or report.whole):
            first, *rest = [f for f in report.findings if f.severity == "error"]
            where = f"{first.origin.file}, {first.origin.sheet}, row {first.origin.row}"
            raise FindingsInTheWay(
                f"{len(rest) + 1} faults; the first: {where}: {first.why}",
                fix="check the change: it lists all of them with how to mend them",
            )
        with carrying(lambda connection, n: mark_committed(connection, id_, version, n)):
            changes = spool.changes()
            return publish_statements(
                store, changes, author=author, time=time, title=title or staged.title, head=head
            )


def _read(
    items: Sequence[tuple[Item, bytes]], known: Known, reading: Reading
) -> Iterator[Statement | Retraction | Finding]:
    earlier: list[Statement] = []
    for item, body in items:
        if item.form == "back":
            yield from _back(item, json.loads(body), reading)
            continue
        before: Known = Over(KnownStatements(earlier), known) if earlier else known
        for one in _item(item, body, before):
            yield one
            if isinstance(one, Statement) and len(items) > 1:
                earlier.append(one)


def _back(item: Item, ids: Sequence[str], reading: Reading) -> Iterator[Retraction | Finding]:
    live = {h.statement.id: h.statement for h in reading.known(ids) if h.to_n is None}
    for row, id_ in enumerate(ids, 1):
        statement = live.get(id_)
        origin = Origin(item.name or f"item {item.number}", statement.sheet if statement else "statements", row)
        if statement is None:
            why = "The row does not hold any more, or never did; there is nothing to take back."
            yield Finding("nothing-to-take-back", "warning", origin, id_, why, "Leave it out.")
        elif statement.sheet not in TAKEN_BACK:
            why = f"Other rows may rest on a row of {statement.sheet}, so it is not taken back by itself."
            mend = "Publish the row with what is right, or undo the change set that brought it."
            yield Finding("others-rest-on-it", "error", origin, " ".join(statement.key), why, mend)
        else:
            yield Retraction(id_)


def _item(item: Item, body: bytes, known: Known) -> Iterator[Statement | Finding]:
    if item.form == "rows":
        yield from read_tables([table(item.name, json.loads(body), f"item {item.number}")], known)
        return
    with tempfile.TemporaryDirectory(prefix="spoolwright-") as folder:
        plain = "".join(c if c.isalnum() or c in "-_ " else "-" for c in Path(item.name).stem) or "file"
        place = Path(folder) / f"{plain}{_SUFFIX[item.form]}"
        place.write_bytes(body)
        yield from read(place, known)
