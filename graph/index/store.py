"""The store's folder: ledger, index files, which of them is live, and the head kept outside the database.

    ledger.sqlite   the record, unless it is in a PostgreSQL database
    LEDGER          the address of that database, then; for its owner's eyes
    index/          one file a catalogue, named by its id
    CURRENT         id of the live catalogue
    head            number and hash of the last change set, so that a lost tail of the ledger is noticed
    DAMAGED         what `verify` found; while it is there nothing is written
    lock            held by the one that writes; publishing: held by the one that publishes

A reader takes the live catalogue and the last change set that left the catalogue so: both clocks always
belong together, also while a publish is between its commit and the switch.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Final

from graph.errors import Conflict, NotFound, StoreDamaged, StoreFull, StoreReadOnly
from graph.index.catalogue import Catalogue
from graph.index.compile import Progress, catalogue_id, compile_all, compile_changes, sync
from graph.index.file import SQLITE, IndexFile
from graph.index.shelf import Shelf
from graph.ledger.chain import ChangeSet
from graph.ledger.connect import is_full, telling_full, telling_read_only
from graph.ledger.ledger import Ledger
from graph.ledger.reading import Reading

ELSEWHERE: Final = "LEDGER"
KEPT: Final = 3
"""Index files that stay, the live one included; older ones are compiled again when asked for."""

PATCHED_MOST: Final = 20_000
"""Entries up to which the previous file is copied and changed; more of them, and a full compile is as fast."""


class Store:
    """One store, opened for reading and writing; safe to share between threads."""

    def __init__(self, folder: Path, url: str = "") -> None:
        self.folder = folder
        self.ledger = Ledger(url or self._read(ELSEWHERE) or folder / "ledger.sqlite")
        self._catalogue: Catalogue | None = None
        self.late = ""
        """Why the index of the last change set could not be made when the store was opened; the one before serves."""

    @classmethod
    def create(cls, folder: Path, url: str = "") -> "Store":
        """The store in a folder, made if it is not there, and brought up to date after a crash.

        `url`: of the PostgreSQL database that keeps its record; the folder remembers it.

        Raises
        ------
        Conflict
            The folder's record is kept somewhere else already.
        """
        with telling_read_only(folder):
            (folder / "index").mkdir(parents=True, exist_ok=True)
        store = cls(folder)
        here = (folder / "ledger.sqlite").exists()
        if url and (here or store.ledger.target not in (url, folder / "ledger.sqlite")):
            kept = "in a file of its own" if here else "in another database"
            raise Conflict(f"{folder.name!r} keeps its record {kept}", fix="name another folder")
        store = cls(folder, url)
        with store.locked("lock"):
            store.ledger.create()
            if url and not store._read(ELSEWHERE):
                store._write(ELSEWHERE, url, mode=0o600)  # it may hold a password
        store.recover()
        return store

    @classmethod
    def open(cls, folder: Path, url: str = "") -> "Store":
        """The store in a folder, brought up to date after a crash.

        Raises
        ------
        NotFound
            There is no store.
        """
        store = cls(folder, url)
        at_home = folder / "ledger.sqlite"
        if not (folder / "index").is_dir() or (store.ledger.target == at_home and not at_home.exists()):
            raise NotFound(f"there is no store in {folder.name!r}", fix="publish a workbook into it first")
        try:
            store.recover()
        except (OSError, SQLITE.DatabaseError, StoreFull, StoreReadOnly) as error:
            if store._whole(store.place(store._read("CURRENT"))) is None:
                raise
            with store.ledger.reading():  # what cannot even be read serves nothing
                pass
            store.late = f"{type(error).__name__}: {error}"
        return store

    def close(self) -> None:
        """Give the ledger's connections back."""
        self.ledger.close()

    # Reading

    def catalogue(self) -> Catalogue:
        """The live catalogue."""
        for _ in range(KEPT):  # a file may be cleared away between reading its name and opening it
            name = self._read("CURRENT")
            kept = self._catalogue
            if kept is not None and kept.id == name and kept.index.whole:
                return kept
            try:
                self._catalogue = opened = Catalogue.open(self.place(name))
                return opened
            except NotFound:
                continue
        raise StoreDamaged("the live index is missing", fix="open the store again: it is compiled from the ledger")

    def snapshot(self) -> tuple[Catalogue, Shelf]:
        """The live catalogue and the shelf that belongs to it."""
        catalogue = self.catalogue()
        with self.ledger.reading() as reading:
            n = reading.version_of(catalogue.index.state)
        if n is None:
            raise StoreDamaged("the live index is not of this ledger", fix="remove CURRENT and open the store again")
        return catalogue, Shelf(self.ledger, n, catalogue)

    def as_of(self, n: int) -> tuple[Catalogue, Shelf]:
        """Catalogue and shelf after change set `n`; an index that was cleared away is compiled again."""
        with self.ledger.reading() as reading:
            state = reading.state_at(n)
            place = self.place(catalogue_id(state))
            if self._whole(place) is None:
                with self.locked("lock"):
                    compile_all(place, state, reading.contents(n))
                    self._clear(catalogue_id(state))
        catalogue = Catalogue.open(place)
        return catalogue, Shelf(self.ledger, n, catalogue)

    def place(self, id_: str) -> Path:
        """Where the index file of that id is."""
        return self.folder / "index" / f"{id_}.sqlite"

    # Writing

    @contextmanager
    def locked(self, name: str) -> Iterator[None]:
        """Hold one of the folder's locks, waiting for it; it is free again when the holder dies."""
        with telling_read_only(self.folder):
            handle = os.open(self.folder / name, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(handle, fcntl.LOCK_EX)
            yield
        finally:
            os.close(handle)

    def refuse_damaged(self) -> None:
        """Raise StoreDamaged when a fault is on record or the ledger lost its tail."""
        if (self.folder / "DAMAGED").exists():
            raise StoreDamaged("verify found damage; nothing is written", fix="restore a backup, then verify again")
        if self.late and not self._up_to_date():
            raise StoreDamaged(
                f"the last change set has no index, the one before it serves ({self.late})",
                fix="make room on the disk: the next write, or opening the store again, makes it",
            )
        for why in self.lost_tail():
            raise StoreDamaged(why, fix="restore a backup with that change set; reading goes on")

    def lost_tail(self) -> Iterator[str]:
        """What the head kept outside the database says against the ledger."""
        n, _, hash_ = self._read("head").partition(" ")
        if not n:
            return
        if not n.isdecimal():
            yield "the head kept outside the database cannot be read"
            return
        try:
            with self.ledger.reading() as reading:
                if int(n) and reading.change_set(int(n)).hash != hash_:
                    yield f"change set {n} is not the one that was acknowledged"
        except NotFound:
            yield f"change set {n} was acknowledged and is missing"

    def prepare(self, reading: Reading, progress: Progress | None = None) -> str:
        """Make the index of the ledger's last version, as this transaction sees it; its id."""
        head = reading.head()
        id_ = catalogue_id(head.state)
        if self._whole(self.place(id_)) is not None:
            return id_
        previous = self.place(self._read("CURRENT") or "none")
        index = self._whole(previous)
        base = reading.version_of(index.state) if index is not None else None
        if base is not None and sum(c.count for c in reading.history(base)) <= PATCHED_MOST:
            compile_changes(self.place(id_), head.state, previous, reading.diff(base, head.n, "catalogue"))
        else:
            compile_all(self.place(id_), head.state, reading.contents(head.n), progress)
        return id_

    def acknowledge(self, head: ChangeSet, id_: str) -> None:
        """Note the committed head outside the database and switch to its catalogue; call it with the lock held.

        An error here leaves a committed change set unacknowledged. A full disk is waited out: the next write
        completes the switch first. After any other nothing more is written until the store is opened afresh, which
        completes it.

        Raises
        ------
        StoreFull, StoreDamaged
            The change set is written and was not switched to.
        """
        try:
            self._write("head", f"{head.n} {head.hash}")
            if self._read("CURRENT") != id_:
                self._write("CURRENT", id_)
            self._clear(id_)
        except Exception as error:
            written = f"change set {head.n} is written, switching to it failed"
            if is_full(error):
                raise StoreFull(
                    f"{written}: the disk under the store is full", fix="make room: the next write completes it"
                ) from error
            self.ledger.stop(f"{type(error).__name__}: {error}")
            raise StoreDamaged(
                f"{written} ({type(error).__name__}: {error}); nothing more is written",
                fix="start the program again: opening the store completes it",
            ) from error

    def recover(self) -> None:
        """Complete what a crash interrupted between commit and switch."""
        if self._up_to_date():
            return
        with self.locked("lock"), telling_full():
            for rest in (self.folder / "index").glob("*.partial"):
                rest.unlink(missing_ok=True)
            if any(self.lost_tail()):
                return  # what CURRENT names goes on serving; writing is refused
            with self.ledger.reading() as reading:
                head = reading.head()
                id_ = self.prepare(reading)
            self.acknowledge(head, id_)

    def _up_to_date(self) -> bool:
        with self.ledger.reading() as reading:
            head = reading.head()
        id_ = catalogue_id(head.state)
        return (
            self._read("CURRENT") == id_
            and self._read("head") == f"{head.n} {head.hash}"
            and self._whole(self.place(id_)) is not None
        )

    def _whole(self, place: Path) -> IndexFile | None:
        """The index file at a place; None where there is none, or what is there is cut short or no index."""
        kept = self._catalogue
        if kept is not None and kept.index.place == place and kept.index.whole:
            return kept.index
        try:
            index = IndexFile(place)
        except (NotFound, StoreDamaged):
            return None
        return index if index.whole and index.id == place.stem == catalogue_id(index.state) else None

    def remake(self) -> None:
        """Make the live index again from a sound ledger."""
        with self.locked("lock"):
            with self.ledger.reading() as reading:
                head = reading.head()
                id_ = catalogue_id(head.state)
                compile_all(self.place(id_), head.state, reading.contents(head.n))
            self.acknowledge(head, id_)

    def _read(self, name: str) -> str:
        try:
            return (self.folder / name).read_text(errors="replace").strip()
        except FileNotFoundError:
            return ""

    def _write(self, name: str, text: str, mode: int = 0o666) -> None:
        beside = self.folder / f"{name}.partial"
        with telling_read_only(self.folder):
            beside.touch(mode)
            beside.write_text(text + "\n")
            sync(beside)
            beside.replace(self.folder / name)
            sync(self.folder)

    def note_damage(self, faults: list[str]) -> None:
        """Put what `verify` found on record, or lift it when nothing was found."""
        if faults:
            with suppress(StoreReadOnly):  # nothing is written there anyway
                self._write("DAMAGED", "\n".join(faults))
        else:
            (self.folder / "DAMAGED").unlink(missing_ok=True)

    def _clear(self, live: str) -> None:
        current = self._read("CURRENT")
        files = sorted((self.folder / "index").glob("*.sqlite"), key=lambda f: (f.stat().st_mtime, f.name))
        old = [f for f in files if f.stem not in (live, current)]
        for file in old[: max(0, len(files) - KEPT)]:
            file.unlink(missing_ok=True)
