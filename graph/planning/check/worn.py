"""A used part held against the limits on record for it (docs/semantics.md, section 3, worn beyond its limit)."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from graph.model.fact import Fact
from graph.model.verdict import Verdict
from graph.planning.check.case import Case, Mode, allowed
from graph.planning.check.choices import Option, as_is, kind_operations, specimen
from graph.planning.check.rules import Span, inside


@dataclass(frozen=True, slots=True)
class Wear:
    """What the limits of a used part say of one feature as it is."""

    feature: str
    verdict: Verdict
    limits: Span
    fact: Fact

    @property
    def text(self) -> str:
        """Why the part may not be used, or what is not known."""
        ends = "..".join("" if end is None else str(end) for end in (self.limits.low, self.limits.high))
        if not self.fact.settles:
            return f"{self.feature} must lie in {ends}, and is not known"
        return f"{self.feature} must lie in {ends}, and is {self.fact.low}..{self.fact.high}"


def wears(case: Case, option: Option, names: Iterable[str]) -> Iterator[Wear]:
    """Every limited feature that these operations leave as it is, judged; none for what is not a used part."""
    mine = kind_operations(case, option)
    changed = {mine[n].feature for n in names if n in mine and mine[n].effect != "service"}
    for feature in case.used_limits(option.part):
        wear = _wear(case, option, feature)
        if wear is not None and feature not in changed:
            yield wear


def worn_out(case: Case, option: Option, names: Iterable[str], mode: Mode) -> list[Wear]:
    """The features that speak against using the part so."""
    return [wear for wear in wears(case, option, names) if not allowed(wear.verdict, mode)]


def asks_for_work(case: Case, option: Option, feature: str, mode: Mode) -> bool:
    """Whether a used part may not be used with this feature as it is."""
    wear = _wear(case, option, feature)
    return wear is not None and not allowed(wear.verdict, mode)


def _wear(case: Case, option: Option, feature: str) -> Wear | None:
    limits = case.used_limits(option.part).get(feature) if option.source in ("kept", "donor") else None
    if limits is None:
        return None
    ends = Span((1,), *limits)
    return case.things.once(
        ("wear", specimen(case, option), feature), lambda: _held(as_is(case, option, feature), ends)
    )


def _held(fact: Fact, ends: Span) -> Wear:
    return Wear(fact.feature, inside(fact, ends), ends, fact)
