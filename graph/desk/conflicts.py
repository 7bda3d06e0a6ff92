"""What the record disagrees about: disputed values with what hangs on them, and edges that cannot all be right."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Final

from graph.desk import names
from graph.desk.desk import Desk
from graph.desk.showing import RANK_NAMES, facts_of
from graph.errors import SpoolwrightError
from graph.index.catalogue import Catalogue
from graph.interchange.answer import AGREES, asserted
from graph.model.claim import Claim, Rank
from graph.model.interchange import Disagreement
from graph.model.record import Feature, Part
from graph.model.shown import ShownClaim, ShownFact
from graph.model.statement import subject
from graph.model.watch import Question, Watch
from graph.rules.judge import how_to_settle
from graph.rules.spoken import ENGINE
from graph.swap.supersession import circles

DISPUTED: Final = "disputed"


@dataclass(frozen=True, slots=True)
class Dispute:
    """One value that claims of the governing rank contradict.

    `subject` is a part, unit, engine or core key; `seat` and `feature` say what of it. `claims` are those that
    count and contradict each other, `beside` the others. `rank`: the governing one. `watches` kept questions and
    `units` turbochargers hang on it. `measure` is the look or measurement that settles it.
    """

    subject: str
    seat: str
    feature: str
    label: str
    claims: tuple[ShownClaim, ...]
    beside: tuple[ShownClaim, ...]
    rank: str
    measure: str
    watches: int
    units: int


@dataclass(frozen=True, slots=True)
class Conflicts:
    """All that is in dispute.

    `disputes`: the most kept questions first, then the most turbochargers, then by name and feature. `circles`: part
    keys whose supersessions run in a circle. `edges`: asserted interchanges that the features do not bear out.
    """

    disputes: tuple[Dispute, ...]
    circles: tuple[tuple[str, ...], ...]
    edges: tuple[Disagreement, ...]


def of_catalogue(catalogue: Catalogue) -> Conflicts:
    """What the catalogue disagrees about, which stands as long as the catalogue; no question is counted yet."""
    edges = tuple(d for d in asserted(catalogue) if d.how != AGREES)
    return Conflicts(tuple(_of_kinds(catalogue)), _circles(catalogue), edges)


def conflicts(desk: Desk, watches: Iterable[Watch], standing: Conflicts | None = None) -> Conflicts:
    """Everything that the record disagrees about; `standing` is what `of_catalogue` said of this catalogue."""
    standing = standing or of_catalogue(desk.catalogue)
    hanging = [_subjects(desk, watch.question) for watch in watches]
    found = [
        replace(one, watches=sum(one.subject in subjects for subjects in hanging))
        for one in (*standing.disputes, *_of_cores(desk))
    ]
    found.sort(key=lambda d: (-d.watches, -d.units, d.subject, d.seat, d.feature))
    return replace(standing, disputes=tuple(found))


def _of_kinds(catalogue: Catalogue) -> Iterable[Dispute]:
    features = {f.name: f for f in catalogue.features}
    apart: dict[str, list[str]] = {}
    for key, feature in catalogue.said_apart():
        apart.setdefault(key, []).append(feature)
    parts = {p.key: p for p in catalogue.parts(k for k in apart if k.startswith("part/"))}
    hints = _Hints(catalogue)
    for key, of_it in apart.items():
        kind = key.partition("/")[0]
        claims: tuple[Claim, ...] = ()
        if kind == "part" and key in parts:
            claims = parts[key].claims
        elif kind == "unit":
            claims = catalogue.unit(key).claims
        elif kind == "engine":
            claims = catalogue.engine(key).claims
        wanted = [features[name] for name in of_it if name in features]
        for fact in facts_of(claims, wanted, key):
            if fact.status == DISPUTED:
                measure = hints.of(features[fact.feature], parts.get(key), kind)
                yield _dispute(key, "", fact, measure, _units(catalogue, key, kind))


def _of_cores(desk: Desk) -> Iterable[Dispute]:
    features = desk.catalogue.features
    for core in desk.shelf.cores():
        for found in core.found:
            read = {c.feature for c in found.readings}
            twice = [f for f in features if f.name in read and sum(c.feature == f.name for c in found.readings) > 1]
            for fact in facts_of((), twice, core.key, readings=found.readings, used=True):
                if fact.status == DISPUTED:
                    feature = next(f for f in features if f.name == fact.feature)
                    measure = how_to_settle(found.seat, feature, feature.name, {found.seat: _spoken(found.seat)})
                    yield _dispute(core.key, found.seat, fact, measure, 1)


def _dispute(key: str, seat: str, fact: ShownFact, measure: str, units: int) -> Dispute:
    counts = tuple(c for c in fact.claims if c.governs)
    beside = tuple(c for c in fact.claims if not c.governs)
    return Dispute(key, seat, fact.feature, fact.label, counts, beside, counts[0].rank, measure, 0, units)


def settles(dispute: Dispute, rank: Rank) -> bool:
    """Whether a claim of a source of that rank would count instead of those in dispute.

    A measurement of one part says nothing of its kind, so of a kind it never does; of a core it does.
    """
    if dispute.seat:
        return False  # another reading is beside those there are, unless the reader's own later one replaces one
    return rank is not Rank.MEASURED and rank < next(r for r, word in RANK_NAMES.items() if word == dispute.rank)


class _Hints:
    """The measure that a rule names for a feature, else where the feature can be seen."""

    def __init__(self, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._named: dict[tuple[str, str], str] = {}
        self._seats: dict[str, list[str]] = {}
        for layout in catalogue.layouts:
            for seat in layout.seats:
                self._seats.setdefault(seat.kind, []).append(seat.name)
            for rule in layout.rules:
                for operand in rule.operands:
                    if rule.measure:
                        self._named.setdefault(operand, rule.measure)

    def of(self, feature: Feature, part: Part | None, kind: str) -> str:
        """What settles this feature of a part, of a turbocharger or of an engine."""
        seats = [ENGINE] if kind == "engine" else []
        if part is not None:
            above = self._catalogue.kinds_above([part.kind])
            seats = [seat for name in above for seat in self._seats.get(name, ())]
        for seat in seats:
            if (seat, feature.name) in self._named:
                return self._named[seat, feature.name]
        seat = seats[0] if seats else "turbocharger"
        return how_to_settle(seat, feature, feature.name, {seat: _spoken(seat)})


def _units(catalogue: Catalogue, key: str, kind: str) -> int:
    if kind == "part":
        return len({use.by for use in catalogue.where_used(key) if use.sheet == "unit_seats"})
    if kind == "engine":
        return len({f.unit for f in catalogue.fitments(engine=key) if f.unit})
    return 1


def _subjects(desk: Desk, question: Question) -> frozenset[str]:
    """The keys of all that a kept question's answer may rest on."""
    try:
        found = set(_named(desk, question))
    except SpoolwrightError:  # what it names is gone; then nothing hangs on it
        return frozenset()
    for key in tuple(found):
        if key.startswith("unit/"):
            found.update(part for _, part in desk.catalogue.unit(key).parts)
    return frozenset(found)


def _named(desk: Desk, question: Question) -> Iterable[str]:
    catalogue = desk.catalogue
    if question.unit:
        yield names.thing(catalogue.find_units, "turbocharger", question.unit).key
    if question.part:
        yield names.thing(catalogue.find_parts, "part", question.part).key
    if question.engine:
        yield names.thing(catalogue.find_engines, "engine", question.engine).key
    if question.core:
        core = names.core(desk.shelf, question.core)
        yield core.key
        yield from (found.part for found in core.found if found.part)
    if question.build:
        build = names.build(catalogue, question.build)
        if build.engine and not question.engine:
            yield build.engine


def _circles(catalogue: Catalogue) -> tuple[tuple[str, ...], ...]:
    rows: list[Mapping[str, object]] = [s.fields for s in catalogue.sheet("supersession")]
    keys = {subject("part", str(row["maker"]), str(row["old"])) for row in rows}
    found = {s.said: s for key in keys for s in catalogue.supersessions(key)}
    return circles(found.values())


def _spoken(name: str) -> str:
    return name.replace("_", " ").replace("-", " ")
