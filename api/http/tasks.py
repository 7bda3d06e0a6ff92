"""Work that goes on after its request was answered, at an address of its own."""

import threading
import uuid
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

from graph.errors import NotFound, SpoolwrightError

KEPT: Final = 200
"""Tasks that are remembered; of those that are over the oldest go first."""


@dataclass(frozen=True, slots=True)
class Task:
    """A task. `state`: running, done or failed; `result` is what came of it, `problem` why it failed."""

    id: str
    what: str
    state: str
    result: dict[str, Any] | None = None
    problem: str = ""


class Tasks:
    """The tasks of one server; they do not outlive it, what they made does."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._tasks: OrderedDict[str, Task] = OrderedDict()

    def start(self, what: str, work: Callable[[], dict[str, Any]]) -> Task:
        """Begin in a thread of its own."""
        task = Task(uuid.uuid4().hex, what, "running")
        self._note(task)

        def run() -> None:
            try:
                self._note(replace(task, state="done", result=work()))
            except SpoolwrightError as error:
                self._note(replace(task, state="failed", problem=error.message))
            except Exception as error:
                self._note(replace(task, state="failed", problem=f"the program failed: {type(error).__name__}"))
                raise

        threading.Thread(target=run, name=f"task {what}", daemon=True).start()
        return task

    def _note(self, task: Task) -> None:
        with self._lock:
            self._tasks[task.id] = task
            over = [one.id for one in self._tasks.values() if one.state != "running"]
            for id_ in over[: max(0, len(self._tasks) - KEPT)]:
                del self._tasks[id_]

    def get(self, id_: str) -> Task:
        """One task.

        Raises
        ------
        NotFound
            There is none of that id, or it is forgotten.
        """
        with self._lock:
            if id_ in self._tasks:
                return self._tasks[id_]
        raise NotFound(f"there is no task {id_!r}", fix="tasks are forgotten when the server stops")
