"""How far a feature of one part may be cut, and where that limit comes from (docs/semantics.md, section 3)."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from graph.model.claim import Rank
from graph.model.fact import Alternative, Fact
from graph.model.record import Limit, Operation
from graph.model.verdict import Missing
from graph.rules.spoken import number

WIDEN, REDUCE = "widen_to_suit", "reduce_to_suit"


@dataclass(frozen=True, slots=True)
class Room:
    """The furthest size the part permits, None when not known; `open` says what would settle it."""

    limit: int | None
    basis: str
    claims: tuple[str, ...] = ()
    open: tuple[Missing, ...] = ()

    @property
    def known(self) -> bool:
        """Whether a limit is known and nothing that was asked for is missing."""
        return self.limit is not None and not self.open


def room(
    operation: Operation,
    before: Fact,
    stating: Sequence[Fact],
    fact: Callable[[str], Fact],
    limits: Sequence[Limit],
    *,
    seat: str,
    part: str,
    words: Mapping[str, str],
) -> Room:
    """The tightest of the limit feature, the claims' own limits and the wall; what is named and missing is open.

    `stating` is the feature as its kind's claims have it and as it was read; `fact` any other feature of the part.
    """
    widen = operation.effect == WIDEN
    found: list[tuple[int, str, tuple[str, ...]]] = []
    missing: list[Missing] = []
    quantity = before.quantity
    for said in stating:
        stated = said.limit_max if widen else said.limit_min
        if stated is not None and said.settles:
            text = f"{'at most' if widen else 'at least'} {number(stated, quantity)} is stated"
            found.append((stated, text, _claims(said.alternatives)))
    if operation.limit_feature:
        limiting = fact(operation.limit_feature)
        end = limiting.low if widen else limiting.high
        if limiting.settles and end is not None and limiting.quantity == quantity:
            called = words.get(operation.limit_feature, operation.limit_feature)
            found.append((end, f"{called} {number(end, quantity)}", _claims(limiting.alternatives)))
    if operation.wall_feature:
        left = _wall(operation, before, fact(operation.wall_feature), limits, seat, part, words)
        if isinstance(left, tuple):
            found.append(left)
        else:
            missing.append(left)
    if not found and not missing:
        called = words.get(operation.feature, operation.feature)
        missing.append(
            Missing(
                seat, operation.feature, part, "no limit on record for this cut", f"state how far {called} may be cut"
            )
        )
    if not found:
        return Room(None, "", (), tuple(missing))
    end = (min if widen else max)(f[0] for f in found)
    tightest = [f for f in found if f[0] == end]
    claims = tuple(sorted({c for _, _, cited in tightest for c in cited}))
    return Room(end, "; ".join(dict.fromkeys(basis for _, basis, _ in tightest)), claims, tuple(missing))


def _wall(
    operation: Operation,
    before: Fact,
    wall: Fact,
    limits: Sequence[Limit],
    seat: str,
    part: str,
    words: Mapping[str, str],
) -> tuple[int, str, tuple[str, ...]] | Missing:
    """The limit that the wall leaves with its basis, or what is missing for it; `wall` holds readings alone."""
    called = words.get(operation.wall_feature, operation.wall_feature)
    limits = [x for x in limits if x.feature == operation.wall_feature and x.rank != Rank.HEARD]
    places = operation.wall_positions or ("",)
    by_place: dict[str, list[Alternative]] = {}
    for a in wall.alternatives if wall.settles else ():
        if a.low is not None:
            by_place.setdefault(a.position, []).append(a)
    least = max((x.min for x in limits if x.min is not None), default=None)
    unread = [place for place in places if place not in by_place]
    lacking: list[tuple[str, str]] = []
    if unread:
        where = f" at {', '.join(unread)}" if operation.wall_positions else ""
        lacking.append(("wall not read on this part", f"measure {called}{where}"))
    if least is None:
        lacking.append(("no least wall on record", f"state the least {called} that must be left"))
    if operation.core_shift is None:
        lacking.append(("no core shift on record for this cut", f"state the core shift for {operation.label}"))
    if lacking:
        whys, measures = zip(*lacking, strict=True)
        return Missing(seat, operation.wall_feature, part, "; ".join(whys), "; ".join(measures))
    if before.low is None or before.high is None:
        return Missing(seat, operation.feature, part, before.why or "no claim", f"measure {operation.feature}")
    assert least is not None and operation.core_shift is not None
    read = [a for place in places for a in by_place[place]]
    thinnest = min(read, key=lambda a: (a.low or 0, a.position))
    assert thinnest.low is not None
    spare = thinnest.low - operation.core_shift - least
    change = spare * (2 if operation.wall_share == "half" else 1)
    quantity = before.quantity
    basis = (
        f"{called} {number(thinnest.low, quantity)} at its thinnest"
        f"{f' ({thinnest.position})' if thinnest.position else ''}{_as_read(thinnest, quantity)}, "
        f"less core shift {number(operation.core_shift, quantity)}, least wall {number(least, quantity)}"
    )
    limit = before.low + change if operation.effect == WIDEN else before.high - change
    said = {x.said for x in limits if x.min == least and x.said}
    return limit, basis, tuple(sorted({*_claims(read), *said}))


def _as_read(wall: Alternative, quantity: str) -> str:
    """What was read, where its uncertainty takes something off."""
    if wall.low is None or wall.high is None or wall.low == wall.high:
        return ""
    return f", read as {number((wall.low + wall.high) // 2, quantity)}, after the reading's uncertainty"


def _claims(alternatives: Sequence[Alternative]) -> tuple[str, ...]:
    return tuple(sorted({c for a in alternatives for c in a.claims}))
