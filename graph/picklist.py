"""The pick list: what to fetch, from where, how many, for one plan or several.

Quantities of one number add up over all jobs before stock is drawn, so two jobs never promise the same piece.
"""

from collections import defaultdict
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace

from graph.errors import BadQuestion, MixedCurrency
from graph.model.picking import PickEvidence, PickLine, PickList, PickUse, Substitute
from graph.model.plan import Plan
from graph.model.record import Part, Supersession
from graph.model.yard import Promise

DERIVED = "interchange derived, this direction"
DERIVED_HOW, REFUTED = "derived", "refuted"
DOUBTS = ("not borne out", "only with work")
"""How an asserted interchange may stand to the features so that its line says so."""

SECTIONS = ("core", "donor", "part", "consumed", "kit", "in-kit")
BOUGHT = ("part", "consumed")
"""Sections whose lines are drawn from stock or ordered."""


@dataclass(slots=True)
class _Need:
    """How many of one number all jobs want, and why."""

    part: str
    section: str
    side: str
    lot: str = ""
    uses: list[PickUse] = field(default_factory=list)
    instead_of: set[str] = field(default_factory=set)
    notes: set[str] = field(default_factory=set)

    @property
    def quantity(self) -> int:
        return sum(use.quantity for use in self.uses)


def pick_list(
    jobs: Sequence[tuple[str, Plan]], evidence: PickEvidence, sides: Mapping[str, str], one_time_kinds: frozenset[str]
) -> PickList:
    """The pick list of several jobs, each a name and its plan.

    `sides` says on which side of the unit a seat is; `one_time_kinds` are the kinds never used again.

    Raises
    ------
    BadQuestion
        No job, or two jobs that take the same core or the same donor's part.
    MixedCurrency
        Plans or prices in more than one currency.
    """
    if not jobs:
        raise BadQuestion("a pick list needs at least one plan", fix="name a plan")
    _refuse_twice(jobs)
    parts = {part.key: part for part in evidence.parts}
    drawn: defaultdict[str, int] = defaultdict(int)
    needs = _needs(jobs, evidence, sides)
    needed: defaultdict[str, int] = defaultdict(int)
    for need in needs.values():
        needed[need.part] += need.quantity if need.section in BOUGHT else 0
    lines: list[PickLine] = []
    for need in sorted(needs.values(), key=lambda n: _place(n, parts)):
        line = _line(need, parts, evidence, drawn, needed, one_time_kinds)
        contents = [kit for kit in evidence.kits if kit.kit == need.part]
        if contents and need.section in BOUGHT:
            line = replace(line, section="kit")
        lines.append(line)
        if line.section == "kit":
            for content in sorted(contents, key=lambda c: c.part):
                inside = parts.get(content.part)
                lines.append(
                    PickLine(
                        section="in-kit",
                        side=need.side,
                        part=content.part,
                        maker=inside.maker if inside else "",
                        number=inside.number if inside else content.part,
                        label=inside.label if inside else "",
                        quantity=content.quantity * need.quantity,
                        uses=(PickUse("", "", content.quantity * need.quantity, "in the kit above"),),
                        one_time=content.one_time,
                    )
                )
    return _totals(jobs, evidence, lines)


def _refuse_twice(jobs: Sequence[tuple[str, Plan]]) -> None:
    """Two jobs may have one name: the same core asked for twice."""
    taken: dict[tuple[str, str], str] = {}
    for name, plan in jobs:
        own = [(c.lot, c.seat) for c in plan.seats if c.source in ("kept", "donor") and c.lot]
        for lot, seat in own:
            if (lot, seat) in taken:
                raise BadQuestion(
                    f"{taken[lot, seat]} and {name} both take the {seat} of core {lot}",
                    fix="plan one of the two on another core",
                )
        taken |= dict.fromkeys(own, name)


