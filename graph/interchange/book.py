"""All parts of one seat gathered into interface classes, so that stand-ins are looked up, not tried one by one.

Parts that no rule of the seat can tell apart are one class. Classes lie in drawers: in one drawer all have the same
codes where a rule asks for the same. Within a drawer they are sorted by each size that a rule bounds on both sides,
so that a class is compared with the few whose size lies within its own.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterable, Iterator, Sequence
from sys import intern
from typing import NamedTuple

from graph.interchange.follows import Size, Words
from graph.interchange.place import Place, Sitting, Touch
from graph.model.record import Part


class Seated(NamedTuple):
    """A part in the book: its key, and what it shows to the rules of sets (`Place.admitted`)."""

    key: str
    admitted: tuple[str, ...]


_Drawer = list[tuple[Sitting, list[Seated]]]


class Book:
    """The parts of one seat, as the given rules of it see them (all that touch it, if none are given).

    Parts of other kinds are passed over, and those that cannot even surely take their own place, since something is
    open that a rule or duty looks at: they are in no pair.
    """

    def __init__(self, place: Place, parts: Iterable[Part] = (), touches: Sequence[Touch] | None = None) -> None:
        self.place = place
        self._touches = place.touches if touches is None else tuple(touches)
        self._bounded = [n for n, touch in enumerate(self._touches) if touch.low and touch.high]
        self._drawers: dict[Hashable, _Drawer] = {}
        self._classes: dict[Sitting, list[Seated]] = {}
        self._shown: dict[tuple[str, ...], tuple[str, ...]] = {}
        for part in parts:
            self.add(part)

    def add(self, part: Part) -> None:
        """Put a part in."""
        if not self.place.touches or not self.place.takes(part):
            return
        facts = self.place.facts(part)
        sitting = self.place.sitting(facts, self._touches)
        known = self._classes.get(sitting)
        if known is None:
            if not self.place.follows(sitting, sitting, self._touches):
                return
            known = self._classes[sitting] = []
            self._drawers.setdefault(_drawer(sitting), []).append((sitting, known))
        shown = self.place.admitted(facts)
        known.append(Seated(intern(part.key), self._shown.setdefault(shown, shown)))

    def edges(self) -> Iterator[tuple[Seated, Seated]]:
        """Every pair (part, what keeps all that it keeps in its place), class by class."""
        given_up = self.place.given_up
        for drawer in self._drawers.values():
            for parts, near in self._near(drawer):
                others = [other for group in near for other in group]
                for part in parts:
                    yield from (
                        (part, other) for other in others if other is not part and not given_up(part.key, other.key)
                    )

    def _near(self, drawer: _Drawer) -> Iterator[tuple[list[Seated], list[list[Seated]]]]:
        """Each class of a drawer with those that may take its parts' place, itself among them."""
        rows = {
            n: sorted(
                (side.low, at) for at, (sitting, _) in enumerate(drawer) if isinstance(side := sitting.sides[n], Size)
            )
            for n in self._bounded
            if isinstance(one := drawer[0][0].sides[n], Size) and not one.round
        }
        for sitting, parts in drawer:
            looked_at: Sequence[int] = range(len(drawer))
            for n, of in rows.items():
                side = sitting.sides[n]
                assert isinstance(side, Size)  # as of all in this drawer
                first, last = bisect_left(of, (side.low, -1)), bisect_right(of, (side.high, len(drawer)))
                if last - first < len(looked_at):
                    looked_at = [at for _, at in of[first:last]]
            near = [drawer[at] for at in looked_at]
            yield parts, [group for other, group in near if self.place.follows(sitting, other, self._touches)]


def _drawer(sitting: Sitting) -> Hashable:
    """What all have in common of which one may take another's place: codes where the same are asked for."""
    sides = tuple(side.said if isinstance(side, Words) else type(side) for side in sitting.sides)
    return sides, tuple((name, type(side)) for name, side in sitting.duties)
