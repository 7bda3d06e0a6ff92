"""Killing, full disks, failing syncs, flipped bits, busy readers: nothing acknowledged is lost, nothing mixed."""

import contextlib
import errno
import os
import random
import shutil
import signal
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from scale import times, told
from store_crash import Nursery, acknowledged, chosen_seed, faults, kills, note, rows, shown, written_by
from store_rows import shop

from graph.errors import StoreDamaged, StoreFull
from graph.index import compile as compiling
from graph.index.compile import content_digest
from graph.index.file import SQLITE
from graph.index.store import Store
from graph.publish import publish_statements, record, verify_store


@pytest.fixture(scope="module")
def children() -> Iterator[Nursery]:
    made = Nursery()
    yield made
    made.close()


def publish(store: Store, i: int) -> None:
    publish_statements(store, rows(i), author="Ada", time="t", title=str(i))


@pytest.mark.slow
def test_kills_lose_nothing_and_mix_nothing(children: Nursery, tmp_path: Path) -> None:
    count, seed = times(50), chosen_seed()
    left, kept, found = count, 0, []
    while left and not found:  # 50 to a store, whose history is recomputed after each
        log = tmp_path / f"log-{left}"
        found = kills(children, tmp_path / f"store-{left}", log, min(left, 50), seed + left)
        kept += len(acknowledged(log))
        left -= min(left, 50)
    told("kill -9 of a writer", count, len(found), f"{kept} change sets acknowledged, seed {seed}")
    assert found == []
    assert kept >= count * 3 // 5  # the children did get work done between the kills


@pytest.mark.slow
def test_two_processes_write_one_store_and_kills_of_one_touch_neither_s_record(
    children: Nursery, tmp_path: Path
) -> None:
    folder, dice = tmp_path / "store", random.Random(chosen_seed())
    count = times(10, share=10)
    logs = {name: tmp_path / name for name in ("ina", "ole")}
    Store.create(folder).close()
    running = {name: children.start(folder, logs[name], 1, own=name) for name in logs}
    try:
        for _ in range(count):
            name = dice.choice(sorted(logs))
            done = len(acknowledged(logs[name]))
            until = time.monotonic() + 20
            while len(acknowledged(logs[name])) == done and time.monotonic() < until:
                time.sleep(0.002)
            time.sleep(dice.uniform(0.0, 0.05))
            os.kill(running[name], signal.SIGKILL)
            children.wait(running[name])
            running[name] = children.start(folder, logs[name], len(written_by(folder, name)) + 1, own=name)
    finally:
        for child in running.values():
            os.kill(child, signal.SIGKILL)
            children.wait(child)
    lost = []
    for name, log in logs.items():
        written, kept = written_by(folder, name), acknowledged(log)
        assert written == list(range(1, len(written) + 1))  # none twice, none out of order
        lost += sorted(set(kept) - set(written))
    store = Store.open(folder)
    wrong = [*lost, *verify_store(store)]
    told(
        "kill -9 of one of two writers",
        count,
        len(wrong),
        f"{sum(len(acknowledged(x)) for x in logs.values())} acknowledged",
    )
    assert wrong == []
    assert min(len(acknowledged(log)) for log in logs.values()) > 1
    store.close()


