"""What becomes of each part of a core.

Rule 1: a limit counts for the part or unit that it was stated for, and no other; heard limits are shown and limit
nothing; of several that count the stricter governs at each end.
Rule 2: a cracked rotating part is scrap, and nobody lifts that; a crack is never machined away.
Rule 3: what is not read, or has no limit, is not known.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from graph.inspection.guard import (
    CLOSE,
    DISPUTED,
    NO_LIMIT,
    NO_UNCERTAINTY,
    NOT_READ,
    OUTSIDE,
    RULE,
    WITHIN,
    compare,
    governing,
    limit_text,
    nearest,
)
from graph.model.bench import Decision, Inspection, Judged, LimitShown, Outcome
from graph.model.claim import RANK_WORDS, Claim, Rank
from graph.model.fact import Fact
from graph.model.record import (
    Core,
    Feature,
    FoundPart,
    Kind,
    Layout,
    Limit,
    Operation,
    Part,
    Seat,
    Snapshot,
    Weakness,
)
from graph.model.value import Amount
from graph.planning.room import REDUCE, WIDEN, room
from graph.rules.facts import settle
from graph.rules.spoken import number
from graph.rules.voices import deciding, standing

UNIT = "unit"
"""The seat word for what is read on the assembled unit."""

_WORD_OF = {rank: word for word, rank in RANK_WORDS.items()}


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument on record for one feature, and how surely it reads it."""

    name: str
    feature: str
    uncertainty: int


@dataclass(frozen=True, slots=True)
class InspectionEvidence:
    """All that bears on one core's parts. `unit_limits` are those stated for the unit that its plate names."""

    core: Core
    layout: Layout
    parts: tuple[Part, ...]
    kinds: tuple[Kind, ...]
    features: tuple[Feature, ...]
    operations: tuple[Operation, ...]
    unit_limits: tuple[Limit, ...]
    instruments: tuple[Instrument, ...]
    weaknesses: tuple[Weakness, ...]
    looked_at: frozenset[str]  # seats of which somebody wrote down what was found
    snapshot: Snapshot


def inspect(evidence: InspectionEvidence) -> Inspection:
    """Every seat of the core's layout in order, then what was read on the unit as a whole."""
    bench = _Bench(evidence)
    core = evidence.core
    return Inspection(
        core.key,
        core.tag,
        core.as_built,
        tuple(bench.decisions()),
        worst_first(evidence.weaknesses),
        RULE,
        evidence.snapshot,
    )


def worst_first(weaknesses: Iterable[Weakness]) -> tuple[Weakness, ...]:
    """Where to look first: by (seen + 1) / (of + 2), Laplace's rule, so that few cases count less than many."""

    def order(w: Weakness) -> tuple[float, str]:
        share = 0.5 if w.seen is None or w.of is None else (w.seen + 1) / (w.of + 2)
        return -share, w.text

    return tuple(sorted(weaknesses, key=order))


