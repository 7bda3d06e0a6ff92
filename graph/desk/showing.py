"""All that is known of one thing: its facts with every claim behind them, and what it is joined to."""

from collections.abc import Iterable, Sequence

from graph.index.catalogue import Catalogue
from graph.index.shelf import Shelf
from graph.model.claim import RANK_WORDS, Claim
from graph.model.record import Build, Core, Engine, Feature, Part, Snapshot, Unit
from graph.model.shown import Shown, ShownClaim, ShownFact, ShownLink
from graph.model.statement import subject
from graph.model.value import Amount
from graph.rules.facts import settle
from graph.rules.spoken import as_written, fact_text
from ontology.currencies import money_shown
from ontology.quantities import shown

RANK_NAMES = {rank: word for word, rank in RANK_WORDS.items()}


def facts_of(
    claims: Iterable[Claim],
    features: Sequence[Feature],
    about: str,
    *,
    readings: Sequence[Claim] = (),
    used: bool = False,
) -> tuple[ShownFact, ...]:
    """One entry a feature that somebody says something of, by feature name; claims best rank first."""
    of_kind: dict[str, list[Claim]] = {}
    read: dict[str, list[Claim]] = {}
    for claim in claims:
        of_kind.setdefault(claim.feature, []).append(claim)
    for claim in readings:
        read.setdefault(claim.feature, []).append(claim)
    made = []
    spoken_of = of_kind.keys() | read.keys()
    for feature in [one for one in features if one.name in spoken_of]:
        kind, own = of_kind.get(feature.name, []), read.get(feature.name, [])
        mine = [*own, *kind]
        fact = settle(kind, feature, subject=about, used=used, readings=own)
        governing = {name for alternative in fact.alternatives for name in alternative.claims}
        made.append(
            ShownFact(
                feature.name,
                feature.label,
                fact.status,
                fact_text(fact) if fact.alternatives else fact.why,
                tuple(
                    _claim(c, c.id in governing) for c in sorted(mine, key=lambda c: (c.rank, c.source, c.date, c.id))
                ),
            )
        )
    return tuple(made)


def _claim(claim: Claim, governs: bool) -> ShownClaim:
    value = as_written(claim.value)
    if claim.tolerance and isinstance(claim.value, Amount):
        value += f" ± {shown(claim.tolerance, claim.value.quantity)}"
    if claim.resolution and isinstance(claim.value, Amount):
        value += f" (uncertainty not stated, taken as ± {shown(claim.resolution, claim.value.quantity)})"
    if claim.limit_max is not None and isinstance(claim.value, Amount):
        value += f", may be machined up to {shown(claim.limit_max, claim.value.quantity)}"
    if claim.limit_min is not None and isinstance(claim.value, Amount):
        value += f", may be machined down to {shown(claim.limit_min, claim.value.quantity)}"
    return ShownClaim(
        value, claim.source, RANK_NAMES[claim.rank], claim.date, claim.position, claim.note, governs, claim.id,
        ", ".join(text for text in (claim.who, claim.instrument) if text),
    )  # fmt: skip


def part_links(catalogue: Catalogue, key: str) -> tuple[ShownLink, ...]:
    """Where a part sits, what supersedes it, what may stand in for it, what a kit of that number holds."""
    joined = catalogue.joined(key)
    links = [ShownLink(_use(use.sheet), use.by, f"seat {use.seat}" if use.seat else "") for use in joined.uses]
    for step in joined.supersessions:
        how, other = ("superseded by", step.new) if step.old == key else ("supersedes", step.old)
        texts = (
            "both ways" if step.two_way else "one way",
            step.from_date and f"from {step.from_date}",
            step.condition,
        )
        links.append(ShownLink(how, other, "; ".join(text for text in texts if text)))
    for stand_in in joined.interchanges:
        how, other = (
            ("may be replaced by", stand_in.other) if stand_in.part == key else ("may stand in for", stand_in.part)
        )
        links.append(ShownLink(how, other, stand_in.condition))
    links += [ShownLink("contains", line.part, f"{line.quantity} x") for line in joined.kits]
    return _in_order(links)


def show_part(catalogue: Catalogue, shelf: Shelf, part: Part, day: str) -> Shown:
    """A part: facts, where it sits, what supersedes it, what may stand in, kits, stock and price."""
    remarks = [f"{s.quantity} on hand at {s.place or 'a place not recorded'}" for s in shelf.stock(part.key)] or [
        "none on hand"
    ]
    price = shelf.price(part.key, "new", day)
    remarks.append(
        f"new {money_shown(price.price, price.currency)} as of {price.as_of}" if price else "price not known"
    )
    return Shown(
        f"part ({part.kind})",
        part.key,
        f"{part.maker} {part.number} {part.label}".strip(),
        Snapshot(catalogue.id, shelf.n),
        facts_of(part.claims, catalogue.features, part.key),
        part_links(catalogue, part.key),
        tuple(remarks),
    )


