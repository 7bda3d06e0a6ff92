"""A route sheet as the words that stand on paper, on the print page and in the terminal; nothing is computed here."""

from typing import Any

from api.words import SOURCES, duration, size, spoken
from graph.model.routing import (
    BalanceTarget,
    ChangeLine,
    Cut,
    Gap,
    JointCheck,
    PartPage,
    Procedure,
    RouteSheet,
    SheetStep,
    WallBlock,
    WhatChanges,
)
from ontology.quantities import shown

NOT_READ = "not read"
View = dict[str, Any]


def sheet_view(sheet: RouteSheet) -> View:
    """Every text of the sheet, in the order in which it is read; lists and strings alone."""
    return {
        "title": sheet.title,
        "job": f"core {sheet.core} · build {sheet.build} · engine {sheet.engine}",
        "paper": f"plan {sheet.plan}, {sheet.identity} · catalogue {sheet.snapshot.catalogue[:12]},"
        f" shelf {sheet.snapshot.shelf} · as of {sheet.day or 'no day'}",
        "sentence": sheet.sentence,
        "blocks": [
            b.text + (f" Lifted only by {b.lifted_by}." if b.lifted_by else " Nobody lifts this.")
            for b in sheet.blocks
        ],
        "holds": list(sheet.holds),
        "confirm": list(sheet.confirm),
        "route": [_route(step) for step in sheet.route],
        "pages": [_page(page) for page in sheet.pages],
        "assembly": _assembly(sheet),
        "records": [
            {"title": r.title, "because": r.because, "fields": [f.label for f in r.fields]}
            for r in sheet.records
            if not r.code.startswith(("step-", "confirm-"))
        ],
        "changes": [_changes(one) for one in sheet.changes],
        "cautions": list(dict.fromkeys(caution.text for caution in sheet.cautions)),
        "sources": [list(row) for row in sheet.sources],
    }


def _route(step: SheetStep) -> View:
    return {
        "number": str(step.number),
        "label": step.label,
        "where": spoken(step.seat) or "whole unit",
        "size": _target(step.cut) if step.cut else step.changes,
        "time": duration(step.time),
        "undo": "" if step.reversible or (not step.cut and not step.changes) else "cannot be undone",
        "tool": step.tool,
        "caution": step.caution,
    }


def _target(cut: Cut) -> str:
    return ("Ø " if cut.diameter else "") + size(cut.target, cut.quantity)


def _page(page: PartPage) -> View:
    many = f"{page.quantity} × " if page.quantity > 1 else ""
    return {
        "title": spoken(page.title),
        "part": f"{many}{page.part}",
        "label": page.label,
        "source": SOURCES[page.source] + (f", core {page.lot}" if page.lot else ""),
        "steps": [_step(step) for step in page.steps],
        "read": [list(row) for row in page.read],
        "walls": [_wall(block) for block in page.walls],
        "balance": [_balance(target) for target in page.balance],
        "procedures": [_procedure(p) for p in page.procedures],
        "sizes": [list(row) for row in page.sizes],
        "cautions": list(page.cautions),
    }


def _step(step: SheetStep) -> View:
    facts: list[list[str]] = []
    rows: list[list[str]] = []
    if step.cut is not None:
        cut = step.cut
        facts = _cut_facts(cut)
        rows = [
            [place.position or "–", f"{place.shown}{_surely(place.uncertainty, cut.quantity)}"]
            for place in cut.places
        ]
    elif step.changes:
        facts = [["change", step.changes]]
    facts.append(["tool", step.tool or "not on record: write it down"])
    if step.cut is not None:
        facts.append(["datum", step.datum or "none on record: write down what is indicated"])
    if step.checks:
        facts.append(["check", "; ".join(step.checks)])
    return {
        "number": str(step.number),
        "label": step.label,
        "target": _target(step.cut) if step.cut else "",
        "window": _window(step.cut) if step.cut else "",
        "facts": facts,
        "sketch": step.sketch.svg if step.sketch else "",
        "drawn": step.sketch.title if step.sketch else "",
        "rows": rows,
        "caution": step.caution,
        "undo": "" if step.reversible or not step.cut else "Cannot be undone.",
        "sources": ", ".join(step.sources),
        "time": duration(step.time),
    }


def _surely(uncertainty: int | None, quantity: str) -> str:
    return "" if uncertainty is None else f" ± {shown(uncertainty, quantity, difference=True)}"


def _window(cut: Cut) -> str:
    if cut.low is None or cut.high is None:
        return "no window: not known"
    return f"{size(cut.low, cut.quantity)} to {size(cut.high, cut.quantity)}"


