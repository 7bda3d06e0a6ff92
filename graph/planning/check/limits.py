"""How far a part may be cut (docs/semantics.md, section 3, limit of a cut)."""

from dataclasses import dataclass

from graph.model.claim import Claim, Rank
from graph.model.record import Operation
from graph.planning.check.case import Case
from graph.planning.check.choices import Option, as_is, of_kind, readings
from graph.planning.check.facts import settled


@dataclass(frozen=True, slots=True)
class CutLimit:
    """The furthest a part permits; `unknown` names what is missing, `said` the statements it rests on."""

    value: int | None  # the tightest of what is known
    unknown: tuple[str, ...]
    said: frozenset[str]  # of the tightest
    seen: frozenset[str]  # of everything that was looked at


def limit_of(case: Case, option: Option, operation: Operation) -> CutLimit:
    """The limit of one cut on one part."""
    widen = operation.effect == "widen_to_suit"
    before = as_is(case, option, operation.feature)
    known: list[tuple[int, frozenset[str]]] = []
    unknown: list[str] = []
    if operation.limit_feature:
        stop = as_is(case, option, operation.limit_feature)
        end = (stop.low if widen else stop.high) if stop.settles else None
        if end is not None:
            known.append((end, frozenset(c for a in stop.alternatives for c in a.claims)))
    for fact in (
        before,
        of_kind(case, option.part, operation.feature),
    ):  # the kind's limits hold for a read part, too
        stated = fact.limit_max if widen else fact.limit_min
        if stated is not None and fact.settles:
            known.append((stated, frozenset(c for a in fact.alternatives for c in a.claims)))
    if operation.wall_feature:
        room, said, missing = _wall(case, option, operation)
        unknown += missing
        start = before.low if widen else before.high
        if room is not None and start is not None:
            known.append((start + room if widen else start - room, said))
    if operation.tolerance is None:
        unknown.append(f"{operation.name} does not say what it holds")
    if not known and not unknown:
        unknown.append(f"no limit for {operation.feature}")
    tightest = (min if widen else max)((end for end, _ in known), default=None)
    return CutLimit(
        tightest,
        tuple(unknown),
        frozenset().union(*(said for end, said in known if end == tightest)),
        frozenset().union(*(said for _, said in known)),
    )


def _wall(case: Case, option: Option, operation: Operation) -> tuple[int | None, frozenset[str], list[str]]:
    """The room that the wall leaves for the feature, the statements it rests on, and what is not known of it."""
    feature = operation.wall_feature
    read = tuple(c for c in readings(case, option) if c.feature == feature)
    missing: list[str] = []
    thinnest: list[int] = []
    said: set[str] = set()
    for place in operation.wall_positions or ("",):
        here: tuple[Claim, ...] = tuple(c for c in read if c.position == place)
        wall = settled(option.part, feature, here, of_kind=False)
        if not wall.settles or wall.low is None:
            missing.append(f"{feature} not read" + (f" at {place}" if place else ""))
        else:
            thinnest.append(wall.low)
            said |= {c for a in wall.alternatives for c in a.claims}
    part = case.parts.get(option.part)
    least = [
        x
        for x in (part.limits if part else ())
        if x.feature == feature and x.min is not None and x.rank != Rank.HEARD
    ]
    strictest = max((x.min for x in least if x.min is not None), default=None)
    if strictest is None:
        missing.append(f"no least {feature}")
    if operation.core_shift is None:
        missing.append(f"{operation.name} does not say how far a core may have shifted")
    if missing or strictest is None or operation.core_shift is None:
        return None, frozenset(said), missing
    said |= {x.said for x in least if x.min == strictest and x.said}
    share = 2 if operation.wall_share == "half" else 1
    return share * (min(thinnest) - operation.core_shift - strictest), frozenset(said), []
