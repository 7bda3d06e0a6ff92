"""Killing, full disks, failing syncs, flipped bits, busy readers: nothing acknowledged is lost, nothing mixed."""

import errno
import os
import random
import shutil
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from store_crash import Nursery, acknowledged, faults, kills, rows, shown
from store_rows import shop

from graph.errors import StoreDamaged
from graph.index import compile as compiling
from graph.index.file import SQLITE
from graph.index.store import Store
from graph.publish import publish_statements, verify_store


@pytest.fixture(scope="module")
def children() -> Iterator[Nursery]:
    made = Nursery()
    yield made
    made.close()


def publish(store: Store, i: int) -> None:
    publish_statements(store, rows(i), author="Ada", time="t", title=str(i))


def seed() -> int:
    chosen = int(os.environ.get("STORE_SEED", random.randrange(10**6)))
    print(f"STORE_SEED={chosen}")  # noqa: T201 (pytest shows it with a failure)
    return chosen


@pytest.mark.slow
def test_fifty_kills_lose_nothing_and_mix_nothing(children: Nursery, tmp_path: Path) -> None:
    log = tmp_path / "log"
    assert kills(children, tmp_path / "store", log, 50, seed()) == []
    assert len(acknowledged(log)) >= 30  # the children did get work done between the kills


@pytest.mark.slow
def test_the_harness_sees_a_store_that_acknowledges_too_soon(children: Nursery, tmp_path: Path) -> None:
    """The control: without it, no losses would prove nothing."""
    found = kills(children, tmp_path / "store", tmp_path / "log", 60, seed(), too_soon=True)
    assert any("was acknowledged" in fault for fault in found)


def test_a_full_disk_stops_writing_and_loses_nothing(children: Nursery, tmp_path: Path) -> None:
    folder, log = tmp_path / "store", tmp_path / "log"
    # A limit on the size of any file, so that a write fails in the middle of some change set.
    assert children.wait(children.start(folder, log, 1, file_bytes=400_000)) == 1
    assert acknowledged(log)
    assert faults(folder, log) == []
    store = Store.open(folder)
    publish(store, shown(store)[0] + 1)  # and with room again it goes on
    store.close()
    assert faults(folder, log) == []


@pytest.mark.parametrize("at", range(1, 7))
def test_an_error_at_any_sync_of_a_publish_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    store = Store.create(tmp_path / "store")
    publish(store, 1)
    calls = 0
    real = os.fsync

    def fail(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == at:
            raise OSError(errno.ENOSPC, "no space left")
        real(handle)

    with monkeypatch.context() as patch:
        patch.setattr(compiling.os, "fsync", fail)
        with pytest.raises(OSError, match="no space"):
            publish(store, 2)
    assert calls == at
    label, rate, marks = shown(store)
    assert label == rate == marks
    committed = at > 2  # the first two are of the index, before the commit
    if committed:
        with pytest.raises(StoreDamaged, match="nothing more is written"):
            publish(store, 3)
    store.close()
    again = Store.open(tmp_path / "store")
    assert shown(again) == ((2, 2, 2) if committed else (1, 1, 1))
    publish(again, 3 if committed else 2)
    assert verify_store(again) == []
    again.close()


def _dump(file: Path) -> object:
    connection = SQLITE.connect(f"file:{file}?mode=ro", uri=True)
    connection.text_factory = bytes  # a flipped bit may leave no valid UTF-8
    try:
        return [list(connection.execute(f"SELECT * FROM {t}")) for t in ("change_sets", "entries", "life")]
    except (SQLITE.DatabaseError, UnicodeDecodeError) as error:  # the latter from the text of the former
        return str(error)
    finally:
        connection.close()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["ledger.sqlite", "ledger.sqlite-wal"])
def test_every_flipped_bit_that_changes_data_is_noticed(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "store"
    store = Store.create(folder)
    publish_statements(store, shop(), author="Ada", time="t")
    if name == "ledger.sqlite":
        store.close()  # the WAL goes into the file
        store = Store.open(folder)
    publish(store, 1)
    if name == "ledger.sqlite":
        store.close()
    sound = tmp_path / "sound"
    shutil.copytree(folder, sound)
    store.close()
    expected = _dump(sound / "ledger.sqlite")
    dice = random.Random(seed())
    changed = 0
    for _ in range(50):
        shutil.rmtree(folder)
        shutil.copytree(sound, folder)
        data = bytearray((folder / name).read_bytes())
        written = [place for place, byte in enumerate(data) if byte]  # most of a small file's pages are empty
        data[dice.choice(written)] ^= 1 << dice.randrange(8)
        (folder / name).write_bytes(data)
        (folder / "ledger.sqlite-shm").unlink(missing_ok=True)
        copy = tmp_path / "copy"
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(folder, copy)
        if _dump(copy / "ledger.sqlite") == expected:
            continue
        changed += 1
        flipped = Store(folder)
        assert verify_store(flipped) != []
        flipped.close()
        with pytest.raises(StoreDamaged):
            Store(folder).refuse_damaged()
    assert changed > 5


def test_a_lost_tail_is_noticed_and_not_written_over(tmp_path: Path) -> None:
    folder = tmp_path / "store"
    store = Store.create(folder)
    publish(store, 1)
    store.close()
    shutil.copy(folder / "ledger.sqlite", tmp_path / "old")
    store = Store.open(folder)
    publish(store, 2)
    store.close()
    shutil.copy(tmp_path / "old", folder / "ledger.sqlite")
    for rest in ("ledger.sqlite-wal", "ledger.sqlite-shm"):
        (folder / rest).unlink(missing_ok=True)
    again = Store.open(folder)
    assert verify_store(again) == ["change set 2 was acknowledged and is missing"]
    with pytest.raises(StoreDamaged):
        publish(again, 2)
    again.close()


def test_readers_see_the_old_or_the_new_and_never_wait(tmp_path: Path) -> None:
    store = Store.create(tmp_path / "store")
    publish(store, 1)
    seen: list[tuple[int, int, int]] = []
    wrong: list[BaseException] = []
    done = threading.Event()

    def read() -> None:
        own = Store(tmp_path / "store")
        try:
            while not done.is_set():
                seen.append(shown(own))
        except BaseException as error:
            wrong.append(error)
        own.close()

    readers = [threading.Thread(target=read) for _ in range(2)]
    for reader in readers:
        reader.start()
    for i in range(2, 22):
        publish(store, i)
    with store.ledger.writing("Ada", "t") as draft:  # a writer in the midst of its work
        draft.add(rows(99))
        before = len(seen)
        while len(seen) < before + 4 and not wrong:
            done.wait(0.01)
        raise_ = draft.seal()
        assert raise_ is not None
        assert {shown(store)} == {(21, 21, 21)}
    done.set()
    for reader in readers:
        reader.join()
    store.close()
    assert wrong == []
    assert [one for one in seen if len(set(one)) != 1] == []
    assert len(set(seen)) > 2
