"""Change sets in the making, checked as one whole and committed as one change set."""

import json
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Final

from graph.errors import FindingsInTheWay
from graph.index.store import Store
from graph.ledger.notes import carrying
from graph.ledger.staging import Item, Staging, mark_committed
from graph.model.finding import Finding
from graph.model.statement import Statement
from graph.publish.checking import CheckReport, Spool, gathered, known_of
from graph.publish.entering import table
from graph.publish.known import Over
from graph.publish.writing import Published, publish_statements
from graph.sources import KnownStatements, read, read_tables
from graph.sources.known import Known

_SUFFIX: Final = {"csv": ".csv", "xlsx": ".xlsx", "ttl": ".ttl", "nq": ".nq", "jsonld": ".jsonld"}


def check_staged(store: Store, id_: str, stack: ExitStack, version: int | None = None) -> tuple[CheckReport, Spool]:
    """Everything that is wrong with a change set in the making, and its rows until the stack is closed.

    An item may rest on the items before it.
    """
    items = Staging(store.ledger).bodies(id_, version)
    with ExitStack() as looking:  # a held snapshot lets the WAL grow
        return gathered(_read(items, known_of(store, looking)), stack)


def commit_staged(
    store: Store, id_: str, version: int, *, head: int, author: str, time: str, title: str = ""
) -> Published:
    """Check it once more and publish it, all or nothing.

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
        report, spool = check_staged(store, id_, stack, version)
        if report.faulty:
            first, *rest = [f for f in report.findings if f.severity == "error"]
            where = f"{first.origin.file}, {first.origin.sheet}, row {first.origin.row}"
            raise FindingsInTheWay(
                f"{len(rest) + 1} faults; the first: {where}: {first.why}",
                fix="check the change: it lists all of them with how to mend them",
            )
        with carrying(lambda connection, n: mark_committed(connection, id_, version, n)):
            return publish_statements(store, spool, author=author, time=time, title=title or staged.title, head=head)


def _read(items: Sequence[tuple[Item, bytes]], known: Known) -> Iterator[Statement | Finding]:
    earlier: list[Statement] = []
    for item, body in items:
        before: Known = Over(KnownStatements(earlier), known) if earlier else known
        for one in _item(item, body, before):
            yield one
            if isinstance(one, Statement) and len(items) > 1:
                earlier.append(one)


def _item(item: Item, body: bytes, known: Known) -> Iterator[Statement | Finding]:
    if item.form == "rows":
        yield from read_tables([table(item.name, json.loads(body), f"item {item.number}")], known)
        return
    with tempfile.TemporaryDirectory(prefix="spoolwright-") as folder:
        plain = "".join(c if c.isalnum() or c in "-_ " else "-" for c in Path(item.name).stem) or "file"
        place = Path(folder) / f"{plain}{_SUFFIX[item.form]}"
        place.write_bytes(body)
        yield from read(place, known)
