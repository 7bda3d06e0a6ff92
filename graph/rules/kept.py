"""Room for what was worked out once and follows from facts that do not change."""

from collections.abc import Hashable
from typing import Any


class Kept:
    """At least the `most` things used last and never more than twice as many; the rest is thrown away.

    `together` has room for what several things come to among themselves, so that it takes none from what follows
    from one alone; without one both have the same room. Safe to share between threads: two that ask at once may both
    work the same thing out.
    """

    def __init__(self, most: int, together: "Kept | None" = None) -> None:
        self.together = together or self
        self._most = most
        self._young: dict[Hashable, Any] = {}
        self._old: dict[Hashable, Any] = {}

    def get(self, key: Hashable) -> Any:
        """What is kept under a key; None: nothing."""
        found = self._young.get(key)
        if found is None:
            found = self._old.get(key)
            if found is not None:
                self.put(key, found)
        return found

    def put(self, key: Hashable, thing: Any) -> Any:
        """Keep a thing, and give it back."""
        if len(self._young) >= self._most:
            self._old, self._young = self._young, {}
        self._young[key] = thing
        return thing
