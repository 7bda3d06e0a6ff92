"""The ledger recomputed: headings, entries, what holds, and the head that is kept outside the database."""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

from sqlalchemy import func, select, text

from graph.ledger.chain import EMPTY, ChangeSet, Entry, Tally, state_after, statement_id
from graph.ledger.reading import AT_ONCE, Reading, key_text, shelf_subject, statement_from
from graph.ledger.tables import ENTRIES, LIFE
from graph.model.sheet import BY_NAME


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong, and the change set it shows in (0: none in particular)."""

    n: int
    why: str


def chain_faults(reading: Reading, after: int) -> tuple[list[Fault], int]:
    """Broken links among the headings after a number that was followed before, and the last number."""
    faults: list[Fault] = []
    before = reading.change_set(after) if after else None
    for heading in reading.history(after):
        faults += _heading_faults(heading, before)
        before = heading
    return faults, before.n if before else 0


def _heading_faults(heading: ChangeSet, before: ChangeSet | None) -> Iterator[Fault]:
    n = heading.n
    if replace(heading, hash="").hashed() != heading.hash:
        yield Fault(n, f"change set {n}: its heading does not give its hash")
    if heading.parent != (before.hash if before else EMPTY) or n != (before.n if before else 0) + 1:
        yield Fault(n, f"change set {n} does not follow the one before it")
    if heading.first != (before.first + before.count if before else 1):
        yield Fault(n, f"change set {n}: its entries do not follow those before it")


def database_faults(reading: Reading) -> Iterator[Fault]:
    """What the database says about itself: pages, indexes against tables, dangling rows."""
    if reading.connection.dialect.name != "sqlite":
        return
    for (line,) in reading.connection.execute(text("PRAGMA integrity_check")):
        if line != "ok":
            yield Fault(0, f"the database file is damaged: {line}")
    for row in reading.connection.execute(text("PRAGMA foreign_key_check")):
        yield Fault(0, f"a row of {row[0]} refers to nothing")


def entry_faults(reading: Reading) -> Iterator[Fault]:
    """Entries that do not give their digest, ids or state, and a `life` that does not follow from them."""
    state = EMPTY
    births, ends = Tally(), Tally()
    for heading in list(reading.history()):
        lines = hashlib.sha256()
        added: list[str] = []
        removed: list[str] = []
        count = 0
        for at, entry in enumerate(reading.entries(heading), heading.first):
            count += 1
            lines.update(entry.line)
            yield from _entry_faults(heading.n, entry)
            if BY_NAME[entry.sheet].clock == "catalogue":
                (added if entry.op == "+" else removed).append(entry.statement)
            if entry.op == "+":
                subject = shelf_subject(statement_from(entry.content))
                births.add(at, heading.n, entry.statement, entry.sheet, entry.key, subject)
            else:
                ends.add(heading.n, entry.statement)
        state = state_after(state, added, removed)
        if count != heading.count or lines.hexdigest() != heading.entries:
            yield Fault(heading.n, f"change set {heading.n}: its entries do not give their digest")
        if state != heading.state:
            yield Fault(heading.n, f"change set {heading.n}: its state does not follow from its entries")
    yield from _stray_faults(reading)
    yield from _life_faults(reading, births, ends)


def _stray_faults(reading: Reading) -> Iterator[Fault]:
    by_n = select(ENTRIES.c.n, func.min(ENTRIES.c.at), func.count()).group_by(ENTRIES.c.n)
    found = {n: (first, count) for n, first, count in reading.connection.execute(by_n)}
    said = {heading.n: (heading.first, heading.count) for heading in reading.history()}
    for n in sorted(n for n in found.keys() | said.keys() if found.get(n) != said.get(n)):
        yield Fault(n, f"change set {n}: entries are missing, or there are some that belong to none")


def _entry_faults(n: int, entry: Entry) -> Iterator[Fault]:
    if entry.op == "+" and statement_id(entry.content) != entry.statement:
        yield Fault(n, f"change set {n}: {entry.statement} is not what its content says")
    elif entry.op == "+" and key_text(statement_from(entry.content).key) != entry.key:
        yield Fault(n, f"change set {n}: {entry.statement} is filed under another key")


def _life_faults(reading: Reading, births: Tally, ends: Tally) -> Iterator[Fault]:
    for row in reading.connection.execute(select(LIFE), execution_options={"yield_per": AT_ONCE}):
        births.total -= _weight_of(row.at, row.from_n, row.statement, row.sheet, row.key, row.subject)
        if row.to_n is not None:
            ends.total -= _weight_of(row.to_n, row.statement)
    if births.total or ends.total:
        yield Fault(0, "what holds (table life) does not follow from the entries")


def _weight_of(*row: object) -> int:
    one = Tally()
    one.add(*row)
    return one.total
