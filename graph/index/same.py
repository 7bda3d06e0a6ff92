"""Evidence handed out as the same objects while there is room, so that what follows from it is worked out once.

Rule 1: two things are the same only where they are equal in everything.
Rule 2: what stands for things by their identity holds them, so that it stays theirs.
"""

from collections.abc import Callable, Hashable, Iterable
from typing import Final, TypeVar, cast

from graph.rules.kept import Kept

T = TypeVar("T", bound=Hashable)
V = TypeVar("V")

ROOM: Final = 20_000
"""Things that are kept: parts with their prices, what sits in the seats of cores, rows of them."""


class Same:
    """Gives back what it was given before; safe to share between threads."""

    def __init__(self, room: int = ROOM) -> None:
        self._kept = Kept(room)

    def one(self, thing: T) -> T:
        """The thing that was handed out for an equal one, or this."""
        key = "one", thing
        found: T | None = self._kept.get(key)
        return found if found is not None else cast(T, self._kept.put(key, thing))

    def row(self, things: Iterable[V]) -> tuple[V, ...]:
        """The tuple that was handed out for these very objects in this order, or a new one."""
        made = tuple(things)
        key = "row", *map(id, made)
        found: tuple[V, ...] | None = self._kept.get(key)
        return found if found is not None else cast(tuple[V, ...], self._kept.put(key, made))

    def once(self, what: Hashable, made_of: tuple[object, ...], make: Callable[[], V]) -> V:
        """What is made, once, of these very objects and of what equals `what`."""
        key = "once", what, *map(id, made_of)
        found: tuple[V, tuple[object, ...]] | None = self._kept.get(key)
        if found is None:
            found = self._kept.put(key, (make(), made_of))
        return cast(V, found[0])
