"""The match line: each duty feature against the unit the engine left the factory with (semantics, section 9)."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from graph.model.fact import Alternative, Fact
from graph.model.record import Feature, Layout, Part, Unit
from graph.model.verdict import MatchLine
from graph.rules.kept import Kept
from graph.rules.settled import Settled, settled
from graph.rules.spoken import fact_text

SAME, LARGER, SMALLER, DIFFERENT, NOT_KNOWN = "same", "larger", "smaller", "different", "not known"
LAYOUT = "layout"  # the line that compares which seats there are
ROOM = 1_000
"""Things settled for one comparison where none are kept."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One line with what the cautions and notes need to know of it."""

    line: MatchLine
    feature: Feature | None  # None: the layout
    kind: str  # of our part, '' for the unit as a whole
    ours: Fact | None
    original: Fact | None

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
    said = {_compare(a, b) for a in ours.alternatives for b in original.alternatives}
    return said.pop() if len(said) == 1 else NOT_KNOWN


def _compare(ours: Alternative, original: Alternative) -> str:
    if ours.low is None or ours.high is None or original.low is None or original.high is None:
        return SAME if set(ours.codes) == set(original.codes) else DIFFERENT
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
    out: dict[MatchLine, Compared] = {}
    for original, original_layout in originals or ((None, None),):
        found = _against(
            unit,
            layout,
            original=original,
            original_layout=original_layout,
            parts=parts,
            duty=duty,
            only_seat=only_seat,
            kept=kept,
        )
        for one in found:
            named = one.line
            if len(originals) > 1 and original is not None:
                name = f"{original.maker} {original.name}"
                named = MatchLine(named.seat, named.feature, named.compared, named.ours, f"{named.original} ({name})")
            out.setdefault(named, Compared(named, one.feature, one.kind, one.ours, one.original))
    return tuple(out.values())


def _against(
    unit: Unit,
    layout: Layout,
    *,
    original: Unit | None,
    original_layout: Layout | None,
    parts: Mapping[str, Part],
    duty: Sequence[Feature],
    only_seat: str,
    kept: Kept,
) -> list[Compared]:
    out: list[Compared] = []
    told: set[str] = set()
    named = frozenset(feature.name for feature in duty)
    if original is not None and not only_seat:
        compared = SAME if unit.layout == original.layout else DIFFERENT
        out.append(Compared(MatchLine("", LAYOUT, compared, unit.layout, original.layout), None, "", None, None))
    ours, theirs = dict(unit.parts), dict(original.parts) if original is not None else {}
    seats = [s.name for s in layout.seats] + [s.name for s in (original_layout.seats if original_layout else ())]
    for seat in [only_seat] if only_seat else list(dict.fromkeys([*seats, *ours, *theirs])):
        here, there = parts.get(ours.get(seat, "")), parts.get(theirs.get(seat, ""))
        near, far = _facts(here, kept), _facts(there, kept)
        spoken_of = named.intersection((*(near.features if near else ()), *(far.features if far else ())))
        for feature in [one for one in duty if one.name in spoken_of] if spoken_of else ():
            told.add(feature.name)
            mine = near.fact(feature) if near is not None else None
            other = far.fact(feature) if far is not None else None
            if original is None:
                compared = NOT_KNOWN
            elif here is not None and there is not None and here.key == there.key:
                compared = SAME  # one number is one kind of part, whatever is known of it
            elif (seat in ours) != (seat in theirs):
                compared = DIFFERENT
            else:
                compared = compare(mine, other)
            line = MatchLine(
                seat, feature.name, compared, _text(near, feature, seat in ours), _text(far, feature, seat in theirs)
            )
            if original is None:
                line = MatchLine(seat, feature.name, compared, line.ours, NOT_KNOWN)
            out.append(Compared(line, feature, here.kind if here is not None else "", mine, other))
    if not only_seat:
        out += [_whole(unit, original, feature, kept) for feature in duty if feature.name not in told]
    return out


def _whole(unit: Unit, original: Unit | None, feature: Feature, kept: Kept) -> Compared:
    """A duty feature that no part has, as claimed of the units themselves."""
    ours = settled(unit, kept).fact(feature)
    other = settled(original, kept).fact(feature) if original is not None else None
    compared = SAME if original is not None and unit.key == original.key else compare(ours, other)
    line = MatchLine("", feature.name, compared, fact_text(ours), fact_text(other))
    return Compared(line, feature, "", ours, other)


def _facts(part: Part | None, kept: Kept) -> Settled | None:
    return settled(part, kept) if part is not None else None


def _text(facts: Settled | None, feature: Feature, filled: bool) -> str:
    if not filled:
        return "nothing in that seat"
    return facts.text(feature) if facts is not None else fact_text(None)
