"""Processes that answer what takes long: bounded, killed at a time limit, replaced when they die."""

import logging
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Sequence
from multiprocessing.connection import Connection, Pipe
from queue import LifoQueue
from typing import Any, Final

from api.http.refusals import Busy, QueryStopped

NICE: Final = 10
"""How much worse than the server's own a worker's place in line for the processors is."""


STARTING: Final = 60.0
"""Seconds that a server waits for its workers before it answers without them."""

log = logging.getLogger("spoolwright.worker")


class WorkerFault(RuntimeError):
    """A worker's program broke; what it was is in the worker's log."""


class Worker:
    """One process that says when it is ready, then takes questions and gives an answer or an error for each.

    Both are pickled by us alone: `(True, answer)`, `(False, error)`, and `(None, text)` where the program broke.
    """

    def __init__(self, module: str, arguments: Sequence[str]) -> None:
        ours, theirs = Pipe()
        command = [sys.executable, "-m", module, str(theirs.fileno()), *arguments]
        self._process = subprocess.Popen(  # noqa: S603 - our own module
            command, pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL
        )
        theirs.close()
        self._line: Connection[Any, Any] = ours
        self._ready = False

    def ready(self, seconds: float) -> bool:
        """Whether it has said within that time that it takes questions."""
        if not self._ready and self._line.poll(seconds):
            try:
                self._ready = bool(self._line.recv())
            except (EOFError, OSError):
                return False
        return self._ready

    def ask(self, question: Any, seconds: float) -> Any:
        """The answer.

        Raises
        ------
        QueryStopped
            There was none in time, or the process died; it is gone then.
        WorkerFault
            Its program broke on this question; it takes the next one.
        """
        end = time.monotonic() + seconds
        try:
            self._line.send(question)
            if not (self.ready(seconds) and self._line.poll(max(0.0, end - time.monotonic()))):
                if not self.alive:
                    raise EOFError
                raise QueryStopped(f"stopped after {seconds:g} s", fix="ask for less at once")
            sound, answer = self._line.recv()
        except (EOFError, OSError) as error:
            raise QueryStopped("the question broke its worker", fix="ask for less at once") from error
        if sound:
            return answer
        if sound is None:
            raise WorkerFault(answer)
        raise answer

    @property
    def alive(self) -> bool:
        """Whether the process still runs."""
        return self._process.poll() is None

    def close(self) -> None:
        """End the process."""
        self._line.close()
        self._process.kill()
        self._process.wait()


class Crew:
    """So many workers, and as many questions again that may wait for one; more are refused."""

    def __init__(self, module: str, arguments: Sequence[str], *, workers: int, waiting: int | None = None) -> None:
        self._module, self._arguments = module, list(arguments)
        self._places = threading.BoundedSemaphore(workers + (workers if waiting is None else waiting))
        self._idle: LifoQueue[Worker | None] = LifoQueue()
        for _ in range(workers):
            self._idle.put(None)

    def start(self) -> None:
        """Start the workers that do not run yet and wait until they take questions, or for `STARTING` seconds."""
        end = time.monotonic() + STARTING
        held = [self._idle.get() for _ in range(self._idle.qsize())]
        runs = [w if w is not None and w.alive else Worker(self._module, self._arguments) for w in held]
        for worker in runs:
            if not worker.ready(max(0.0, end - time.monotonic())):
                log.warning("a worker is not ready")
            self._idle.put(worker)

    def ask(self, question: Any, seconds: float) -> Any:
        """The answer of the next free worker; blocks, so call it in a thread.

        Raises
        ------
        Busy
            All places are taken.
        QueryStopped
            The time was over; the worker was killed and the next question gets a fresh one.
        """
        if not self._places.acquire(blocking=False):
            raise Busy("all workers are busy with other questions", fix="ask again shortly")
        try:
            worker = self._idle.get()
            try:
                if worker is None or not worker.alive:
                    worker = Worker(self._module, self._arguments)
                return worker.ask(question, seconds)
            except QueryStopped:
                if worker is not None:
                    worker.close()
                worker = None
                raise
            finally:
                self._idle.put(worker)
        finally:
            self._places.release()

    def close(self) -> None:
        """End all workers that are idle; those that answer end with the server."""
        while not self._idle.empty():
            worker = self._idle.get()
            if worker is not None:
                worker.close()


class Inline:
    """The same without processes, for a program that embeds the application: bounded all the same."""

    def __init__(self, answer: Callable[[Any], Any], *, places: int = 8) -> None:
        self._answer = answer
        self._places = threading.BoundedSemaphore(places)

    def start(self) -> None:
        """There is nothing to start."""

    def ask(self, question: Any, seconds: float) -> Any:
        """The answer, made in this thread; the question's own limit of time binds it.

        Raises
        ------
        Busy
            All places are taken.
        """
        if not self._places.acquire(blocking=False):
            raise Busy("all workers are busy with other questions", fix=f"ask again shortly ({seconds:g} s at most)")
        try:
            return self._answer(question)
        finally:
            self._places.release()

    def close(self) -> None:
        """Nothing to end."""


def serve(line: int, answer: Callable[[Any], Any], passed: type[Exception]) -> None:
    """A worker's loop: questions from the file descriptor until it is closed; `passed` errors are answers too."""
    os.nice(NICE)
    connection: Connection[Any, Any] = Connection(line)
    connection.send(True)
    while True:
        try:
            question = connection.recv()
        except EOFError:
            return
        try:
            connection.send((True, answer(question)))
        except passed as error:
            connection.send((False, error))
        except Exception as error:
            log.exception("a question broke the program")
            connection.send((None, f"{type(error).__name__} in a worker; its log has the rest"))
