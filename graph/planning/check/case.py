"""A bundle with its records by name, as the checker looks them up."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal

from graph.model.bundle import Bundle
from graph.model.claim import Rank
from graph.model.record import Core, Demand, Feature, FoundPart, Kind, Operation, Part, Rate, Rule
from graph.model.value import spelled_code
from graph.model.verdict import Verdict

Mode = Literal["certain", "possible"]

ENGINE = "engine"
"""The seat name that stands for the engine's side of a joint."""


def allowed(verdict: Verdict, mode: Mode) -> bool:
    """Whether a verdict lets a plan stand: for certain only a yes does, for possible anything but a no."""
    return verdict is Verdict.YES if mode == "certain" else verdict is not Verdict.NO


@dataclass(frozen=True, slots=True)
class Ruled:
    """A rule with its number in the layout, its operands and its seats, the engine left out."""

    number: int
    rule: Rule
    operands: tuple[tuple[str, str], ...]
    seats: tuple[str, ...]


@dataclass(frozen=True)
class Case:
    """One bundle, indexed."""

    bundle: Bundle
    seen: dict[object, Any] = field(default_factory=dict, compare=False, repr=False)  # what was worked out so far

    @cached_property
    def parts(self) -> dict[str, Part]:
        """Parts by key."""
        return {p.key: p for p in self.bundle.parts}

    @cached_property
    def kinds(self) -> dict[str, Kind]:
        """Kinds by name."""
        return {k.name: k for k in self.bundle.kinds}

    @cached_property
    def features(self) -> dict[str, Feature]:
        """Features by name."""
        return {f.name: f for f in self.bundle.features}

    @cached_property
    def operations(self) -> dict[str, Operation]:
        """Operations by name."""
        return {o.name: o for o in self.bundle.operations}

    @cached_property
    def rates(self) -> dict[str, Rate]:
        """Rates by name."""
        return {r.name: r for r in self.bundle.rates}

    @cached_property
    def donors(self) -> dict[str, Core]:
        """The cores that may donate, by tag."""
        own = self.bundle.core.key
        return {c.tag: c for c in self.bundle.donors if c.may_donate and c.key != own}

    @cached_property
    def pairs(self) -> dict[str, frozenset[tuple[str, str]]]:
        """The accepted pairs of codes, spelled, by set."""
        return {
            name: frozenset((spelled_code(left), spelled_code(right)) for left, right in rows)
            for name, rows in self.bundle.accepted
        }

    @cached_property
    def wishes(self) -> frozenset[str]:
        """The question's wishes."""
        return frozenset(self.bundle.question.wishes)

    @cached_property
    def naming(self) -> dict[tuple[str, str], int]:
        """Every (seat, feature) that a rule names, with its place in the order in which the rules name them."""
        named = [place for rule in self.bundle.layout.rules for place in rule.operands]
        return {place: named.index(place) for place in named}

    @cached_property
    def rules(self) -> tuple[Ruled, ...]:
        """The layout's rules, in its order."""
        rules = enumerate(self.bundle.layout.rules)
        return tuple(Ruled(i, r, r.operands, tuple(s for s in r.seats if s != ENGINE)) for i, r in rules)

    @cached_property
    def rules_about(self) -> dict[tuple[str, str], list[Ruled]]:
        """The rules that name each (seat, feature), in the layout's order."""
        return {place: [r for r in self.rules if place in r.operands] for place in self.naming}

    @cached_property
    def demands(self) -> tuple[Demand, ...]:
        """The demands on features."""
        return tuple(d for d in self.bundle.build.demands if d.type != "keep")

    def used_limits(self, part: str) -> dict[str, tuple[int | None, int | None]]:
        """The strictest least and most on record for a used part, by feature; those of walls bound cuts instead."""
        known = self.parts.get(part)
        if known is None or not known.limits:
            return {}
        walls = {o.wall_feature for o in self.bundle.operations}
        rows = [x for x in known.limits if x.condition in ("", "used") and x.rank != Rank.HEARD]
        ends = {}
        for feature in sorted({x.feature for x in rows} - walls):
            lows = [x.min for x in rows if x.feature == feature and x.min is not None]
            highs = [x.max for x in rows if x.feature == feature and x.max is not None]
            if lows or highs:
                ends[feature] = max(lows, default=None), min(highs, default=None)
        return ends

    def lineage(self, kind: str) -> tuple[str, ...]:
        """The kind and those above it, nearest first."""
        line: list[str] = []
        while kind and kind not in line:
            line.append(kind)
            kind = self.kinds[kind].parent if kind in self.kinds else ""
        return tuple(line)

    def one_time(self, kind: str) -> bool:
        """Whether a part of that kind is never used again; a kind above it says so for those below."""
        return any(self.kinds[k].one_time for k in self.lineage(kind) if k in self.kinds)

    def found(self, source: str, lot: str, seat: str) -> FoundPart | None:
        """What sits in that seat of the core, or of the donor with that tag."""
        core = self.bundle.core if source == "kept" else self.donors.get(lot)
        return next((f for f in core.found if f.seat == seat), None) if core else None
