"""What questions on the same evidence share: the cores of a ranking, the builds of one core, the parts of a clash.

Rule 1: a key in a memory holds everything that the result depends on, by its content, beside what the memory is for.
Rule 2: two bundles share a memory only where they are equal in all that it is for.
"""

from graph.model.bundle import Bundle
from graph.model.record import Engine, Part
from graph.planning.check.case import Case
from graph.planning.check.memory import Memory


class Shared:
    """The memories of several questions: of things (parts, operations, the engine), and of what is asked of them."""

    def __init__(self) -> None:
        self._things = Memory()
        self._parts: dict[str, Part] = {}
        self._engines: dict[str, Engine] = {}
        self._shop: tuple[object, ...] | None = None
        self._asked: list[tuple[tuple[object, ...], Memory]] = []

    def case(self, bundle: Bundle) -> Case:
        """The bundle's case, with the memories of those before it that are equal in what they are for."""
        return Case(bundle, *self._memories(bundle))

    @property
    def size(self) -> int:
        """How many results are kept."""
        return len(self._things) + sum(1 + len(memory) for _, memory in self._asked)

    def suits(self, bundle: Bundle) -> bool:
        """Whether the bundle is equal to those before it in what they have in common."""
        shop = (bundle.kinds, bundle.features, bundle.operations)
        if self._shop is None:
            self._shop = shop
        if shop != self._shop or any(self._parts.setdefault(p.key, p) != p for p in bundle.parts):
            return False
        return self._engines.setdefault(bundle.engine.key, bundle.engine) == bundle.engine

    def _memories(self, bundle: Bundle) -> tuple[Memory, Memory]:
        if not self.suits(bundle):
            return Memory(), Memory()
        work = bundle.consumes, bundle.services, bundle.rates
        asked = (bundle.layout, bundle.build, bundle.engine, bundle.accepted, *work, bundle.question.wishes)
        for before, memory in self._asked:
            if asked == before:
                return self._things, memory
        self._asked.append((asked, Memory()))
        return self._things, self._asked[-1][1]
