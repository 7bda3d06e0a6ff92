"""Route sheets that were laid out, kept as long as nothing is written that a plan reads: signing does not plan.

What is kept is the sheet itself; whether it still stands is read from the record each time, so that one which was
laid out before somebody found a crack is never given again.
"""

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock
from typing import Final

from graph.desk import Desk
from graph.desk.sheeting import sheet_asked
from graph.errors import Stale
from graph.model.routing import RouteSheet
from graph.model.signing import UNREAD, sheet_mark

MOST: Final = 64


@dataclass(frozen=True, slots=True)
class SheetAsked:
    """Which sheet: the question with the customer's wishes, the number of the way, and the day of its prices."""

    core: str
    build: str
    engine: str
    plan: int
    day: str
    wishes: tuple[str, ...] = ()


class Sheets:
    """The sheets of one store that were asked for last; may be shared between threads."""

    def __init__(self, most: int = MOST) -> None:
        self._most = most
        self._lock = Lock()
        self._held: OrderedDict[tuple[str, SheetAsked], tuple[int, RouteSheet]] = OrderedDict()

    def get(self, desk: Desk, asked: SheetAsked) -> RouteSheet:
        """The sheet as it stands at the desk's snapshot."""
        key = (desk.catalogue.id, asked)
        with self._lock:
            stood, sheet = self._held.get(key, (0, None))
        if sheet is None or not self._stands(desk, stood):
            sheet = sheet_asked(
                desk, asked.core, asked.build, asked.engine, plan=asked.plan, wishes=asked.wishes, day=asked.day
            )
        with self._lock:
            self._held[key] = (max(desk.shelf.n, self._held.get(key, (0, None))[0]), sheet)
            self._held.move_to_end(key)
            while len(self._held) > self._most:
                self._held.popitem(last=False)
        return sheet

    @staticmethod
    def _stands(desk: Desk, stood: int) -> bool:
        return stood <= desk.shelf.n and not desk.shelf.written_since(stood) - UNREAD


def as_shown(sheet: RouteSheet, mark: str) -> None:
    """Hold a signature to the sheet that the signer saw.

    Raises
    ------
    Stale
        It is another one now.
    """
    if sheet_mark(sheet) != mark.strip():
        raise Stale(
            "this is not the sheet that was shown; nothing was signed", fix="look at the sheet again, then sign"
        )
