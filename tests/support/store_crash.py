"""A process that publishes in a loop until it is killed, and what has to be true afterwards.

Every change set asserts the same number in the catalogue (a kind's label) and on the shelf (a rate), so that a
reader who sees two different numbers saw a mix of two versions.
"""

import json
import os
import random
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

from sqlalchemy import event
from store_rows import code, money, row

from graph.index.store import Store
from graph.model.statement import Statement
from graph.publish import publish_statements, verify_store

EARLY = 0.3
"""The share of kills that may hit a child before its first publish: while it starts, recovers or creates."""


class Nursery:
    """A process with all modules loaded and no store open, that children are forked from in milliseconds."""

    def __init__(self) -> None:
        path = os.pathsep.join(folder for folder in sys.path if folder)
        self._process = subprocess.Popen(
            [sys.executable, __file__],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "PYTHONPATH": path},
        )

    def _ask(self, **what: object) -> int:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(what) + "\n")
        self._process.stdin.flush()
        return int(self._process.stdout.readline())

    def start(self, folder: Path, log: Path, first: int, **how: int | str) -> int:
        """A child that publishes, as `publish_on` says; its process id."""
        return self._ask(folder=str(folder), log=str(log), first=first, **how)

    def wait(self, child: int) -> int:
        """Until it ended; its exit code, or minus the signal that killed it."""
        return self._ask(wait=child)

    @staticmethod
    def next(folder: Path) -> int:
        """The number after the last that a store holds."""
        if not (folder / "ledger.sqlite").exists():
            return 1
        store = Store.create(folder)
        last = shown(store)[0]
        store.close()
        return last + 1

    def close(self) -> None:
        """End it."""
        self._process.communicate()


def nursery() -> None:
    """What the nursery's process does."""
    for line in sys.stdin:
        asked = json.loads(line)
        if "wait" in asked:
            print(os.waitstatus_to_exitcode(os.waitpid(asked["wait"], 0)[1]), flush=True)  # noqa: T201
            continue
        child = os.fork()
        if child == 0:
            try:
                publish_on(Path(asked.pop("folder")), Path(asked.pop("log")), **asked)
                os._exit(0)
            finally:
                os._exit(1)
        print(child, flush=True)  # noqa: T201


def rows(i: int) -> list[Statement]:
    """The rows of the i-th change set."""
    return [
        row("kinds", kind="counter", label=str(i)),
        row("rates", name="counter", per_hour=money(i), currency="EUR"),
        row("values", maker="Ostrel", number="OS-1", feature="mark", value=code(f"mark {i}")),
        row("parts", maker="Ostrel", number="OS-1", kind="counter"),
    ]


def own_rows(name: str, i: int) -> list[Statement]:
    """The rows of the i-th change set of one of several writers, of both clocks."""
    return [
        row("kinds", kind=f"counter {name}", label=str(i)),
        row("rates", name=f"counter {name}", per_hour=money(i), currency="EUR"),
    ]


def written_by(folder: Path, name: str) -> list[int]:
    """The numbers that a writer wrote, in order."""
    store = Store.create(folder)
    with store.ledger.reading() as reading:
        titles = [c.title.rpartition(" ") for c in reading.history()]
    store.close()
    return [int(number) for own, _, number in titles if own == name]


def chosen_seed() -> int:
    """The seed that STORE_SEED names, else another each time; pytest shows it with a failure."""
    chosen = int(os.environ.get("STORE_SEED", random.randrange(10**6)))
    print(f"STORE_SEED={chosen}")  # noqa: T201
    return chosen


def note(log: Path, i: int) -> None:
    """Add a line that lasts to the log of acknowledged numbers."""
    handle = os.open(log, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    os.write(handle, f"{i}\n".encode())
    os.fdatasync(handle)
    os.close(handle)


def acknowledged(log: Path) -> list[int]:
    """The numbers in the log."""
    return [int(line) for line in log.read_text().split()] if log.exists() else []


def publish_on(
    folder: Path,
    log: Path,
    first: int,
    *,
    too_soon: bool = False,
    unsynced: bool = False,
    file_bytes: int = 0,
    handles: int = 0,
    most: int = 10**9,
    own: str = "",
) -> None:
    """Publish one number after the other. Faults, for controls: `too_soon` notes it before it is published,
    `unsynced` lets the database return before its file is.

    `own`: rows under a name of its own, beside another child's. `file_bytes`, `handles`: no file may be longer, nor
    so many open. `most`: so many numbers and no more.
    """
    if file_bytes:
        resource.setrlimit(resource.RLIMIT_FSIZE, (file_bytes, file_bytes))
    if handles:
        resource.setrlimit(resource.RLIMIT_NOFILE, (handles, handles))
    store = Store.create(folder)
    if unsynced:
        event.listen(store.ledger.engine, "connect", lambda made, _: made.execute("PRAGMA synchronous=OFF"))
        store.ledger.close()  # so that the next connection is such a one
    for i in range(first, first + most):
        if too_soon:
            note(log, i)
        if own:
            publish_statements(store, own_rows(own, i), author="Ada", time="t", title=f"{own} {i}")
        else:
            publish_statements(store, rows(i), author="Ada", time="t", title=str(i))
        if not too_soon:
            note(log, i)


def shown(store: Store) -> tuple[int, int, int]:
    """The number in the catalogue, on the shelf, and how many marks there are."""
    catalogue, shelf = store.snapshot()
    label = next((k.label for k in catalogue.kinds if k.name == "counter"), "0")
    rate = next((r.per_hour for r in shelf.rates() if r.name == "counter"), 0)
    marks = [c for p in catalogue.parts(["part/Ostrel/OS-1"]) for c in p.claims]
    return int(label), rate, len(marks)


def faults(folder: Path, log: Path) -> list[str]:
    """What is wrong after a kill."""
    before = Store(folder)
    found: list[str] = []
    if (folder / "CURRENT").exists():
        label, rate, marks = shown(before)  # before anything is recovered: the old version serves, unmixed
        if not label == rate == marks:
            found.append(f"served a mix: {label}, {rate}, {marks}")
    before.close()
    store = Store.create(folder)
    label, rate, marks = shown(store)
    last = max(acknowledged(log), default=0)
    if not label == rate == marks:
        found.append(f"a mix after recovery: {label}, {rate}, {marks}")
    if label < last:
        found.append(f"{last} was acknowledged, {label} is there")
    with store.ledger.reading() as reading:
        titles = [int(c.title) for c in reading.history()]
    if titles != list(range(1, label + 1)):
        found.append(f"change sets lost, doubled or out of order: {titles}")
    found += verify_store(store)
    store.close()
    return found


def until_acknowledged(log: Path, i: int) -> None:
    """Wait until a number is in the log, 20 seconds at most."""
    deadline = time.monotonic() + 20
    while i not in acknowledged(log) and time.monotonic() < deadline:
        time.sleep(0.002)


def kills(children: Nursery, folder: Path, log: Path, count: int, seed: int, *, too_soon: bool = False) -> list[str]:
    """Kill it so often at random moments; every fault found."""
    dice = random.Random(seed)
    found: list[str] = []
    for _ in range(count):
        first = children.next(folder)
        child = children.start(folder, log, first, too_soon=too_soon)
        if dice.random() < EARLY:
            time.sleep(dice.uniform(0.0, 0.4))
        else:
            until_acknowledged(log, first)
            time.sleep(dice.uniform(0.0, 0.1))
        os.kill(child, signal.SIGKILL)
        children.wait(child)
        found += faults(folder, log)
        if found:
            break
    return found


if __name__ == "__main__":
    nursery()