def _use(sheet: str) -> str:
    return {
        "unit_seats": "sits in",
        "kits": "lies in the kit",
        "consumes": "used up by",
        "supersession": "named in a supersession of",
        "interchange": "named in an interchange of",
    }.get(sheet, sheet)


def show_unit(catalogue: Catalogue, shelf: Shelf, unit: Unit) -> Shown:
    """A unit: its seats, where it was fitted, what it usually dies of."""
    links = [ShownLink(f"seat {seat}", part) for seat, part in unit.parts]
    links += [
        ShownLink(
            "fitted to",
            f.engine,
            " ".join(t for t in (f.machine_maker, f.machine, _span(f.year_from, f.year_to)) if t),
        )
        for f in catalogue.fitments(unit=unit.key)
    ]
    remarks = tuple(
        f"{w.text}" + (f" ({w.seen} of {w.of} seen)" if w.seen is not None and w.of is not None else "")
        for w in catalogue.weaknesses(unit.key)
    )
    return Shown(
        f"turbocharger ({unit.layout})",
        unit.key,
        f"{unit.maker} {unit.name} {unit.label}".strip(),
        Snapshot(catalogue.id, shelf.n),
        facts_of(unit.claims, catalogue.features, unit.key),
        _in_order(links),
        remarks,
    )


def show_engine(catalogue: Catalogue, shelf: Shelf, engine: Engine) -> Shown:
    """An engine: its side of the joints, machines and factory units."""
    links = [
        ShownLink(
            "left the factory with",
            f.unit,
            " ".join(t for t in (f.machine_maker, f.machine, _span(f.year_from, f.year_to)) if t),
        )
        for f in catalogue.fitments(engine=engine.key)
    ]
    return Shown(
        "engine",
        engine.key,
        f"{engine.maker} {engine.name} {engine.label}".strip(),
        Snapshot(catalogue.id, shelf.n),
        facts_of(engine.claims, catalogue.features, engine.key),
        _in_order(links),
    )


def show_build(catalogue: Catalogue, shelf: Shelf, build: Build) -> Shown:
    """A build: what it asks for, and its engine."""
    asks = tuple(
        f"{d.seat} {d.feature}: {d.type.replace('_', ' ')} {as_written(d.value) if d.value else ''}".strip()
        for d in build.demands
    )
    links = (ShownLink("for the engine", build.engine),) if build.engine else ()
    return Shown(
        f"build ({build.layout})",
        build.key,
        f"{build.name} {build.label}".strip(),
        Snapshot(catalogue.id, shelf.n),
        (),
        links,
        asks,
    )


def show_core(catalogue: Catalogue, shelf: Shelf, core: Core) -> Shown:
    """A core: as built, as found, and every reading on it."""
    facts: list[ShownFact] = []
    parts = {p.key: p for p in catalogue.parts(f.part for f in core.found if f.part)}
    links = [ShownLink("as built", core.as_built)] if core.as_built else []
    for found in core.found:
        links.append(ShownLink(f"seat {found.seat}", found.part or "part/not identified", found.state))
        claims = parts[found.part].claims if found.part in parts else ()
        read = {c.feature for c in found.readings}
        features = [f for f in catalogue.features if f.name in read]
        facts += [
            ShownFact(f.feature, f"{found.seat} {f.label}", f.status, f.value, f.claims)
            for f in facts_of(
                claims, features, subject("core", core.tag, found.seat), readings=found.readings, used=True
            )
        ]
    texts = (
        core.grade and f"grade {core.grade}",
        core.place and f"place {core.place}",
        core.serial and f"serial {core.serial}",
    )
    return Shown(
        "core",
        core.key,
        core.tag,
        Snapshot(catalogue.id, shelf.n),
        tuple(facts),
        tuple(links),
        tuple(t for t in texts if t),
    )


def show_machine(catalogue: Catalogue, shelf: Shelf, key: str, title: str) -> Shown:
    """A machine: its engines over years or serials, and their units."""
    links = []
    for f in catalogue.fitments(machine=key):
        span = _span(f.year_from, f.year_to) or _span(f.serial_from, f.serial_to)
        links += [ShownLink("has the engine", f.engine, span), ShownLink("left the factory with", f.unit, span)]
    return Shown("machine", key, title, Snapshot(catalogue.id, shelf.n), (), _in_order(links))


def _span(start: str, end: str) -> str:
    return f"{start} to {end}" if start and end else f"from {start}" if start else f"to {end}" if end else ""


def _in_order(links: Iterable[ShownLink]) -> tuple[ShownLink, ...]:
    return tuple(sorted(links, key=lambda link: (link.how, link.key, link.note)))
