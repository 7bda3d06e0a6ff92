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
    status: Status = "known"
    for place in sorted({c.position for c in mine}):
        here = [c for c in mine if c.position == place]
        latest = [c for c in here if not any(o.source == c.source and o.date > c.date for o in here)]
        weights = [_weight(c, of_kind) for c in latest]
        best = min(weights)
        best_here = [c for c, weight in zip(latest, weights, strict=True) if weight == best]
        governing += best_here
        if best == Rank.HEARD:
            status = "heard"
        elif status != "heard" and not all(_agree(a, b) for a, b in combinations(best_here, 2)):
            status = "disputed"
    return Fact(
        subject,
        feature,
        status,
        next((c.value.quantity for c in governing if isinstance(c.value, Amount)), ""),
        tuple(_alternative(c) for c in governing),
        max((c.limit_min for c in governing if c.limit_min is not None), default=None),
        min((c.limit_max for c in governing if c.limit_max is not None), default=None),
    )


def _weight(claim: Claim, of_kind: bool) -> Rank:
    """A measured claim about a kind speaks of one specimen and counts as heard."""
    return Rank.HEARD if of_kind and claim.rank == Rank.MEASURED else Rank(claim.rank)


def _agree(a: Claim, b: Claim) -> bool:
    if isinstance(a.value, Amount) and isinstance(b.value, Amount):
        slack = max(a.tolerance or 0, b.tolerance or 0)
        return a.value.quantity == b.value.quantity and abs(a.value.amount - b.value.amount) <= slack
    if isinstance(a.value, Amount) or isinstance(b.value, Amount):
        return False
    return set(value_codes(a.value)) == set(value_codes(b.value))


def _alternative(claim: Claim) -> Alternative:
    if isinstance(claim.value, Amount):
        slack = claim.tolerance or 0
        amount = claim.value.amount
        return Alternative(amount - slack, amount + slack, position=claim.position, claims=(claim.id,))
    return Alternative(codes=value_codes(claim.value), position=claim.position, claims=(claim.id,))
