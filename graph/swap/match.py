"""The match line: each duty feature against the unit the engine left the factory with (semantics, section 9).

What two parts in a seat, or two units, come to follows from them alone: it is compared once and kept.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from graph.model.fact import Alternative, Fact
from graph.model.record import Feature, Layout, Part, Unit
from graph.model.verdict import MatchLine
from graph.rules.decide import TURN
from graph.rules.kept import Kept
from graph.rules.settled import Settled, settled
from graph.rules.spoken import fact_text

SAME, LARGER, SMALLER, DIFFERENT, NOT_KNOWN = "same", "larger", "smaller", "different", "not known"
LAYOUT = "layout"  # the line that compares which seats there are
ROOM = 1_000
"""Things settled for one comparison where none are kept."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One line with what the cautions and notes need to know of it. `named`: the original where there are several."""

    line: MatchLine
    feature: Feature | None  # None: the layout
    kind: str  # of our part, '' for the unit as a whole
    ours: Fact | None
    original: Fact | None
    named: str = ""

    @property
    def ratio(self) -> Fraction | None:
        """Ours to the original, where both are one number."""
        ours, original = self.ours, self.original
        if ours is None or original is None or not ours.settles or not original.settles:
            return None
        if ours.low is None or ours.low != ours.high or original.low != original.high or not original.low:
            return None
        return Fraction(ours.low, original.low)


def compare(ours: Fact | None, original: Fact | None) -> str:
    """Same, larger, smaller, different (codes), or not known; over all rivals of both."""
    if ours is None or original is None or not ours.settles or not original.settles:
        return NOT_KNOWN
    if ours.quantity != original.quantity:
        return DIFFERENT if not ours.quantity or not original.quantity else NOT_KNOWN
    turn = TURN if ours.quantity == "angle" else 0
    said = {_compare(a, b, turn) for a in ours.alternatives for b in original.alternatives}
    return said.pop() if len(said) == 1 else NOT_KNOWN


def _compare(ours: Alternative, original: Alternative, turn: int) -> str:
    """`turn`: what a whole turn is, of an angle; -90° is 270°, and the shorter way round counts."""
    if ours.low is None or ours.high is None or original.low is None or original.high is None:
        return SAME if set(ours.codes) == set(original.codes) else DIFFERENT
    if turn:
        off = ours.low + ours.high - original.low - original.high
        turns = (off + turn) // (2 * turn) * turn
        ours = replace(ours, low=ours.low - turns, high=ours.high - turns)
    assert ours.low is not None and ours.high is not None
    if ours.low > original.high:
        return LARGER
    if ours.high < original.low:
        return SMALLER
    # Twice the middles and twice the tolerances, to stay whole: as two claims agree, so do two parts.
    apart = abs(ours.low + ours.high - original.low - original.high)
    return SAME if apart <= max(ours.high - ours.low, original.high - original.low) else NOT_KNOWN


def match(
    unit: Unit,
    layout: Layout,
    originals: Sequence[tuple[Unit, Layout | None]],
    *,
    parts: Mapping[str, Part],
    features: Iterable[Feature],
    only_seat: str = "",
    kept: Kept | None = None,
) -> tuple[Compared, ...]:
    """Every duty feature that either side has on record, seat by seat, then those of the unit as a whole.

    A duty feature on record nowhere is one line without a seat: not known. Without an original all is not
    known. `only_seat` keeps one seat's lines. `kept`: as `graph.swap.fits` takes it.
    """
    duty = [f for f in features if f.duty]
    kept = kept or Kept(ROOM)
    found: list[Compared] = []
    for original, original_layout in originals or ((None, None),):
        named = f"{original.maker} {original.name}" if original is not None and len(originals) > 1 else ""
        against = Against(unit, original, named, parts, duty, kept)
        found += against.lines(layout, original_layout, only_seat)
    if len(originals) < 2:
        return tuple(found)  # a seat and feature have one line
    out: dict[MatchLine, Compared] = {}
    for one in found:
        out.setdefault(one.line, one)
    return tuple(out.values())