def _needs(
    jobs: Sequence[tuple[str, Plan]], evidence: PickEvidence, sides: Mapping[str, str]
) -> dict[tuple[str, str, str], _Need]:
    parts = {part.key: part for part in evidence.parts}
    asked: list[tuple[str, str, str, str, PickUse]] = []
    for name, plan in jobs:
        for choice in plan.seats:
            if not choice.part:
                continue
            section = {"kept": "core", "donor": "donor"}.get(choice.source, "part")
            use = PickUse(name, choice.seat, choice.quantity, choice.why or choice.source)
            asked.append((section, choice.part, choice.lot, sides.get(choice.seat, ""), use))
        for used in plan.consumed:
            asked.append(("consumed", used.part, "", "", PickUse(name, "", used.quantity, ", ".join(used.because))))
    wanted: defaultdict[str, int] = defaultdict(int)
    for section, part, _lot, _side, use in asked:
        wanted[part] += use.quantity if section in BOUGHT else 0
    current = _current(wanted, parts, evidence)
    needs: dict[tuple[str, str, str], _Need] = {}
    for section, part, lot, side, use in asked:
        found = current[part] if section in BOUGHT else _Current(part)
        need = needs.setdefault((section, found.part, lot), _Need(found.part, section, side, lot))
        if need.side != side:
            need.side = ""
        need.uses.append(use)
        need.instead_of.update(found.passed)
        need.notes.update(found.notes)
    return needs


@dataclass(frozen=True, slots=True)
class _Current:
    """The number to fetch, the numbers passed on the way to it, and remarks."""

    part: str
    passed: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def _current(wanted: Mapping[str, int], parts: Mapping[str, Part], evidence: PickEvidence) -> dict[str, _Current]:
    """What to fetch for each number that is wanted, so many of it over all jobs.

    A number in stock for the whole need is fetched as it is; else its one-way, unconditional successor is, unless
    the features refute it there. A circle or a fork ends the walk where it begins. Numbers that lead to the same
    successor need it together.
    """
    at = {part: _Current(part) for part in wanted if wanted[part]}
    while True:
        needed: defaultdict[str, int] = defaultdict(int)
        for part, found in at.items():
            needed[found.part] += wanted[part]
        ahead = {part: _next(part, found, needed[found.part], parts, evidence) for part, found in at.items()}
        if ahead == at:
            return at
        first = min(part for part in at if ahead[part] != at[part])
        at = {part: ahead[part] if found.part == at[first].part else found for part, found in at.items()}


def _next(part: str, found: _Current, needed: int, parts: Mapping[str, Part], evidence: PickEvidence) -> _Current:
    """One step on from the number that is to be fetched for `part`; the same where none is to be taken."""
    record = parts.get(found.part)
    if record is None or sum(s.quantity for s in record.stock) >= needed:
        return found
    later = [s for s in record.superseded_by if not s.two_way and (not s.from_date or s.from_date <= evidence.day)]
    free = sorted({s.new for s in later if not s.condition and not s.from_serial})
    notes = [_on_condition(s, parts) for s in later if s.condition or s.from_serial]
    said = {one.other: one for one in evidence.stand_ins if one.part == part and one.how != DERIVED_HOW}
    doubt = said.get(free[0]) if len(free) == 1 else None
    if len(free) > 1:
        notes.append(f"superseded by {len(free)} numbers: choose one")
    elif doubt is not None and doubt.how == REFUTED:
        notes.append(f"superseded by {_name(free[0], parts)}, which does not fit here: {doubt.text}")
    elif free and free[0] not in (*found.passed, found.part):
        if doubt is not None:
            notes.append(f"{_name(free[0], parts)} in place of {_name(part, parts)} is {doubt.how}: {doubt.text}")
        return _Current(free[0], (*found.passed, found.part), _with(found.notes, notes))
    return _Current(found.part, found.passed, _with(found.notes, notes))


def _with(notes: tuple[str, ...], more: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*notes, *more)))


