"""Which values a fact may show: rival ones, what its reading leaves open, what like parts have, what rules admit."""

from collections.abc import Callable, Iterable, Sequence

from graph.model.claim import Claim
from graph.model.fact import Fact
from graph.model.record import Feature, Layout, Part
from graph.model.value import Amount, Code, CodeSet, Value, spelled_code
from graph.rules.facts import settle

Pairs = tuple[tuple[str, tuple[tuple[str, str], ...]], ...]

WIDE, CLOSE = 64, 16
"""Into how many steps a range is halved at most: of an unread size, and of what a reading leaves open."""

MOST = 24
"""Codes tried for one fact; a feature with more of them on record is tried with the first ones only."""


def interval_points(low: int, high: int, quantity: str) -> tuple[Value, ...]:
    """The ends and the middle of what a reading leaves open."""
    return tuple(Amount(x, quantity) for x in sorted({low, (low + high) // 2, high}))


def wide_points(sizes: Iterable[int], quantity: str) -> tuple[Value, ...]:
    """From half of the least to one and a half of the greatest size that like facts have, and those themselves."""
    known = sorted(set(sizes))
    if not known:
        return ()
    ends = {known[0] // 2, known[0], (known[0] + known[-1]) // 2, known[-1], known[-1] * 3 // 2}
    return tuple(Amount(x, quantity) for x in sorted(ends))


def step_of(points: Sequence[Value], sureness: int, share: int) -> int:
    """How near two sizes may come: half of what the instrument is sure of, or a share of the range; 0 for codes."""
    sizes = [p.amount for p in points if isinstance(p, Amount)]
    return max(sureness // 2, (sizes[-1] - sizes[0]) // share, 1) if len(sizes) > 1 else 0


def disputed_points(fact: Fact) -> tuple[Value, ...]:
    """Each rival value of a fact."""
    if fact.low is not None:
        middles = sorted(
            {(a.low + a.high) // 2 for a in fact.alternatives if a.low is not None and a.high is not None}
        )
        return tuple(Amount(x, fact.quantity) for x in middles)
    return tuple(CodeSet(a.codes) if len(a.codes) != 1 else Code(a.codes[0]) for a in fact.alternatives)


def kind_points(
    subject: str,
    feature: Feature,
    claims: Iterable[Claim],
    like: Iterable[Claim],
    codes: Callable[[], tuple[Value, ...]],
) -> tuple[tuple[Value, ...], int]:
    """Values that a fact about a kind, or about an engine, may have, and into how many steps to halve."""
    own = list(claims)
    fact = settle(own, feature, subject=subject)
    if fact.status == "disputed":
        return disputed_points(fact), 0
    if fact.settles and fact.low is not None and fact.high is not None:
        return (interval_points(fact.low, fact.high, fact.quantity), CLOSE) if fact.low < fact.high else ((), 0)
    if feature.type in ("code", "set", "text"):
        return codes(), 0
    sizes = sizes_of([*own, *like], feature.name)
    return (wide_points((s for s, _ in sizes), sizes[0][1]), WIDE) if sizes else ((), 0)


def sizes_of(claims: Iterable[Claim], feature: str) -> list[tuple[int, str]]:
    """The sizes that claims state for a feature, with their quantity."""
    return [
        (c.value.amount, c.value.quantity) for c in claims if c.feature == feature and isinstance(c.value, Amount)
    ]


def codes_of(
    feature: str, claims: Iterable[Claim], parts: Sequence[Part], layout: Layout, accepted: Pairs, several: bool
) -> tuple[Value, ...]:
    """The codes that anything on record has for a feature, and those that rules on it admit."""
    found: set[str] = set()
    for claim in [*claims, *(c for p in parts for c in p.claims)]:
        if claim.feature == feature and isinstance(claim.value, Code):
            found.add(spelled_code(claim.value.code))
        elif claim.feature == feature and isinstance(claim.value, CodeSet):
            found |= {spelled_code(c) for c in claim.value.codes}
    pairs = dict(accepted)
    for rule in layout.rules:
        for place, (_, name) in enumerate(rule.operands):
            if name == feature:
                found |= {spelled_code(pair[min(place, 1)]) for pair in pairs.get(rule.set or rule.name, ())}
    listed = sorted(found)[:MOST]
    return tuple(CodeSet((c,), c) if several else Code(c, c) for c in listed)
