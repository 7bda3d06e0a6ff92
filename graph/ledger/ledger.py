"""The ledger: append-only change sets of statements, chained by their hashes.

Rule 1: nothing that was written is changed; a correction or an undo is a change set of its own.
Rule 2: no clock is read here; the caller says the time.
Rule 3: after a commit whose outcome is not known, no more is written until the ledger is opened afresh.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, func, inspect, select

from graph.errors import StoreDamaged, StoreFull, StoreReadOnly
from graph.ledger.connect import engine_for, hold_snapshot, lock_head, telling_full
from graph.ledger.draft import Draft
from graph.ledger.notes import put_down
from graph.ledger.reading import Reading
from graph.ledger.sidetables import LAST
from graph.ledger.tables import CHANGE_SETS, FORMAT, METADATA
from graph.ledger.verify import chain_faults, database_faults, entry_faults


class Ledger:
    """One ledger in a SQLite file or a PostgreSQL database."""

    def __init__(self, target: Path | str) -> None:
        self.target = target
        self._engine = engine_for(target)
        self._broken = ""
        self._checked = -1  # the change set up to which this process has followed the chain
        self._whole = False  # whether every table is known to be there

    def create(self) -> None:
        """Make the tables that are not there."""
        with self._engine.execution_options(writes=True).begin() as connection:
            METADATA.create_all(connection)

    @property
    def exists(self) -> bool:
        """Whether the tables are there."""
        return inspect(self._engine).has_table(CHANGE_SETS.name)

    def close(self) -> None:
        """Give the connections back."""
        self._engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Reading]:
        """One moment of the ledger, whatever is written meanwhile."""
        with self._engine.connect() as connection, connection.begin():
            hold_snapshot(connection)
            yield Reading(connection)

    @property
    def engine(self) -> Engine:
        """For what a database alone can do: locks across machines, a copy of itself."""
        return self._engine

    def complete(self) -> None:
        """Make the tables that an earlier program did not know."""
        if not self._whole:
            if not inspect(self._engine).has_table(LAST.name):
                self.create()
            self._whole = True

    @contextmanager
    def reading_beside(self) -> Iterator[Connection]:
        """One moment of the tables beside the record."""
        self.complete()
        with self.reading() as reading:
            yield reading.connection

    @contextmanager
    def writing_beside(self) -> Iterator[Connection]:
        """A transaction on the tables beside the record; nobody else writes meanwhile.

        Raises
        ------
        StoreDamaged
            A newer program wrote here, the chain does not hold, or an earlier commit's outcome is not known.
        """
        with self._transaction() as connection:
            yield connection
            put_down(connection, None)

    @contextmanager
    def writing(self, author: str, time: str, title: str = "") -> Iterator[Draft]:
        """A draft that is committed when the block ends without an exception, and vanishes otherwise.

        Raises
        ------
        StoreDamaged
            The chain does not hold, a newer program wrote here, or an earlier commit's outcome is not known.
        """
        with self._transaction() as connection:
            draft = Draft(connection, author, time, title)
            yield draft
            if draft.unsealed:
                raise RuntimeError("a draft was written and not sealed")
            put_down(connection, draft.sealed)

    @contextmanager
    def _transaction(self) -> Iterator[Connection]:
        self._refuse_broken()
        self.complete()
        with self._engine.connect().execution_options(writes=True) as connection:
            transaction = connection.begin()
            try:
                with telling_full():
                    lock_head(connection)
                    self._refuse_damaged(Reading(connection))
                    yield connection
            except BaseException:
                transaction.rollback()
                raise
            try:
                with telling_full():
                    transaction.commit()
            except StoreFull:
                connection.invalidate()
                raise
            except BaseException as error:
                self.stop(f"{type(error).__name__}: {error}")
                raise

    def stop(self, why: str) -> None:
        """Write no more through this object: what is on disk has to be read anew first."""
        self._broken = why

    def _refuse_broken(self) -> None:
        if self._broken:
            raise StoreDamaged(
                f"an earlier write ended without an answer ({self._broken}); nothing more is written",
                fix="free the disk, start the program again and look at the history: the write is whole or absent",
            )

    def _refuse_damaged(self, reading: Reading) -> None:
        newest = reading.connection.execute(select(func.max(CHANGE_SETS.c.format))).scalar() or 0
        if newest > FORMAT:
            raise StoreDamaged(
                f"a newer program wrote format {newest} here; this one knows {FORMAT} and only reads",
                fix="use the newer program to write",
            )
        faults, self._checked = chain_faults(reading, max(self._checked, 0))
        if faults:
            self._checked = -1
            raise StoreDamaged(f"the chain is broken: {faults[0].why}", fix="restore a backup; reading goes on")

    def verify(self) -> list[str]:
        """Everything that is wrong with the ledger, by recomputing all of it; empty when it is sound.

        Raises
        ------
        StoreReadOnly
            It is where nothing may be written, and cannot be opened there.
        """
        try:
            with self.reading() as reading:
                faults, _ = chain_faults(reading, 0)
                return [f.why for f in [*database_faults(reading), *faults, *entry_faults(reading)]]
        except StoreReadOnly:
            raise  # which says nothing of the record
        except Exception as error:  # a flipped bit may surface as any error; each of them means damage
            return [f"the database cannot be read: {type(error).__name__}: {error}"]