def _on_condition(step: Supersession, parts: Mapping[str, Part]) -> str:
    on = "; ".join(text for text in (step.condition, step.from_serial and f"from serial {step.from_serial}") if text)
    return f"superseded by {_name(step.new, parts)} only where: {on}"


def _name(key: str, parts: Mapping[str, Part]) -> str:
    part = parts.get(key)
    return f"{part.maker} {part.number}" if part else key


def _place(need: _Need, parts: Mapping[str, Part]) -> tuple[int, str, str, str]:
    return (SECTIONS.index(need.section), need.side, _name(need.part, parts), need.lot)


def _line(
    need: _Need,
    parts: Mapping[str, Part],
    evidence: PickEvidence,
    drawn: defaultdict[str, int],
    needed: Mapping[str, int],
    one_time_kinds: frozenset[str],
) -> PickLine:
    record = parts.get(need.part)
    bought = need.section in BOUGHT
    stock = record.stock if record and bought else ()
    on_hand = max(0, sum(s.quantity for s in stock) - drawn[need.part])
    if bought:
        drawn[need.part] += need.quantity
    price = (
        (record.price_new if bought else record.price_used if need.section == "donor" else None) if record else None
    )
    short = max(0, need.quantity - on_hand) if bought else 0
    return PickLine(
        section=need.section,
        side=need.side,
        part=need.part,
        maker=record.maker if record else "",
        number=record.number if record else need.part,
        label=record.label if record else "",
        quantity=need.quantity,
        uses=tuple(need.uses),
        one_time=need.section == "consumed" or bool(record and record.kind in one_time_kinds),
        lot=need.lot,
        bins=tuple((s.place, s.quantity) for s in stock),
        on_hand=on_hand,
        short=short,
        instead_of=tuple(sorted(_name(key, parts) for key in need.instead_of)),
        notes=tuple(
            sorted(
                need.notes
                | (_refuted(need.part, parts, evidence) if bought else set())
                | _promised(need, record, evidence.promises)
            )
        ),
        substitutes=_substitutes(need, parts, evidence, needed) if bought else (),
        unit_price=price.price if price else None,
        price=price.price * need.quantity if price else None,
        deposit=price.deposit * need.quantity if bought and price and price.deposit is not None else None,
        as_of=price.as_of if price else "",
        lead_days=(price.lead_days if price else None) if short else 0,
    )


def _substitutes(
    need: _Need, parts: Mapping[str, Part], evidence: PickEvidence, needed: Mapping[str, int]
) -> tuple[Substitute, ...]:
    """Those that somebody states before those that are derived; unconditional before conditional, in stock before
    not, then by number. What the features refute is none; what another line draws is not on hand."""
    part, seats = need.part, {use.seat for use in need.uses if use.seat}
    said = {(one.other, one.how): one.text for one in evidence.stand_ins if one.part == part}
    found: dict[str, tuple[str, str]] = {}

    def add(other: str, basis: str, *conditions: str) -> None:
        doubts = [f"{how}: {text}" for (one, how), text in said.items() if one == other and how in DOUBTS]
        if (other, REFUTED) not in said:
            found.setdefault(other, ("; ".join([*filter(None, conditions), *doubts]), basis))

    for asserted in evidence.interchanges:
        if asserted.part == part and (not asserted.seat or not seats or asserted.seat in seats):
            where = asserted.seat and seats != {asserted.seat} and f"only as {asserted.seat}"
            add(asserted.other, "interchange asserted, this direction", asserted.condition, where or "")
    for other in parts.values():
        for step in other.superseded_by:
            serial = step.from_serial and f"from serial {step.from_serial}"
            date = step.from_date and step.from_date > evidence.day and f"from {step.from_date}"
            if step.two_way and step.new == part:
                add(other.key, "supersession, both ways", step.condition, serial)
            if step.old == part and (step.two_way or step.condition or step.from_serial):
                add(step.new, "later number", step.condition, serial, date or "")
    for (key, how), text in said.items():
        if how == DERIVED_HOW:
            found.setdefault(key, (text, DERIVED))
    rows = []
    for key, (condition, basis) in found.items():
        record = parts.get(key)
        on_hand = max(0, sum(s.quantity for s in record.stock) - needed.get(key, 0)) if record else 0
        rows.append(Substitute(key, _name(key, parts), on_hand, condition, basis))
    return tuple(sorted(rows, key=lambda s: (s.basis == DERIVED, bool(s.condition), s.on_hand == 0, s.label)))