@dataclass(frozen=True, slots=True)
class Against:
    """A unit beside one original; `named`: the original's name where each line says it, since there are several."""

    unit: Unit
    original: Unit | None
    named: str
    parts: Mapping[str, Part]
    duty: Sequence[Feature]
    kept: Kept

    def lines(self, layout: Layout, original_layout: Layout | None, only_seat: str) -> list[Compared]:
        """The layouts, each seat of both, and what no part has on record."""
        unit, original = self.unit, self.original
        out: list[Compared] = []
        if original is not None and not only_seat:
            out.append(self._layouts(unit.layout, original.layout))
        ours, theirs = dict(unit.parts), dict(original.parts) if original is not None else {}
        seats = [s.name for s in layout.seats] + [s.name for s in (original_layout.seats if original_layout else ())]
        for seat in [only_seat] if only_seat else dict.fromkeys([*seats, *ours, *theirs]):
            out += self._seat(seat, ours.get(seat), theirs.get(seat))
        if not only_seat:
            told = {one.feature.name for one in out if one.feature is not None}
            out += [self._unit(feature) for feature in self.duty if feature.name not in told]
        return out

    def _layouts(self, ours: str, theirs: str) -> Compared:
        key = (LAYOUT, ours, theirs, self.named)
        found: Compared | None = self.kept.together.get(key)
        if found is None:
            line = self._line("", LAYOUT, SAME if ours == theirs else DIFFERENT, ours, theirs)
            found = self.kept.together.put(key, Compared(line, None, "", None, None, self.named))
        return found

    def _seat(self, seat: str, ours: str | None, theirs: str | None) -> tuple[Compared, ...]:
        """The lines of one seat, from the parts in it: they are the same whatever sits in the others."""
        key = ("lines", seat, ours, theirs, self.original is None, self.named)
        found: tuple[Compared, ...] | None = self.kept.together.get(key)
        return found if found is not None else self.kept.together.put(key, tuple(self._compared(seat, ours, theirs)))

    def _compared(self, seat: str, ours: str | None, theirs: str | None) -> Iterator[Compared]:
        here, there = self.parts.get(ours or ""), self.parts.get(theirs or "")
        near, far = _facts(here, self.kept), _facts(there, self.kept)
        named = {*(near.features if near else ()), *(far.features if far else ())}
        for feature in [one for one in self.duty if one.name in named]:
            mine = near.fact(feature) if near is not None else None
            other = far.fact(feature) if far is not None else None
            if self.original is None:
                compared = NOT_KNOWN
            elif here is not None and there is not None and here.key == there.key:
                compared = SAME  # one number is one kind of part, whatever is known of it
            elif (ours is None) != (theirs is None):
                compared = DIFFERENT
            else:
                compared = compare(mine, other)
            told = _text(far, feature, theirs is not None) if self.original is not None else NOT_KNOWN
            line = self._line(seat, feature.name, compared, _text(near, feature, ours is not None), told)
            yield Compared(line, feature, here.kind if here is not None else "", mine, other, self.named)

    def _unit(self, feature: Feature) -> Compared:
        """A duty feature that no part has, as claimed of the units themselves."""
        unit, original = self.unit, self.original
        key = ("line", unit.key, original.key if original is not None else None, feature.name, self.named)
        found: Compared | None = self.kept.together.get(key)
        return found if found is not None else self.kept.together.put(key, self._claimed(feature))

    def _claimed(self, feature: Feature) -> Compared:
        ours = settled(self.unit, self.kept).fact(feature)
        other = settled(self.original, self.kept).fact(feature) if self.original is not None else None
        same = self.original is not None and self.unit.key == self.original.key
        compared = SAME if same else compare(ours, other)
        line = self._line("", feature.name, compared, fact_text(ours), fact_text(other))
        return Compared(line, feature, "", ours, other, self.named)

    def _line(self, seat: str, feature: str, compared: str, ours: str, original: str) -> MatchLine:
        return MatchLine(seat, feature, compared, ours, f"{original} ({self.named})" if self.named else original)


def _facts(part: Part | None, kept: Kept) -> Settled | None:
    return settled(part, kept) if part is not None else None


def _text(facts: Settled | None, feature: Feature, filled: bool) -> str:
    if not filled:
        return "nothing in that seat"
    return facts.text(feature) if facts is not None else fact_text(None)
