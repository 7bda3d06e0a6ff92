"""Which number takes which number's place, in which direction and from when; a circle is no equivalence.

The graph library is imported when circles are looked for: it takes longer to load than most questions to answer.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from graph.model.record import Supersession


@dataclass(frozen=True, slots=True)
class Chain:
    """Where a part's number leads on a day.

    `steps` are the supersessions in force without serial or condition, in order; `latest` is where they end.
    `held` are those that leave `latest` but hang on a later date, a serial, a condition or a choice. `circle`
    names the parts of a one-way circle that the part leads into: the chain stops before it.
    """

    part: str
    steps: tuple[Supersession, ...]
    latest: str
    held: tuple[Supersession, ...] = ()
    circle: tuple[str, ...] = ()


def circles(supersessions: Iterable[Supersession]) -> tuple[tuple[str, ...], ...]:
    """The groups of part keys whose supersessions run in a circle, each sorted, in order.

    Parts that only two-way rows join are no circle; one that a one-way row closes is.
    """
    rows = tuple(supersessions)
    leads: dict[str, list[str]] = {}
    for s in rows:
        leads.setdefault(s.old, []).append(s.new)
        if s.two_way:
            leads.setdefault(s.new, []).append(s.old)
    if not any(_reaches(s.new, s.old, leads) for s in rows if not s.two_way):
        return ()
    import networkx as nx

    network: nx.DiGraph[str] = nx.DiGraph()
    network.add_edges_from((s.old, s.new) for s in rows)
    network.add_edges_from((s.new, s.old) for s in rows if s.two_way)
    group_of = {key: group for group in map(frozenset, nx.strongly_connected_components(network)) for key in group}
    closed = {group_of[s.old] for s in rows if not s.two_way and group_of[s.old] == group_of[s.new]}
    return tuple(sorted(tuple(sorted(group)) for group in closed))


def _reaches(start: str, end: str, leads: Mapping[str, Sequence[str]]) -> bool:
    met, open_ = {start}, [start]
    while open_:
        at = open_.pop()
        if at == end:
            return True
        further = [key for key in leads.get(at, ()) if key not in met]
        met.update(further)
        open_ += further
    return False


def supersession_chain(part: str, supersessions: Sequence[Supersession], day: str) -> Chain:
    """The chain from `part` as of `day` (an ISO date; empty: no dated row is in force).

    Followed old to new only: the old number never stands in for the new one unless the row says two-way, and
    even then nothing is put in its place here. Where two rows lead on, none is followed.
    """
    return chain_of(part, supersessions, circles(supersessions), day)


def chain_of(part: str, supersessions: Sequence[Supersession], rounds: Iterable[tuple[str, ...]], day: str) -> Chain:
    """The same where the circles of the supersessions are known."""
    loops = {key: loop for loop in rounds for key in loop}
    steps: list[Supersession] = []
    at = part
    seen = {part}
    while True:
        leaving = sorted((s for s in supersessions if s.old == at), key=lambda s: (s.new, s.from_date, s.said))
        if at in loops:
            return Chain(part, tuple(steps), at, tuple(leaving), loops[at])
        plain = [s for s in leaving if in_force(s, day) and not s.from_serial and not s.condition]
        if len({s.new for s in plain}) != 1 or plain[0].new in seen or plain[0].new in loops:
            into = next((loops[s.new] for s in plain if s.new in loops), ())
            return Chain(part, tuple(steps), at, tuple(s for s in leaving if s.new not in seen), into)
        steps.append(plain[0])
        at = plain[0].new
        seen.add(at)


def in_force(row: Supersession, day: str) -> bool:
    """Whether the row's date has come on `day`."""
    return not row.from_date or (bool(day) and row.from_date <= day)