class _Bench:
    def __init__(self, evidence: InspectionEvidence) -> None:
        self.evidence = evidence
        self.parts = {p.key: p for p in evidence.parts}
        self.features = {f.name: f for f in evidence.features}
        self.kinds = {k.name: k for k in evidence.kinds}
        self.words = {f.name: f.label for f in evidence.features}
        self.before_cutting = {o.wall_feature for o in evidence.operations if o.wall_feature}

    def decisions(self) -> Iterator[Decision]:
        found = {f.seat: f for f in self.evidence.core.found}
        for seat in self.evidence.layout.seats:
            one = found.get(seat.name)
            if one is not None:
                yield self._part(seat, one)
            elif not seat.may_be_empty:
                yield Decision(seat.name, "", "unknown", Outcome.UNKNOWN, "nobody has said what sits here", ())
        if self.evidence.unit_limits:
            yield self._unit(found)

    def _part(self, seat: Seat, found: FoundPart) -> Decision:
        part = self.parts.get(found.part)
        lineage = self._lineage(part.kind if part else seat.kind)
        if found.state == "cracked":
            return self._cracked(seat, found, lineage)
        if found.state == "missing":
            return Decision(seat.name, found.part, found.state, Outcome.REPLACE, "it is missing", ())
        if found.state == "scrap":
            reason = "it was written off when it was looked at"
            return Decision(seat.name, found.part, found.state, Outcome.SCRAP, reason, ())
        if any(self.kinds[k].one_time for k in lineage if k in self.kinds):
            return Decision(seat.name, found.part, found.state, Outcome.REPLACE, "it is never used again", ())
        judged = tuple(self._judged(found, part))
        outcome, reason, work = self._outcome(seat.name, found, part, judged, lineage)
        return Decision(seat.name, found.part, found.state, outcome, reason, judged, work)

    def _cracked(self, seat: Seat, found: FoundPart, lineage: Sequence[str]) -> Decision:
        if any(self.kinds[k].rotating for k in lineage if k in self.kinds):
            reason = "a crack in a rotating part is the end of it; nobody lifts that"
            return Decision(seat.name, found.part, found.state, Outcome.SCRAP, reason, (), final=True)
        reason = "it is cracked, and a crack is never machined away; where sources differ the stricter one counts"
        return Decision(seat.name, found.part, found.state, Outcome.REPLACE, reason, ())

    def _unit(self, found: Mapping[str, FoundPart]) -> Decision:
        core = self.evidence.core
        judged: list[Judged] = []
        for feature in sorted({x.feature for x in self.evidence.unit_limits}):
            readings = [c for f in found.values() for c in f.readings if c.feature == feature]
            judged += self._of_feature(
                feature, readings, self._limits(feature, core.as_built, self.evidence.unit_limits)
            )
        outside = [j for j in judged if j.result == OUTSIDE]
        if outside:
            reason = f"{'; '.join(j.text for j in outside)}: strip it and find the part that is worn"
            return Decision(UNIT, core.as_built, "present", Outcome.UNKNOWN, reason, tuple(judged))
        return Decision(UNIT, core.as_built, "present", *_waiting(judged), tuple(judged))

    def _judged(self, found: FoundPart, part: Part | None) -> Iterator[Judged]:
        """The features that decide over a part: those with a limit, and those that wear."""
        limits = part.limits if part else ()
        unit = {x.feature for x in self.evidence.unit_limits}
        names = {x.feature for x in limits}
        names |= {c.feature for c in (part.claims if part else ()) if self._wears(c.feature)}
        names |= {c.feature for c in found.readings if self._wears(c.feature)}
        for name in sorted(names):
            readings = [c for c in found.readings if c.feature == name]
            if not readings and name in self.before_cutting and not self._wears(name):
                continue  # a wall needs no reading until something is cut
            shown = self._limits(name, found.part, limits)
            if name in unit and part is not None:
                shown += self._limits(name, self.evidence.core.as_built, self.evidence.unit_limits)
            yield from self._of_feature(name, readings, shown)

    def _wears(self, feature: str) -> bool:
        return feature in self.features and self.features[feature].wears

    def _limits(self, feature: str, of: str, limits: Iterable[Limit]) -> tuple[LimitShown, ...]:
        mine = [x for x in limits if x.feature == feature]
        counting = [x for x in mine if x.condition in ("", "used") and x.rank < Rank.HEARD]
        low = max((x.min for x in counting if x.min is not None), default=None)
        high = min((x.max for x in counting if x.max is not None), default=None)
        return tuple(
            LimitShown(
                x.min,
                x.max,
                x.condition,
                x.source,
                _WORD_OF[Rank(x.rank)],
                of,
                x in counting and ((x.min is not None and x.min == low) or (x.max is not None and x.max == high)),
                x.said,
            )
            for x in mine
        )

    def _of_feature(self, name: str, readings: Sequence[Claim], limits: tuple[LimitShown, ...]) -> Iterator[Judged]:
        feature = self.features.get(name) or Feature(name, name, "length")
        counting = [x for x in limits if x.condition in ("", "used") and x.rank != "heard"]
        low, high, disputed = governing(counting)
        current = standing(readings, of_kind=False)
        quantity = next((c.value.quantity for c in current if isinstance(c.value, Amount)), feature.type)
        if not current:
            result = NOT_READ
            text = f"{feature.label} is not read; {limit_text(low, high, quantity)}"
            yield Judged(name, feature.label, "", quantity, None, None, low, high, result, text, limits, disputed)
        for place in sorted({c.position for c in current}):
            here = [c for c in current if c.position == place]
            best = min(c.rank for c in here)
            here = [c for c in here if c.rank == best]
            found = [
                Judged(
                    name, feature.label, place, quantity, c.value.amount, c.tolerance, low, high,
                    compare(c.value.amount, c.tolerance, low, high) if best < Rank.HEARD else NOT_READ,
                    "", limits, disputed, c.id,
                )
                for c in deciding(here)
                if isinstance(c.value, Amount)
            ]  # fmt: skip
            apart = len({j.result for j in found} | {OUTSIDE}) > 1
            for judged in found:
                made = replace(judged, result=DISPUTED) if apart and judged.result == OUTSIDE else judged
                yield _with_text(made, self._again(made))

    def _again(self, judged: Judged) -> str:
        """What to measure a close reading with once more."""
        apart = nearest(judged) or 0
        usable = sorted(
            (i.uncertainty, i.name)
            for i in self.evidence.instruments
            if i.feature == judged.feature and i.uncertainty < (judged.uncertainty or 0)
        )
        fit = [i for i in usable if i[0] <= apart]
        if fit or usable:
            off, name = (fit or usable)[0]
            return f"measure again with {name} (± {number(off, judged.quantity)})"
        if apart:
            return f"measure again with an instrument surer than ± {number(apart, judged.quantity)}"
        return "measure again with a surer instrument"

    def _outcome(
        self, seat: str, found: FoundPart, part: Part | None, judged: Sequence[Judged], lineage: Sequence[str]
    ) -> tuple[Outcome, str, tuple[str, ...]]:
        outside = [j for j in judged if j.result == OUTSIDE]
        if not outside:
            if not judged and seat in self.evidence.looked_at:
                return Outcome.REUSE, "it was looked at and found in order; no limit is on record for it", ()
            if not judged:
                return Outcome.UNKNOWN, "no limit and no reading is on record: look it over, and write it down", ()
            outcome, reason = _waiting(judged)
            return outcome, reason, ()
        said = "; ".join(j.text for j in outside)
        can, open_ = self._mending(seat, found, part, outside, lineage)
        if open_:
            return Outcome.UNKNOWN, f"{said}; whether it can be machined is not known: {'; '.join(open_)}", can
        if can:
            return Outcome.MACHINE, f"{said}; a plan says with which mating part", can
        return Outcome.REPLACE, f"{said}; no recorded operation mends that within its limit", ()

    def _mending(
        self, seat: str, found: FoundPart, part: Part | None, outside: Sequence[Judged], lineage: Sequence[str]
    ) -> tuple[tuple[str, ...], list[str]]:
        """For every feature that is outside: the operations with room for it; what is open where none has."""
        work: list[str] = []
        open_: list[str] = []
        for name in sorted({j.feature for j in outside}):
            possible = [
                o
                for o in self.evidence.operations
                if o.kind in lineage and o.feature == name and o.effect in (WIDEN, REDUCE)
            ]
            able, waiting = [], []
            for operation in possible:
                said = self._room(operation, seat, found, part)
                if said is None:
                    able.append(operation.name)
                elif said:
                    waiting.append(f"{operation.label}: {said}")
            if not able and not waiting:
                return (), []
            work += able
            open_ += waiting if not able else []
        return tuple(work), open_

    def _room(self, operation: Operation, seat: str, found: FoundPart, part: Part | None) -> str | None:
        """None: there is room; empty: there is none; else what is not known."""

        def fact(name: str) -> Fact:
            known = self.features.get(name) or Feature(name, name, "text")
            claims = part.claims if part and name != operation.wall_feature else ()
            return settle(claims, known, subject=found.part, used=True, readings=found.readings)

        before = fact(operation.feature)
        limits = part.limits if part else ()
        known = self.features.get(operation.feature) or Feature(operation.feature, operation.feature, "length")
        stating = [
            settle(part.claims if part else (), known, subject=found.part),
            settle((), known, subject=found.part, readings=found.readings),
        ]
        left = room(operation, before, stating, fact, limits, seat=seat, part=found.part, words=self.words)
        if operation.tolerance is None or left.limit is None or before.low is None or before.high is None:
            asked = "; ".join(m.measure for m in left.open)
            return asked or "how closely this cut comes out is not on record"
        spare = (
            left.limit - operation.tolerance - before.high
            if operation.effect == WIDEN
            else before.low - operation.tolerance - left.limit
        )
        if spare <= 0:
            return ""
        return "; ".join(m.measure for m in left.open) or None

    def _lineage(self, kind: str) -> list[str]:
        out: list[str] = []
        while kind and kind not in out:
            out.append(kind)
            kind = self.kinds[kind].parent if kind in self.kinds else ""
        return out


