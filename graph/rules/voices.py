"""Whose word a claim is, and which words stand (docs/semantics.md, section 1).

Rule 1: only a later word of the same voice replaces an earlier one; what names nobody replaces nothing.
Rule 2: a replaced word and one that another bears out stay on record; they are told, and decide nothing.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from graph.model.claim import Claim
from graph.model.value import Amount, Code

Voice = tuple[str, ...]


def voice(claim: Claim, *, of_kind: bool) -> Voice:
    """Who speaks: of a kind the source; of a reading its source with the reader and the instrument.

    A claim that does not say who speaks is a voice of its own.
    """
    if of_kind:
        return (claim.source,) if claim.source else ("", claim.id)
    return (claim.source, claim.who, claim.instrument) if claim.who else ("", claim.id)


def standing(claims: Iterable[Claim], *, of_kind: bool) -> list[Claim]:
    """The claims that no later one of the same voice, about the same feature and position, replaces; in order."""
    said = [(claim, (claim.feature, claim.position, voice(claim, of_kind=of_kind))) for claim in claims]
    latest: dict[tuple[str, str, Voice], str] = defaultdict(str)
    for claim, at in said:
        latest[at] = max(latest[at], claim.date)
    return [claim for claim, at in said if claim.date == latest[at]]


def disputed(one: Claim, other: Claim) -> bool:
    """Whether two claims about one feature contradict: by more than the larger slack, codes at all."""
    mine, theirs = one.value, other.value
    if isinstance(mine, Amount) and isinstance(theirs, Amount):
        return mine.quantity != theirs.quantity or abs(mine.amount - theirs.amount) > max(one.slack, other.slack)
    if isinstance(mine, Amount) or isinstance(theirs, Amount):
        return True
    return _codes(one) != _codes(other)


def deciding(readings: Sequence[Claim]) -> list[Claim]:
    """Of readings at one position, those that decide: a wide one says no more than a surer one within it.

    All of them where any two contradict. A reading that states no uncertainty is nobody's surer one.
    """
    if len(readings) < 2 or any(disputed(a, b) for at, a in enumerate(readings) for b in readings[:at]):
        return list(readings)
    return [one for one in readings if not any(_within(other, one) for other in readings)]


def _within(sure: Claim, wide: Claim) -> bool:
    if sure.tolerance is None or not isinstance(sure.value, Amount) or not isinstance(wide.value, Amount):
        return False
    return abs(sure.value.amount - wide.value.amount) + sure.slack <= wide.slack and sure.slack < wide.slack


def _codes(claim: Claim) -> frozenset[str]:
    value = claim.value
    if isinstance(value, Amount):
        return frozenset()
    return frozenset((value.code,) if isinstance(value, Code) else value.codes)