def _promised(need: _Need, record: Part | None, promises: Sequence[Promise]) -> set[str]:
    """What of this line is promised to a job; the list does not know under which number its own jobs are booked."""
    if need.section in BOUGHT:
        if record is None or not sum(s.quantity for s in record.stock):
            return set()
        to: defaultdict[str, int] = defaultdict(int)
        for one in promises:
            to[one.job] += one.quantity if not one.tag and one.part == need.part else 0
        return {f"{quantity} on hand promised to {job}" for job, quantity in to.items() if quantity}
    seats = {use.seat for use in need.uses}
    held = [p for p in promises if need.lot and p.tag == need.lot and (not p.seat or p.seat in seats)]
    return {f"core {p.tag}{f', {p.seat},' if p.seat else ''} is promised to {p.job}" for p in held}


def _refuted(part: str, parts: Mapping[str, Part], evidence: PickEvidence) -> set[str]:
    """What somebody asserts as a stand-in and the features refute: said, so that nobody fetches it."""
    asserted = {one.other for one in evidence.interchanges if one.part == part}
    return {
        f"not {_name(one.other, parts)}, though somebody asserts it: {one.text}"
        for one in evidence.stand_ins
        if one.part == part and one.how == REFUTED and one.other in asserted
    }


def _totals(jobs: Sequence[tuple[str, Plan]], evidence: PickEvidence, lines: list[PickLine]) -> PickList:
    parts = {part.key: part for part in evidence.parts}
    currencies = {plan.currency for _, plan in jobs if plan.currency}
    for line in lines:
        record = parts.get(line.part)
        if record and line.unit_price is not None:
            price = record.price_used if line.section == "donor" else record.price_new
            currencies.add(price.currency if price else "")
    currencies.discard("")
    if len(currencies) > 1:
        raise MixedCurrency(f"prices in {', '.join(sorted(currencies))}", fix="price all parts in one currency")
    return _summed(
        PickList(
            snapshot=evidence.snapshot,
            day=evidence.day,
            jobs=tuple(name for name, _ in jobs),
            lines=tuple(lines),
            total=0,
            deposits=0,
            currency=next(iter(currencies), ""),
            at_least=False,
            shortages=(),
            lead_days=0,
        )
    )


def without(picks: PickList, left_out: Container[int]) -> PickList:
    """The list without the lines at these places (from 0), a kit with all that is in it; its sums are made anew.

    What was left out is named in `struck`, so that nobody takes the list for whole.
    """
    kept: list[PickLine] = []
    struck: list[str] = []
    gone = False
    for at, line in enumerate(picks.lines):
        if line.section != "in-kit":
            gone = at in left_out
            if gone:
                struck.append(f"{line.quantity} x {line.maker} {line.number or line.lot}, {line.label}".strip(", "))
        if not gone:
            kept.append(line)
    return _summed(replace(picks, lines=tuple(kept), struck=tuple(struck)))


def _summed(picks: PickList) -> PickList:
    paid = [line for line in picks.lines if line.section in ("donor", "part", "consumed", "kit")]
    short = [line for line in picks.lines if line.short]
    return replace(
        picks,
        total=sum(line.price or 0 for line in paid),
        deposits=sum(line.deposit or 0 for line in paid),
        at_least=any(line.price is None for line in paid),
        shortages=tuple(f"{line.maker} {line.number}: {line.short} short of {line.quantity}" for line in short),
        lead_days=None
        if any(line.lead_days is None for line in short)
        else max((line.lead_days or 0 for line in short), default=0),
    )
