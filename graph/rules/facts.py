"""Claims about one feature of one subject, settled into a fact (docs/semantics.md, section 1)."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from itertools import combinations

from graph.model.claim import RANK_WORDS, Claim, Rank
from graph.model.fact import Alternative, Fact
from graph.model.record import Feature
from graph.model.said import say
from graph.model.value import Amount, Code
from graph.rules import voices
from graph.rules.spoken import against, as_written

NOT_READ = say("worn part, not read")
NO_CLAIM = say("no claim")
ONLY_HEARD = say("only heard")

_WORD_OF_RANK = {rank: word for word, rank in RANK_WORDS.items()}


def settle(
    claims: Iterable[Claim],
    feature: Feature,
    *,
    subject: str,
    used: bool = False,
    readings: Iterable[Claim] = (),
) -> Fact:
    """What is known of `feature`, from the claims about the kind and the readings on this very part.

    `used`: the part has run, so that a feature which wears is known only by a reading. Claims about other
    features are passed over. The limits to which the part may be machined are the tightest of the kind's and
    the readings' governing claims; what is only heard limits nothing. Nothing is averaged.
    """
    about = [c for c in claims if c.feature == feature.name]
    if len(about) == 1 and not used and not readings:
        return _alone(about[0], subject)
    kind = _governing(about, of_kind=True)
    own = _governing([c for c in readings if c.feature == feature.name], of_kind=False)
    stated = [c for c in kind if _rank(c, of_kind=True) < Rank.HEARD]
    stated += [c for c in own if c.rank < Rank.HEARD]
    limit_min = max((c.limit_min for c in stated if c.limit_min is not None), default=None)
    limit_max = min((c.limit_max for c in stated if c.limit_max is not None), default=None)
    governing = own or kind
    why = ""
    if not own and used and feature.wears:
        governing, why = [], NOT_READ
    elif not governing:
        why = NO_CLAIM
    if not governing:
        return Fact(subject, feature.name, "unknown", limit_min=limit_min, limit_max=limit_max, why=why)
    heard = any(_rank(c, of_kind=not own) is Rank.HEARD for c in governing)
    disputes = _disputes(governing)
    if heard:
        why = ONLY_HEARD
    elif disputes:
        why = say("disputed: {claims}", claims=against(_said(c) for c in disputes))
    return Fact(
        subject,
        feature.name,
        "heard" if heard else "disputed" if disputes else "known",
        quantity=next((c.value.quantity for c in governing if isinstance(c.value, Amount)), ""),
        alternatives=_alternatives(_deciding(governing) if own else governing),
        limit_min=limit_min,
        limit_max=limit_max,
        why=why,
    )


def _alone(claim: Claim, subject: str) -> Fact:
    """What the only claim about a kind comes to: most features have one."""
    heard = _rank(claim, of_kind=True) is Rank.HEARD
    low, high, codes = _ends(claim)
    number = isinstance(claim.value, Amount)
    return Fact(
        subject,
        claim.feature,
        "heard" if heard else "known",
        quantity=claim.value.quantity if isinstance(claim.value, Amount) else "",
        alternatives=(
            Alternative(
                low if number else None, high if number else None, codes, claim.position, (claim.id,),
                as_written(claim.value),
            ),
        ),
        limit_min=None if heard else claim.limit_min,
        limit_max=None if heard else claim.limit_max,
        why=ONLY_HEARD if heard else "",
    )  # fmt: skip


def _rank(claim: Claim, *, of_kind: bool) -> Rank:
    """A measurement among the claims about a kind speaks of one specimen only and counts as heard."""
    return Rank.HEARD if of_kind and claim.rank is Rank.MEASURED else Rank(claim.rank)


def _governing(claims: Sequence[Claim], *, of_kind: bool) -> list[Claim]:
    """At each position the claims of the best rank, after each voice's later word replaced its earlier one."""
    current = voices.standing(claims, of_kind=of_kind)
    best: dict[str, Rank] = {}
    for claim in current:
        rank = _rank(claim, of_kind=of_kind)
        best[claim.position] = min(best.get(claim.position, rank), rank)
    return [c for c in current if _rank(c, of_kind=of_kind) is best[c.position]]


def _disputes(claims: Sequence[Claim]) -> list[Claim]:
    """The claims that some other claim at the same position contradicts, by position, value and id."""
    out: dict[str, Claim] = {}
    for one, other in combinations(claims, 2):
        if one.position == other.position and voices.disputed(one, other):
            out.update({one.id: one, other.id: other})
    return sorted(out.values(), key=lambda c: (c.position, _ends(c), c.id))


def _deciding(readings: Sequence[Claim]) -> list[Claim]:
    """At each position the readings that decide there."""
    if len(readings) < 2:
        return list(readings)
    here: dict[str, list[Claim]] = defaultdict(list)
    for claim in readings:
        here[claim.position].append(claim)
    return [claim for place in here.values() for claim in voices.deciding(place)]


def _ends(claim: Claim) -> tuple[int, int, tuple[str, ...]]:
    value = claim.value
    if isinstance(value, Amount):
        return value.amount - claim.slack, value.amount + claim.slack, ()
    return 0, 0, (value.code,) if isinstance(value, Code) else tuple(sorted(value.codes))


def _alternatives(claims: Sequence[Claim]) -> tuple[Alternative, ...]:
    """One alternative for each position and value; claims that say the same stand behind one alternative."""
    alike: dict[tuple[str, bool, tuple[int, int, tuple[str, ...]]], list[Claim]] = defaultdict(list)
    for claim in claims:
        alike[claim.position, isinstance(claim.value, Amount), _ends(claim)].append(claim)
    out = []
    for (position, number, (low, high, codes)), behind in sorted(alike.items(), key=lambda item: item[0]):
        first = min(behind, key=lambda c: c.id)
        out.append(
            Alternative(
                low=low if number else None,
                high=high if number else None,
                codes=codes,
                position=position,
                claims=tuple(sorted(c.id for c in behind)),
                shown=_written(first),
            )
        )
    return tuple(out)


def _written(claim: Claim) -> str:
    """The value as written, and that a reading's uncertainty is not stated where it is taken from its digits."""
    text = as_written(claim.value)
    return f"{text}, uncertainty not stated" if claim.tolerance is None and claim.resolution else text


def _said(claim: Claim) -> str:
    """The value as written with who says it: "62,4 mm (measured, BENCH, A. Fitter, caliper, 2019-03-01)"."""
    words = (_WORD_OF_RANK[Rank(claim.rank)], claim.source, claim.who, claim.instrument, claim.date)
    return f"{as_written(claim.value)} ({', '.join(word for word in words if word)})"
