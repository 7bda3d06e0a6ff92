"""What planner and checker worked out of the evidence, kept from one question to the next while there is room."""

from typing import Final

from graph.model.bundle import Bundle
from graph.planning.check import Shared
from graph.planning.kept import Kept

ROOM: Final = 40_000
"""Results that each of the two keeps, some 2.5 kB a result; beyond that all are thrown away and gathered anew."""


class Recall:
    """For questions about one version of the catalogue; safe to share between threads.

    Planner and checker each remember for themselves: the one's memory never vouches for the other.
    """

    def __init__(self, room: int = ROOM) -> None:
        self._room = room
        self._kept = Kept()
        self._shared: dict[tuple[int, int], Shared] = {}

    def kept(self) -> Kept:
        """The planner's memory."""
        held = self._kept
        if held.size > self._room:
            held = self._kept = Kept()
        return held

    def shared(self, bundle: Bundle) -> Shared:
        """The checker's memory of bundles that are equal to this one in what they have in common."""
        if sum(shared.size for shared in list(self._shared.values())) > self._room:
            self._shared = {}
        alike = id(bundle.features), id(bundle.operations)
        held = self._shared.get(alike)
        if held is None or not held.suits(bundle):
            held = self._shared[alike] = Shared()
        return held
