"""What was worked out once from evidence, by keys that hold all that it depends on."""

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

_T = TypeVar("_T")


class Memory(dict[Hashable, Any]):
    """Results by their key."""

    def once(self, key: Hashable, make: Callable[[], _T]) -> _T:
        """The result of that key, made the first time it is asked for."""
        try:
            made: _T = self[key]
        except KeyError:
            made = self[key] = make()
        return made

    def number(self, key: Hashable) -> int:
        """A number that stands for the key in longer ones, no other key having it."""
        return self.once(("number", key), lambda: len(self))