@pytest.mark.slow
def test_the_harness_sees_a_store_that_acknowledges_too_soon(children: Nursery, tmp_path: Path) -> None:
    """The control: without it, no losses would prove nothing."""
    found = kills(children, tmp_path / "store", tmp_path / "log", 60, chosen_seed(), too_soon=True)
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


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO])
@pytest.mark.parametrize("at", range(1, 7))
def test_an_error_at_any_sync_of_a_publish_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int, number: int
) -> None:
    store = Store.create(tmp_path / "store")
    publish(store, 1)
    calls = 0
    real = os.fsync

    def fail(handle: int) -> None:
        nonlocal calls
        calls += 1
        if calls == at:
            raise OSError(number, "planted")
        real(handle)

    with monkeypatch.context() as patch:
        patch.setattr(compiling.os, "fsync", fail)
        with pytest.raises((OSError, StoreFull, StoreDamaged)) as told:
            publish(store, 2)
    assert calls == at
    label, rate, marks = shown(store)
    assert label == rate == marks
    committed = at > 2  # the first two are of the index, before the commit
    full = number == errno.ENOSPC
    assert told.errisinstance(StoreFull) == full
    assert ("change set 2 is written" in str(told.value)) == committed
    if committed and not full:  # what a disk that fails did write is not known until it is read anew
        with pytest.raises(StoreDamaged, match="nothing more is written"):
            publish(store, 3)
    if full:
        publish(store, 3 if committed else 2)  # with room again it goes on, completing the switch first
        assert shown(store) == ((3, 3, 3) if committed else (2, 2, 2))
    store.close()
    again = Store.open(tmp_path / "store")
    last = shown(again)[0]
    assert last == (2 if committed or full else 1) + (committed and full)
    publish(again, last + 1)
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
    count, seed = times(50), chosen_seed()
    dice = random.Random(seed)
    changed = unnoticed = 0
    for _ in range(count):
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
        noticed = verify_store(flipped) != []
        flipped.close()
        if noticed:
            again = Store(folder)
            with pytest.raises(StoreDamaged):
                again.refuse_damaged()
            again.close()
        unnoticed += not noticed
    told(f"flipped bits of {name}", count, unnoticed, f"{changed} changed what is read, seed {seed}")
    assert unnoticed == 0
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


def _roomless(folder: Path, *, leave: int) -> Path:
    """A file that takes all the room there is but so many bytes."""
    filler = folder / "filler"
    handle = os.open(filler, os.O_WRONLY | os.O_CREAT)
    with contextlib.suppress(OSError):
        while True:
            os.write(handle, b"x" * 4096)
    os.ftruncate(handle, max(0, os.fstat(handle).st_size - leave))
    os.close(handle)
    return filler


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of 6 MiB."""
    place = tmp_path / "disk"
    place.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=6m", "tmpfs", str(place)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("NOT TESTED: no small file system may be mounted here (takes root)")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True)


def test_on_a_full_disk_reading_goes_on_and_writing_as_soon_as_there_is_room(small_disk: Path) -> None:
    """A real file system without room, at every stage of a write: RELIABILITY's goal is no restart, nothing lost."""
    store = Store.create(small_disk / "store")
    publish(store, 1)
    done, refused = 1, Counter[str]()
    for leave in (0, 4096, 16_384, 40_000, 65_536, 100_000, 140_000):
        filler = _roomless(small_disk, leave=leave)
        for write in ("catalogue", "shelf"):
            try:
                if write == "shelf":
                    record(store, rows(done)[1:2], author="Ada", time="t")
                else:
                    publish(store, done + 1)
                    done += 1
            except StoreFull as error:
                refused[write] += 1
                with store.ledger.reading() as reading:
                    written = reading.history()
                    done = max(int(one.title) for one in written if one.title)
                assert "nothing was written" in error.message or "is written" in error.message
            assert shown(store)[0] <= done  # the version before serves until there is room
        filler.unlink()
        publish(store, done + 1)
        done += 1
        assert shown(store) == (done, done, done)
    assert refused["catalogue"] >= 3
    assert verify_store(store) == []
    store.close()


def test_a_store_whose_last_index_cannot_be_made_serves_the_one_before_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = Store.create(tmp_path / "store")
    publish(store, 1)
    with monkeypatch.context() as patch:  # killed between the commit and the switch
        patch.setattr(Store, "acknowledge", lambda *_: None)
        publish(store, 2)
    store.close()
    for file in (tmp_path / "store" / "index").glob("*.sqlite"):
        if file.stem != (tmp_path / "store" / "CURRENT").read_text().strip():
            file.unlink()

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "no space left")

    with monkeypatch.context() as patch:
        patch.setattr(compiling.shutil, "copyfile", full)
        late = Store.open(tmp_path / "store")
        assert shown(late) == (1, 1, 1)
        with pytest.raises(StoreDamaged, match="the one before it serves"):
            late.refuse_damaged()
        with pytest.raises(StoreFull):
            publish(late, 3)
    publish(late, 3)
    late.refuse_damaged()
    assert shown(late) == (3, 3, 3)
    late.close()


