"""The limits that a used part must keep where no work changes it (docs/semantics.md, section 3)."""

from collections.abc import Collection
from dataclasses import dataclass

from graph.model.claim import Rank
from graph.model.fact import Fact
from graph.model.record import Limit, Rule
from graph.model.verdict import Missing, Verdict
from graph.planning.options import Option
from graph.planning.problem import Problem
from graph.rules.decide import decide
from graph.rules.facts import NO_CLAIM
from graph.rules.judge import how_to_settle
from graph.rules.spoken import fact_text, number

USED = ("used", "")
CODED = ("code", "set", "text")


@dataclass(frozen=True, slots=True, eq=False)
class WearLimit:
    """What one feature of a used part may measure, the strictest of each side, and the rows that say so."""

    seat: str
    part: str
    feature: str
    called: str
    quantity: str
    min: int | None
    max: int | None
    said: tuple[str, ...]
    measure: str

    def verdict(self, fact: Fact) -> Verdict:
        """All of the fact inside: fits; none of it: does not fit; anything else is not known."""
        inside = Rule("", "wear", "stack", (self.seat, self.feature), (), self.min, self.max)
        return decide(inside, (fact,))[0]

    @property
    def text(self) -> str:
        """The limit as a person reads it."""
        ends = [
            f"{word} {number(end, self.quantity)}"
            for word, end in (("at least", self.min), ("at most", self.max))
            if end is not None
        ]
        return f"the limit of a used {self.part.rpartition('/')[2]} ({self.called} {' and '.join(ends)})"

    def missing(self, fact: Fact) -> Missing:
        """What to measure where the fact does not settle it."""
        why = fact.why or (NO_CLAIM if not fact.settles else f"not known closely enough: {fact_text(fact)}")
        return Missing(self.seat, self.feature, self.part, f"{why}; {self.text}", self.measure)

    def claims(self, fact: Fact) -> set[str]:
        """The statements that the verdict rests on."""
        return {*self.said, *(c for a in fact.alternatives for c in a.claims)}


def wear_limits(problem: Problem, option: Option, walls: Collection[str]) -> tuple[WearLimit, ...]:
    """The limits that this used part must keep, by feature; those on walls bound cuts and are not among them."""
    if option.found is None or option.record is None:
        return ()
    rows: dict[str, list[Limit]] = {}
    for row in option.record.limits:
        if row.condition in USED and row.rank != Rank.HEARD and row.feature not in walls:
            rows.setdefault(row.feature, []).append(row)
    found = (_strictest(problem, option, feature, mine) for feature, mine in sorted(rows.items()))
    return tuple(limit for limit in found if limit.min is not None or limit.max is not None)


def _strictest(problem: Problem, option: Option, feature: str, rows: list[Limit]) -> WearLimit:
    low = max((r.min for r in rows if r.min is not None), default=None)
    high = min((r.max for r in rows if r.max is not None), default=None)
    said = {r.said for r in rows if (r.min is not None and r.min == low) or (r.max is not None and r.max == high)}
    seat, known = option.seat.name, problem.features.get(feature)
    return WearLimit(
        seat,
        option.part,
        feature,
        known.label if known is not None else feature,
        known.type if known is not None and known.type not in CODED else "",
        low,
        high,
        tuple(sorted(said - {""})),
        how_to_settle(seat, known, feature, {}),
    )