def _waiting(judged: Sequence[Judged]) -> tuple[Outcome, str]:
    """The outcome where nothing is outside: the first thing that is open, or reuse."""
    close = [j for j in judged if j.result == CLOSE]
    if close and not any(j.result == DISPUTED for j in judged):
        return Outcome.TOO_CLOSE, "; ".join(j.text for j in close)
    open_ = [j for j in judged if j.result != WITHIN]
    if open_:
        return Outcome.UNKNOWN, "; ".join(dict.fromkeys(j.text for j in open_))
    return Outcome.REUSE, "every reading lies within its limits, its uncertainty counted against it"


def _with_text(judged: Judged, again: str) -> Judged:
    assert judged.value is not None
    q = judged.quantity
    off = "" if judged.uncertainty is None else f" ± {number(judged.uncertainty, q)}"
    at = f" at {judged.position}" if judged.position else ""
    size = f"{judged.label} {number(judged.value, q)}{off}{at}"
    limit = limit_text(judged.min, judged.max, q)
    said = {
        WITHIN: f"{size} is within {limit}",
        OUTSIDE: f"{size} is outside {limit}",
        CLOSE: f"{size} is too close to call against {limit}: {again}",
        NOT_READ: f"{size} is only heard: read it on the part itself",
        DISPUTED: f"{size} is outside {limit}, another reading there is not: measure again, take back the wrong one",
        NO_LIMIT: f"{size}: no limit for a used part is on record for this very part or unit",
        NO_UNCERTAINTY: f"{size}: the reading states no uncertainty; say which instrument it was taken with",
    }.get(judged.result, f"{size}: the limits on record contradict each other ({limit})")
    if judged.disputed:
        said += " (the sources differ; the stricter governs)"
    return Judged(
        judged.feature,
        judged.label,
        judged.position,
        q,
        judged.value,
        judged.uncertainty,
        judged.min,
        judged.max,
        judged.result,
        said,
        judged.limits,
        judged.disputed,
        judged.said,
    )
