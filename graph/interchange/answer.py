"""What else could sit where a part sits, where it could sit itself, and where the shop's word and the features part.

Rule 1: derived and asserted edges stay apart; neither overrules the other here, a person looks at both.
Rule 2: a part without a claim that decides is never an edge; what is not known is named.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence

from graph.errors import BadQuestion
from graph.index.catalogue import Catalogue
from graph.interchange.lookup import candidates
from graph.interchange.place import Place
from graph.model.interchange import Derived, Disagreement, InterchangeAnswer, Keeps
from graph.model.record import Interchange, Part, Snapshot
from graph.model.statement import subject
from graph.model.verdict import Verdict

AGREES, WORK, OPEN, REFUTED = "agrees", "only with work", "not borne out", "refuted"
CONDITION = "not without its condition"
"""How an asserted edge stands to the derived one; the words of a stated condition are nothing to reckon with."""

EDGES = (Verdict.YES, Verdict.WITH_WORK)
ORDER = (Verdict.YES, Verdict.WITH_WORK, Verdict.UNKNOWN, Verdict.NO)


def places(catalogue: Catalogue) -> tuple[Place, ...]:
    """Every seat of every layout."""
    accepted = {name: frozenset(pairs) for name, pairs in catalogue.accepted}
    return tuple(
        Place(
            layout,
            seat,
            features=catalogue.features,
            accepted=accepted,
            kinds=catalogue.kinds,
            operations=catalogue.all_operations,
        )
        for layout in catalogue.layouts
        for seat in layout.seats
    )


def given_up(catalogue: Catalogue, parts: Iterable[Part]) -> dict[str, frozenset[str]]:
    """Of each of these parts, and of those that took their place, the numbers that superseded it one-way, step after
    step."""
    steps: dict[str, tuple[str, ...]] = {}
    waiting = {p.key: p for p in parts}
    while waiting:
        for key, part in waiting.items():
            steps[key] = tuple(s.new for s in part.superseded_by if not s.two_way)
        further = {new for key in waiting for new in steps[key]} - set(steps)
        waiting = {p.key: p for p in catalogue.parts(further)} if further else {}
    return step_after_step(steps)


def step_after_step(steps: Mapping[str, Sequence[str]]) -> dict[str, frozenset[str]]:
    """Of each number those that it leads to, from the ones that took its place at once."""
    return {key: frozenset(_after(key, steps)) for key, news in steps.items() if news}


def _after(key: str, steps: Mapping[str, Sequence[str]]) -> set[str]:
    found: set[str] = set()
    ahead = list(steps[key])
    while ahead:
        new = ahead.pop()
        if new not in found:
            found.add(new)
            ahead += steps.get(new, ())
    return found - {key}


def interchange(catalogue: Catalogue, snapshot: Snapshot, key: str, seat: str = "") -> InterchangeAnswer:
    """What else could sit in this part's seats (or the one that is named), and whose place it could take.

    Raises
    ------
    NotFound
        There is no such part.
    BadQuestion
        No seat, or not the one named, takes a part of its kind.
    """
    part = catalogue.part(key)
    where = [p for p in places(catalogue) if p.takes(part) and seat in ("", p.seat.name)]
    used = _layouts(catalogue, key)
    where = [p for p in where if p.layout.name in used] or where
    if not where:
        named = f"no seat {seat!r} takes" if seat else "no seat takes"
        raise BadQuestion(f"{named} a part of kind {part.kind}", fix="name a seat of a layout that takes this kind")
    every = {p.layout.name for p in where}
    said = [i for i in catalogue.interchange(key) if seat in ("", i.seat)]
    named_too = {i.part for i in said} | {i.other for i in said}
    others = {p.key: p for p in catalogue.parts(named_too)}
    near = [(place, candidates(catalogue, place, part)) for place in where]
    history = given_up(catalogue, [part, *others.values(), *(other for _, found in near for other in found)])
    instead, stands_in = [], []
    for place, found in near:
        place.later = history
        for other in found:
            if other.key == key or not (used or place.layout.name in (_layouts(catalogue, other.key) or every)):
                continue
            instead.append(place.decide(part, other))
            stands_in.append(place.decide(other, part))
    asserted = [held(i, others | {key: part}, where, catalogue) for i in said]
    names = {d.part for d in stands_in} | {d.other for d in instead}
    labels = {p.key: f"{p.maker} {p.number}" for p in catalogue.parts(names)}
    kept = _in_order(instead, labels, lambda d: d.other), _in_order(stands_in, labels, lambda d: d.part)
    return InterchangeAnswer(
        key,
        snapshot,
        tuple((p.layout.name, p.seat.name) for p in where),
        *kept,
        tuple(asserted),
        _sentence(part, *kept),
    )


def _in_order(
    found: Sequence[Derived], labels: Mapping[str, str], whose: Callable[[Derived], str]
) -> tuple[Derived, ...]:
    kept = [d for d in found if d.verdict is not Verdict.NO]
    return tuple(sorted(kept, key=lambda d: (ORDER.index(d.verdict), labels.get(whose(d), ""), d.seat, d.layout)))


def _sentence(part: Part, instead: Sequence[Derived], stands_in: Sequence[Derived]) -> str:
    def count(found: Sequence[Derived], whose: str, verdict: Verdict) -> int:
        return len({getattr(d, whose) for d in found if d.verdict is verdict})

    name = f"{part.maker} {part.number}"
    sure, work = count(instead, "other", Verdict.YES), count(instead, "other", Verdict.WITH_WORK)
    text = (
        f"{sure or 'No'} other number{'s' if sure != 1 else ''} may sit in place of {name} by the features on record"
    )
    text += f", {work} more once machined" if work else ""
    takes = count(stands_in, "part", Verdict.YES)
    work = count(stands_in, "part", Verdict.WITH_WORK)
    text += f"; it may take the place of {takes or 'no'} other{'s' if takes > 1 else ''}"
    text += f", and of {work} more once machined" if work else ""
    return f"{text}."


def held(
    asserted: Interchange, parts: Mapping[str, Part], where: Iterable[Place], catalogue: Catalogue
) -> Disagreement:
    """An asserted edge against what the features say, in its seat, or in every seat that takes the part."""
    by = next((s.title for s in catalogue.sources if s.name == asserted.source), "") or asserted.source
    first, second = parts.get(asserted.part), parts.get(asserted.other)
    if first is None or second is None:
        return Disagreement(asserted, OPEN, (), "one of the two numbers is on no record", by)
    mine = [p for p in where if asserted.seat in ("", p.seat.name)]
    mine = [p for p in mine if asserted.seat or p.takes(first)]
    derived = [p.decide(first, second) for p in mine]
    used = {layout for part in (first.key, second.key) for layout in _layouts(catalogue, part)}
    relevant = [d for d in derived if d.layout in used] or derived
    if not relevant:
        return Disagreement(asserted, OPEN, (), f"no layout has the seat {asserted.seat!r}", by)
    verdicts = {d.verdict for d in relevant}
    if Verdict.YES in verdicts:
        how = AGREES
    elif Verdict.WITH_WORK in verdicts:
        how = WORK
    elif Verdict.UNKNOWN in verdicts:
        how = OPEN
    else:
        how = CONDITION if asserted.condition else REFUTED
    best = min(relevant, key=lambda d: ORDER.index(d.verdict))
    return Disagreement(asserted, how, tuple(relevant), _why(best, how), by)


def _layouts(catalogue: Catalogue, part: str) -> set[str]:
    units = {use.by for use in catalogue.where_used(part) if use.sheet == "unit_seats"}
    return {unit.layout for unit in catalogue.units(units)}


def standing(derived: Derived) -> tuple[str, str]:
    """How one edge that somebody states stands to the derived one, and why."""
    how = {Verdict.YES: AGREES, Verdict.WITH_WORK: WORK, Verdict.NO: REFUTED}.get(derived.verdict, OPEN)
    return how, _why(derived, how)


def _why(derived: Derived, how: str) -> str:
    if how == AGREES:
        return "; ".join(derived.conditions) or "every rule of the seat is kept and no duty feature gets worse"
    if how == WORK:
        return "; ".join(derived.conditions)
    bad = (Keeps.UNKNOWN, Keeps.IDLE) if how == OPEN else (Keeps.BROKEN,)
    return "; ".join(dict.fromkeys(r.text for r in derived.rules if r.keeps in bad))


def asserted(catalogue: Catalogue) -> tuple[Disagreement, ...]:
    """Every asserted edge held against the features, without looking for edges that nobody asserts."""
    said = said_edges(catalogue)
    parts = {p.key: p for p in catalogue.parts({i.part for i in said} | {i.other for i in said})}
    everywhere, later = places(catalogue), given_up(catalogue, parts.values())
    for place in everywhere:
        place.later = later
    return tuple(held(i, parts, everywhere, catalogue) for i in said)


def said_edges(catalogue: Catalogue) -> tuple[Interchange, ...]:
    """Every asserted edge, by part, other, seat and row."""
    rows = [s.fields for s in catalogue.sheet("interchange")]
    keys = {subject("part", str(row["maker"]), str(row["number"])) for row in rows}
    found = {i.said: i for key in keys for i in catalogue.interchange(key)}
    return tuple(sorted(found.values(), key=lambda i: (i.part, i.other, i.seat, i.said)))
