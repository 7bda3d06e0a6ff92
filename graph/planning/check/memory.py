"""What was worked out once from evidence, by keys that hold all that it depends on."""

from collections.abc import Callable, Hashable
from itertools import count
from typing import Any, TypeVar

_T = TypeVar("_T")


class Memory(dict[Hashable, Any]):
    """Results by their key; threads may share it: two that ask at once may both work the same thing out."""

    def __init__(self) -> None:
        super().__init__()
        self._numbers = count(1)

    def once(self, key: Hashable, make: Callable[[], _T]) -> _T:
        """The result of that key, made the first time it is asked for."""
        try:
            made: _T = self[key]
        except KeyError:
            made = self[key] = make()
        return made

    def number(self, key: Hashable) -> int:
        """A number that stands for the key in longer ones, no other key having it."""
        number: int = self.setdefault(("number", key), next(self._numbers))
        return number