@pytest.mark.parametrize(
    "damage", ["cut short", "emptied", "garbage", "gone", "first page", "CURRENT", "CURRENT gone"]
)
def test_a_damaged_index_is_made_again_from_the_ledger_when_the_store_is_opened(tmp_path: Path, damage: str) -> None:
    store = Store.create(tmp_path / "store")
    publish(store, 1)
    publish(store, 2)
    file = store.catalogue().index.place
    sound = content_digest(file)
    store.close()
    data = file.read_bytes()
    current = tmp_path / "store" / "CURRENT"
    if damage == "cut short":
        file.write_bytes(data[: len(data) - 4096])
    elif damage == "emptied":
        file.write_bytes(b"")
    elif damage == "garbage":
        file.write_bytes(random.Random(1).randbytes(len(data)))
    elif damage == "gone":
        file.unlink()
    elif damage == "first page":
        file.write_bytes(bytes(4096) + data[4096:])
    elif damage == "CURRENT":
        current.write_bytes(b"\xff\x00/../nothing")
    else:
        current.unlink()
    again = Store.open(tmp_path / "store")
    assert shown(again) == (2, 2, 2)
    assert content_digest(again.catalogue().index.place) == sound
    assert verify_store(again) == []
    publish(again, 3)
    assert shown(again) == (3, 3, 3)
    again.close()


@pytest.mark.slow
def test_every_flipped_bit_of_an_index_that_changes_what_it_says_is_named_and_mended(tmp_path: Path) -> None:
    store = Store.create(tmp_path / "store")
    publish_statements(store, shop(), author="Ada", time="t")
    file = store.catalogue().index.place
    count, seed = times(60), chosen_seed()
    sound, data, dice = content_digest(file), file.read_bytes(), random.Random(seed)
    written = [place for place, byte in enumerate(data) if byte]
    named = missed = 0
    for _ in range(count):
        flipped = bytearray(data)
        flipped[dice.choice(written)] ^= 1 << dice.randrange(8)
        file.write_bytes(flipped)
        try:
            changed = content_digest(file) != sound
        except Exception:
            changed = True
        found = verify_store(store)
        missed += bool(found) != changed
        named += changed
        if found:
            assert "made again" in found[0]
            assert content_digest(file) == sound
            assert verify_store(store) == []
            store.refuse_damaged()  # the record is sound: writing goes on
    told("flipped bits of the index", count, missed, f"{named} changed what it says, seed {seed}")
    assert missed == 0
    assert named > 20
    store.close()


def test_a_head_that_cannot_be_read_stops_writing_and_reading_goes_on(tmp_path: Path) -> None:
    store = Store.create(tmp_path / "store")
    publish(store, 1)
    (tmp_path / "store" / "head").write_text("nonsense")
    assert verify_store(store) == ["the head kept outside the database cannot be read"]
    with pytest.raises(StoreDamaged):
        publish(store, 2)
    assert shown(store) == (1, 1, 1)
    store.close()


def test_a_process_out_of_file_handles_loses_nothing(children: Nursery, tmp_path: Path) -> None:
    folder, log = tmp_path / "store", tmp_path / "log"
    store = Store.create(folder)
    publish(store, 1)
    store.close()
    note(log, 1)
    for handles in range(4, 16):
        assert children.wait(children.start(folder, log, acknowledged(log)[-1] + 1, handles=handles, most=2)) in (
            0,
            1,
        )
        assert faults(folder, log) == []
    assert acknowledged(log)[-1] > 1  # the larger numbers were enough
