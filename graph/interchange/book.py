"""All parts of one seat gathered into interface classes, so that stand-ins are looked up, not tried one by one.

Parts whose facts no rule of the seat can tell apart are one class. Classes lie in drawers: in one drawer all have
the same codes where a rule asks for the same. Within a drawer they are sorted by each size that the rules bound on
both sides, so that a question looks at the few classes whose size lies within the asked one's.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterable, Iterator
from dataclasses import dataclass, field

from graph.interchange.place import Place
from graph.model.fact import Fact
from graph.model.record import Part
from graph.model.value import spelled_code
from graph.rules.judge import spelled_thread


@dataclass(slots=True)
class Interface:
    """A class: parts that may take one another's place, and the facts that they have in common."""

    parts: list[Part]
    ends: dict[str, tuple[int, int]]

    @property
    def first(self) -> Part:
        """Any of them speaks for all."""
        return self.parts[0]


@dataclass(slots=True)
class _Drawer:
    classes: list[Interface] = field(default_factory=list)
    by_low: dict[str, list[tuple[int, int]]] = field(default_factory=dict)  # (low end, class)
    widest: dict[str, int] = field(default_factory=dict)


class Book:
    """The parts of one seat. Parts of other kinds are passed over; one on which a code is open is in no drawer."""

    def __init__(self, place: Place, parts: Iterable[Part]) -> None:
        self.place = place
        self.left_out = 0
        self._codes = [
            (f, t.rule.type)
            for t in place.touches
            for f in t.features
            if t.rule.type in ("same", "thread") and not t.alone
        ]
        self._sizes = self._bounded()
        self._drawers: dict[Hashable, _Drawer] = {}
        self._place_of: dict[str, tuple[Hashable, int]] = {}
        classes: dict[Hashable, tuple[Hashable, int]] = {}
        for part in parts:
            if not place.takes(part):
                continue
            drawer = self._drawer(part)
            if drawer is None:
                self.left_out += 1
                continue
            key = self._key(part)
            found = classes.get(key)
            if found is None:
                home = self._drawers.setdefault(drawer, _Drawer())
                classes[key] = found = drawer, len(home.classes)
                home.classes.append(Interface([], self._ends(part)))
            self._drawers[drawer].classes[found[1]].parts.append(part)
            self._place_of[part.key] = found
        for home in self._drawers.values():
            self._sort(home)

    def __len__(self) -> int:
        return sum(len(home.classes) for home in self._drawers.values())

    def _bounded(self) -> list[str]:
        """The features that some rule bounds on both sides, alone."""
        out = []
        for touch in self.place.touches:
            if len(touch.own) == 1 and not touch.alone and touch.bounds() == (True, True):
                feature = self.place.features.get(touch.features[0])
                if feature is not None and feature.type not in ("code", "set", "text"):
                    out.append(feature.name)
        return list(dict.fromkeys(out))

    def _drawer(self, part: Part) -> Hashable | None:
        """What is the same in a drawer; None for a part that surely suits nothing, or of which a code is open."""
        out = []
        for feature, type_ in self._codes:
            fact = self.place.fact(part, feature)
            if not fact.settles:
                return None
            spelled = spelled_thread if type_ == "thread" else spelled_code
            words = {frozenset(spelled(c) for c in a.codes) for a in fact.alternatives if a.low is None}
            if len(words) > 1:
                return None
            out.append(next(iter(words), frozenset()))
        return tuple(out)

    def _key(self, part: Part) -> Hashable:
        """Equal for parts whose facts no rule or duty here tells apart; open facts are nobody's equal."""
        features = (*self.place.looked_at, *self.place.duties(part))
        facts = [(f, self.place.fact(part, f)) for f in dict.fromkeys(features)]
        if not all(fact.settles for _, fact in facts):
            return part.key
        return part.kind, tuple((f, _content(fact)) for f, fact in facts)

    def _ends(self, part: Part) -> dict[str, tuple[int, int]]:
        out = {}
        for feature in self._sizes:
            fact = self.place.fact(part, feature)
            if fact.settles and fact.low is not None and fact.high is not None:
                out[feature] = fact.low, fact.high
        return out

    def _sort(self, home: _Drawer) -> None:
        for feature in self._sizes:
            rows = [(c.ends[feature][0], n) for n, c in enumerate(home.classes) if feature in c.ends]
            home.by_low[feature] = sorted(rows)
            home.widest[feature] = max(
                (c.ends[feature][1] - c.ends[feature][0] for c in home.classes if feature in c.ends), default=0
            )

    def instead(self, part: Part) -> Iterator[Part]:
        """The parts that may surely take this one's place, in no particular order; itself is not among them."""
        yield from self._answers(part, replaced=True)

    def stands_in(self, part: Part) -> Iterator[Part]:
        """The parts whose place this one may surely take."""
        yield from self._answers(part, replaced=False)

    def _answers(self, part: Part, *, replaced: bool) -> Iterator[Part]:
        for other in self._near(part, replaced=replaced):
            first, second = (part, other.first) if replaced else (other.first, part)
            if other.first.key == part.key and len(other.parts) > 1:
                first, second = (part, other.parts[1]) if replaced else (other.parts[1], part)
            if self.place.follows(first, second):
                yield from (p for p in other.parts if p.key != part.key and self._open(part, p, replaced=replaced))

    def _open(self, part: Part, other: Part, *, replaced: bool) -> bool:
        return not (self.place.given_up(part, other) if replaced else self.place.given_up(other, part))

    def _near(self, part: Part, *, replaced: bool) -> list[Interface]:
        """The classes worth a look: those of the drawer whose tightest size can agree."""
        drawer = self._drawer(part) if part.key not in self._place_of else self._place_of[part.key][0]
        home = self._drawers.get(drawer)
        if home is None:
            return []
        own = self._ends(part)
        best: tuple[int, int, str] | None = None
        for feature in self._sizes:
            if feature not in own:
                return []  # a size that a rule bounds is open: nothing is sure
            low, high = own[feature]
            reach = home.widest[feature]
            first, last = (low, high) if replaced else (high - reach, low)
            rows = home.by_low[feature]
            span = bisect_left(rows, (first, -1)), bisect_right(rows, (last, len(home.classes)))
            if best is None or span[1] - span[0] < best[1] - best[0]:
                best = (*span, feature)
        if best is None:
            return home.classes
        return [home.classes[n] for _, n in home.by_low[best[2]][best[0] : best[1]]]

    def edges(self) -> Iterator[tuple[Part, Part]]:
        """Every sure edge (part, what may take its place), class by class."""
        for home in self._drawers.values():
            for one in home.classes:
                speaker = one.first
                home_too = len(one.parts) > 1 and self.place.follows(speaker, one.parts[1])
                near = [c for c in self._near(speaker, replaced=True) if c is not one]
                others = [p for c in near if self.place.follows(speaker, c.first) for p in c.parts]
                others += one.parts if home_too else ()
                for part in one.parts:
                    yield from ((part, p) for p in others if p is not part and self._open(part, p, replaced=True))


def _content(fact: Fact) -> Hashable:
    rivals = sorted((a.position, a.low or 0, a.high or 0, a.codes) for a in fact.alternatives)
    return fact.quantity, tuple(rivals)
