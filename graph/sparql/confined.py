"""Running a query in a child that may not open anything, outlive its time or eat the machine's memory."""

import os
import pickle
import resource
import select
import signal
import time
from collections.abc import Callable
from typing import Any, Final

MEMORY: Final = 512 * 1024 * 1024
"""Bytes that a query may take beyond what the store has."""

OUTPUT: Final = 64 * 1024 * 1024
"""Bytes of an answer as it comes back from the child."""


class Stopped(Exception):
    """The child ran into a limit or died."""


def confined(work: Callable[[], Any], seconds: float) -> Any:
    """What `work` gives, made in a forked child; an exception that it raises is raised here.

    Call it in a process of one thread: a fork takes only that one along.

    Raises
    ------
    Stopped
        Time or memory was over, or the child died.
    """
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        _in_child(work, write, seconds)
    os.close(write)
    try:
        told = _gathered(read, time.monotonic() + seconds)
    finally:
        os.close(read)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
    if not told:
        raise Stopped("the query ran into its limit of time or memory")
    sound, found = pickle.loads(told)  # noqa: S301 - written by our own child
    if not sound:
        raise found
    return found


def _in_child(work: Callable[[], Any], write: int, seconds: float) -> None:
    try:
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.setitimer(signal.ITIMER_REAL, seconds + 1)
        used = _size()
        resource.setrlimit(resource.RLIMIT_AS, (used + MEMORY, used + MEMORY))
        resource.setrlimit(resource.RLIMIT_CPU, (int(seconds) + 1, int(seconds) + 2))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        free = os.dup(write)
        os.close(free)
        resource.setrlimit(resource.RLIMIT_NOFILE, (free, free))  # no further file or connection can be opened
        try:
            told = pickle.dumps((True, work()))
        except Exception as error:
            told = pickle.dumps((False, error))
        while told:
            told = told[os.write(write, told) :]
    finally:
        os._exit(0)


def _size() -> int:
    with open("/proc/self/statm") as file:  # noqa: PTH123 - as few calls as can be, in a fresh child
        return int(file.read().split()[0]) * resource.getpagesize()


def _gathered(read: int, until: float) -> bytes:
    """All that the child wrote; nothing if it was not done in time."""
    pieces: list[bytes] = []
    size = 0
    while (left := until - time.monotonic()) > 0:
        if not select.select([read], [], [], left)[0]:
            break
        piece = os.read(read, 1 << 16)
        if not piece:
            return b"".join(pieces)
        pieces.append(piece)
        size += len(piece)
        if size > OUTPUT:
            break
    return b""