def _cut_facts(cut: Cut) -> list[list[str]]:
    facts = [
        ["size", cut.label],
        ["held to", f"± {shown(cut.tolerance, cut.quantity, difference=True)}" if cut.tolerance else "not known"],
    ]
    if cut.zone:
        facts.append(["class", f"{cut.zone}: its limits are the window"])
    if cut.grade:
        facts.append(
            ["" if cut.zone else "class", f"{cut.grade} is the coarsest standard tolerance inside the window"]
        )
    elif cut.class_note:
        facts.append(["class", cut.class_note])
    limit = size(cut.limit, cut.quantity)
    facts.append(["never past", f"{limit} ({cut.limit_basis})" if cut.limit is not None else "limit not known"])
    facts += [["leaves", _gap(gap, cut)] for gap in cut.gaps]
    return facts


def _gap(gap: Gap, cut: Cut) -> str:
    text = f"against {gap.against}" + (f", {gap.other}" if gap.other else "")
    if gap.low is not None and gap.high is not None:
        text += f": {_span(gap.low, gap.high, gap.quantity)}"
        if cut.diameter and gap.low >= 0:
            text += f", {_span(gap.low // 2, -(-gap.high // 2), gap.quantity)} a side"
    ends = [(w, e) for w, e in (("at least", gap.least), ("at most", gap.most)) if e is not None]
    allowed = ", ".join(f"{word} {shown(end, gap.quantity, difference=True)}" for word, end in ends)
    return text + (f"; allowed {allowed}" if allowed else "")


def _span(low: int, high: int, quantity: str) -> str:
    return " to ".join(dict.fromkeys(shown(end, quantity, difference=True) for end in (low, high)))


def _wall(block: WallBlock) -> View:
    quantity = block.quantity

    def said(amount: int | None) -> str:
        return "not known" if amount is None else shown(amount, quantity, difference=True)

    limit = (
        f"at least {said(block.limit)}, set by {block.set_by}" if block.limit is not None else "nobody has set one"
    )
    return {
        "title": f"{spoken(block.feature)} left after step {block.step}",
        "head": f"Limit: {limit}. Core shift {said(block.core_shift)}. Altogether: {block.verdict}.",
        "rows": [
            [
                row.position or "–",
                NOT_READ if row.reading is None else said(row.reading) + _surely(row.uncertainty, quantity),
                said(row.removal),
                said(row.left),
                row.verdict,
            ]
            for row in block.rows
        ],
        "reasons": [f"{row.position}: {row.reason}" for row in block.rows if row.left is None],
    }


def _balance(target: BalanceTarget) -> View:
    return {
        "title": f"Permissible unbalance of {target.what}",
        "rows": [
            [
                f"G{row.grade:g}",
                "not known" if row.unbalance is None else f"{row.unbalance / 1_000_000:.3g} g·mm",
                row.says,
            ]
            for row in target.rows
        ],
        "given": f"mass {size(target.mass, 'mass')}, highest speed {size(target.speed, 'speed')}",
        "note": target.note,
    }


def _procedure(procedure: Procedure) -> View:
    return {
        "title": procedure.title,
        "says": procedure.says,
        "facts": [list(fact) for fact in procedure.facts],
        "lines": [{"text": line.text, "blanks": list(line.blanks)} for line in procedure.lines],
    }


def _assembly(sheet: RouteSheet) -> View:
    page = sheet.assembly
    return {
        "fitted": [
            [
                spoken(one.seat),
                f"{one.quantity} × {one.part}" if one.quantity > 1 else one.part or "–",
                one.label,
                SOURCES[one.how] + (f", {one.lot}" if one.lot and one.how == "donor" else ""),
                "yes" if one.page else "",
            ]
            for one in page.fitted
        ],
        "consumed": [f"{quantity} × {spoken_key(part)}" for part, quantity in page.consumed],
        "checks": [_check(check) for check in page.checks],
        "engine": [_check(check) for check in page.engine_side],
        "balance": [_balance(target) for target in page.balance],
        "procedures": [_procedure(p) for p in page.procedures],
    }


def spoken_key(part: str) -> str:
    """A part as it is called; its key's tail where it is on no record."""
    return part.removeprefix("part/").replace("/", " ")


def _check(check: JointCheck) -> list[str]:
    return [spoken(check.joint), check.what, check.expected, check.allowed or "as it stands"]


def _changes(one: WhatChanges) -> View:
    return {
        "title": f"Against {one.against}" if one.against else "No unit is on record that the engine came with",
        "standard": "The same parts, nothing changed." if one.standard else "",
        "rows": [[line.what, range_of(line), line.says, "; ".join(line.assumes)] for line in one.lines],
    }


def range_of(line: ChangeLine) -> str:
    """The range with sign and unit, or *not known*."""
    if line.low is None or line.high is None:
        return "not known"
    places = {"%": 0, "semitone": 1}.get(line.unit, 2)
    ends = [_signed(end, places) for end in (line.low, line.high)]
    unit = "" if line.unit == "-" else " " + {"semitone": "semitones"}.get(line.unit, line.unit)
    return " to ".join(dict.fromkeys(ends)) + unit


def _signed(value: float, places: int) -> str:
    text = f"{value:+.{places}f}"
    return text.lstrip("+-") if float(text) == 0 else text
