"""A feature settled from its claims (docs/semantics.md, section 1)."""

from collections.abc import Iterable
from itertools import combinations

from graph.model.claim import Claim, Rank
from graph.model.fact import Alternative, Fact, Status
from graph.model.value import Amount, Code, Value


def value_codes(value: Value) -> tuple[str, ...]:
    """The codes of a value; none for an amount."""
    if isinstance(value, Amount):
        return ()
    return (value.code,) if isinstance(value, Code) else value.codes


def settled(subject: str, feature: str, claims: Iterable[Claim], *, of_kind: bool) -> Fact:
    """The fact that the claims about one feature give. `of_kind`: they speak of a kind, not of one part."""
    mine = [c for c in claims if c.feature == feature]
    if not mine:
        return Fact(subject, feature, "unknown", why="no claim")
    governing: list[Claim] = []
    deciding: list[Claim] = []
    status: Status = "known"
    for place in sorted({c.position for c in mine}):
        here = [c for c in mine if c.position == place]
        latest = [c for c in here if not any(o.date > c.date and _same_voice(o, c, of_kind) for o in here)]
        weights = [_weight(c, of_kind) for c in latest]
        best = min(weights)
        best_here = [c for c, weight in zip(latest, weights, strict=True) if weight == best]
        agreed = all(_agree(a, b) for a, b in combinations(best_here, 2))
        governing += best_here
        deciding += _surest(best_here) if agreed and not of_kind else best_here
        if best == Rank.HEARD:
            status = "heard"
        elif status != "heard" and not agreed:
            status = "disputed"
    return Fact(
        subject,
        feature,
        status,
        next((c.value.quantity for c in governing if isinstance(c.value, Amount)), ""),
        tuple(_alternative(c) for c in deciding),
        max((c.limit_min for c in governing if c.limit_min is not None), default=None),
        min((c.limit_max for c in governing if c.limit_max is not None), default=None),
    )


def _weight(claim: Claim, of_kind: bool) -> Rank:
    """A measured claim about a kind speaks of one specimen and counts as heard."""
    return Rank.HEARD if of_kind and claim.rank == Rank.MEASURED else Rank(claim.rank)


def _same_voice(a: Claim, b: Claim, of_kind: bool) -> bool:
    """Whether one person with one instrument, or one source of claims about a kind, says both."""
    if a.source != b.source:
        return False
    return bool(a.source) if of_kind else bool(a.who) and a.who == b.who and a.instrument == b.instrument


def _surest(readings: list[Claim]) -> list[Claim]:
    """Without those that a stated narrower one lies wholly inside of."""
    ends = [_alternative(c) for c in readings]
    stated = [a for a, c in zip(ends, readings, strict=True) if c.tolerance is not None and a.low is not None]

    def needless(wide: Alternative) -> bool:
        return wide.low is not None and any(
            wide.low <= a.low and a.high <= wide.high and (a.low, a.high) != (wide.low, wide.high)  # type: ignore[operator]
            for a in stated
        )

    return [c for c, a in zip(readings, ends, strict=True) if not needless(a)]


def _agree(a: Claim, b: Claim) -> bool:
    if isinstance(a.value, Amount) and isinstance(b.value, Amount):
        slack = max(_off(a), _off(b))
        return a.value.quantity == b.value.quantity and abs(a.value.amount - b.value.amount) <= slack
    if isinstance(a.value, Amount) or isinstance(b.value, Amount):
        return False
    return set(value_codes(a.value)) == set(value_codes(b.value))


def _alternative(claim: Claim) -> Alternative:
    if isinstance(claim.value, Amount):
        slack = _off(claim)
        amount = claim.value.amount
        return Alternative(amount - slack, amount + slack, position=claim.position, claims=(claim.id,))
    return Alternative(codes=value_codes(claim.value), position=claim.position, claims=(claim.id,))


def _off(claim: Claim) -> int:
    return claim.resolution if claim.tolerance is None else claim.tolerance
