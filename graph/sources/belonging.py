"""Which kinds of part a feature belongs to, as rules, work and values speak of it: a reading elsewhere is doubtful.

Rule 1: a feature that nothing speaks of belongs anywhere.
Rule 2: what is found is a doubt, never a fault: a shop may measure whatever it likes.
"""

from collections.abc import Iterable, Mapping
from typing import Final

from graph.sources.rows import Line
from graph.sources.rules import ENGINE
from graph.sources.things import Things

WORK: Final = ("feature", "wall_feature", "limit_feature")


class Belonging:
    """The kinds of part that each feature of rules, work and values is spoken of for, as far as the file was read."""

    def __init__(self, things: Things) -> None:
        self._things = things
        self._kinds: dict[str, set[str]] = {}
        self._seats: dict[str, set[str]] = {}
        self._loaded = False

    def rule(self, fields: Mapping[str, object]) -> None:
        """Take note of a rule's operands."""
        seats = self._things.layout(str(fields.get("layout", "")))
        right = fields.get("right", ())
        for operand in (fields.get("left", ""), *(right if isinstance(right, Iterable) else ())):
            seat, _, feature = str(operand).partition(".")
            if seats is not None and seat != ENGINE and seat in seats.kinds:
                self._of(feature, seats.kinds[seat])
                self._seats.setdefault(feature, set()).add(seat)

    def value(self, line: Line) -> None:
        """Take note of a value of a kind of part."""
        part = self._things.words("parts", (line.fields.get("maker", ""), line.fields.get("number", "")))
        self._of(line.fields.get("feature", ""), (part or {}).get("kind", ""))

    def reading(self, line: Line, layout: str, part: tuple[str, str]) -> None:
        """Doubt a reading whose feature is spoken of for other kinds of part only; `part` sits there by the plate."""
        self._load()
        seat, feature = line.fields.get("seat", ""), line.fields.get("feature", "")
        seats = self._things.layout(layout)
        told = self._kinds.get(feature)
        if seats is None or seat not in seats.kinds or not told or feature not in self._seats:
            return
        kind = seats.kinds[seat]
        if any(self._things.is_kind(kind, one) or self._things.is_kind(one, kind) for one in told):
            return
        known = self._things.known
        limits = ((*part, feature, condition) for condition in ("", "used"))
        if known.row("values", (*part, feature)) or any(known.row("limits", key) for key in limits):
            return
        others = " and ".join(sorted(self._seats[feature]))
        line.report("reading-out-of-place", "seat", feature=feature, seat=seat, others=others)

    def limit(self, line: Line) -> None:
        """Doubt a limit of a whole unit on what rules know as a size of one seat: plans hold parts against theirs."""
        self._load()
        feature, key = (
            line.fields.get("feature", ""),
            (line.fields.get("maker", ""), line.fields.get("unit_or_part", "")),
        )
        of_a_unit = self._things.words("parts", key) is None and self._things.words("units", key) is not None
        if of_a_unit and feature in self._seats and not line.faulty:
            seats = " and ".join(sorted(self._seats[feature]))
            line.report("limit-of-a-unit", "unit_or_part", feature=feature, seats=seats)

    def _of(self, feature: str, kind: str) -> None:
        if feature and kind:
            self._kinds.setdefault(feature, set()).add(kind)

    def _load(self) -> None:
        """Bring in the store's rules, and all work, once they are asked for."""
        if self._loaded:
            return
        self._loaded = True
        for fields in self._things.known.rows("rules"):
            self.rule(fields)
        for words in self._things.rows["operations"].values():
            for name in WORK:
                self._of(words.get(name, ""), words.get("kind", ""))
