"""What was worked out of some evidence, kept for the next question that shares it.

Rule 1: evidence is told apart by identity, never by content; whatever a key names is held, so that it stays itself.
Rule 2: a key names all that the value was made of; nothing kept is ever changed.
Rule 3: threads may share it: two that ask at once may both work the same thing out, and a number is given once.
"""

from collections.abc import Callable, Hashable, Iterable
from itertools import count
from typing import TypeVar, cast

from graph.model.fact import Fact
from graph.model.verdict import Verdict

T = TypeVar("T")


class Kept:
    """Values by what they were made of; for questions about one bundle, or about bundles that share evidence."""

    def __init__(self) -> None:
        self._made: dict[Hashable, object] = {}
        self._held: dict[int, object] = {}
        self._numbers: dict[int, int] = {}
        self._of_content: dict[Hashable, int] = {}
        self._next = count(1)
        self.verdicts: dict[tuple[int, ...], Verdict] = {}

    @property
    def size(self) -> int:
        """How many results are kept."""
        return len(self._made) + len(self.verdicts) + len(self._held)

    def mark(self, thing: object) -> int:
        """A number that stands for this very object, here and as long as this lives."""
        self._held[id(thing)] = thing
        return id(thing)

    def marks(self, things: Iterable[object]) -> tuple[int, ...]:
        """The same for several, in their order."""
        return tuple(self.mark(thing) for thing in things)

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """The value of this key, made when it is first asked for."""
        try:
            return cast(T, self._made[key])
        except KeyError:
            made = make()
            self._made[key] = made
            return made

    def number(self, fact: Fact | None) -> int:
        """Equal for facts that no requirement can tell apart; 0 for what is not known."""
        known = self._numbers.get(id(fact))
        if known is None:
            known = self._number(fact)
            self._numbers[self.mark(fact)] = known
        return known

    def _number(self, fact: Fact | None) -> int:
        if fact is None or not fact.settles:
            return 0
        rivals = sorted((a.position, a.low or 0, a.high or 0, a.codes) for a in fact.alternatives)
        content = fact.quantity, fact.alternatives[0].low is None, tuple(rivals)
        return self._of_content.setdefault(content, next(self._next))
