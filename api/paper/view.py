"""A route sheet as the words that stand on paper, on the print page and in the terminal; nothing is computed here."""

from typing import Any, Final

from api.pages.terms import SOURCES, wished, word
from api.pages.wording import _, told
from api.words import duration, size, spoken
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

NOT_READ = _("not read")
WORDS: Final = {
    ", ": _(", "),
    "Accepted from": _("Accepted from"),
    "Also read on it": _("Also read on it"),
    "Assembly": _("Assembly"),
    "BLOCKED. Do not start.": _("BLOCKED. Do not start."),
    "Before it goes out": _("Before it goes out"),
    "Check, and with whom": _("Check, and with whom"),
    "From": _("From"),
    "Goes with the unit": _("Goes with the unit"),
    "HOLD. Settle these before the first cut:": _("HOLD. Settle these before the first cut:"),
    "Look at these first; nobody has yet:": _("Look at these first; nobody has yet:"),
    "Measured as it goes together": _("Measured as it goes together"),
    "Mind": _("Mind"),
    "No unit leaves while a line here, a size or a signature on the pages before is blank.": _(
        "No unit leaves while a line here, a size or a signature on the pages before is blank."
    ),
    "On record:": _("On record:"),
    "Released": _("Released"),
    "The route, in this order": _("The route, in this order"),
    "Used up:": _("Used up:"),
    "What else changes, and what to check": _("What else changes, and what to check"),
    "What it meets on the engine": _("What it meets on the engine"),
    "What its joints rest on: measure before it goes in": _("What its joints rest on: measure before it goes in"),
    "Who says so": _("Who says so"),
    "after, 0°": _("after, 0°"),
    "after, 90°": _("after, 90°"),
    "allowed": _("allowed"),
    "before": _("before"),
    "by": _("by"),
    "by how much": _("by how much"),
    "by, instrument": _("by, instrument"),
    "date": _("date"),
    "difference allowed": _("difference allowed"),
    "expected": _("expected"),
    "expected, first against second": _("expected, first against second"),
    "grade": _("grade"),
    "joint": _("joint"),
    "left": _("left"),
    "measured": _("measured"),
    "page": _("page"),
    "part": _("part"),
    "permits": _("permits"),
    "place": _("place"),
    "position": _("position"),
    "read": _("read"),
    "route sheet": _("route sheet"),
    "says:": _("says:"),
    "seat": _("seat"),
    "size": _("size"),
    "tag": _("tag"),
    "taken off": _("taken off"),
    "unit against engine": _("unit against engine"),
    "what": _("what"),
    "who says so": _("who says so"),
}
"""The template's own words, by themselves."""

View = dict[str, Any]


def sheet_view(sheet: RouteSheet) -> View:
    """Every text of the sheet, in the order in which it is read; lists and strings alone."""
    return {
        "words": WORDS,
        "title": sheet.title,
        "job": _("core %(core)s · build %(build)s · engine %(engine)s")
        % {"core": sheet.core, "build": sheet.build, "engine": sheet.engine},
        "paper": _("plan %(plan)s, %(identity)s · catalogue %(catalogue)s, shelf %(shelf)s · as of %(day)s")
        % {
            "plan": sheet.plan,
            "identity": sheet.identity,
            "catalogue": sheet.snapshot.catalogue[:12],
            "shelf": sheet.snapshot.shelf,
            "day": sheet.day or _("no day"),
        },
        "sentence": " ".join(filter(None, [told(sheet.sentence), wished(sheet.wishes)])),
        "blocks": [
            b.text
            + " "
            + (_("Lifted only by %(who)s.") % {"who": b.lifted_by} if b.lifted_by else _("Nobody lifts this."))
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
        "where": spoken(step.seat) or _("whole unit"),
        "size": _target(step.cut) if step.cut else step.changes,
        "time": duration(step.time),
        "undo": "" if step.reversible or (not step.cut and not step.changes) else _("cannot be undone"),
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
        "source": SOURCES[page.source] + (", " + _("core %(tag)s") % {"tag": page.lot} if page.lot else ""),
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
        facts = [[_("change"), step.changes]]
    facts.append([_("tool"), step.tool or _("not on record: write it down")])
    if step.cut is not None:
        facts.append([_("datum"), step.datum or _("none on record: write down what is indicated")])
    if step.checks:
        facts.append([_("check"), "; ".join(step.checks)])
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
        "undo": "" if step.reversible or not step.cut else _("Cannot be undone."),
        "sources": ", ".join(step.sources),
        "time": duration(step.time),
    }


def _surely(uncertainty: int | None, quantity: str) -> str:
    return "" if uncertainty is None else f" ± {shown(uncertainty, quantity, difference=True)}"


def _window(cut: Cut) -> str:
    if cut.low is None or cut.high is None:
        return _("no window: not known")
    return _("%(low)s to %(high)s") % {"low": size(cut.low, cut.quantity), "high": size(cut.high, cut.quantity)}


def _cut_facts(cut: Cut) -> list[list[str]]:
    facts = [
        [_("size"), cut.label],
        [
            _("held to"),
            f"± {shown(cut.tolerance, cut.quantity, difference=True)}" if cut.tolerance else _("not known"),
        ],
    ]
    if cut.zone:
        facts.append([_("class"), _("%(zone)s: its limits are the window") % {"zone": cut.zone}])
    if cut.grade:
        facts.append(
            [
                "" if cut.zone else _("class"),
                _("%(grade)s is the coarsest standard tolerance inside the window") % {"grade": cut.grade},
            ]
        )
    elif cut.class_note:
        facts.append([_("class"), cut.class_note])
    limit = size(cut.limit, cut.quantity)
    facts.append([_("never past"), f"{limit} ({cut.limit_basis})" if cut.limit is not None else _("limit not known")])
    facts += [[_("leaves"), _gap(gap, cut)] for gap in cut.gaps]
    return facts


def _gap(gap: Gap, cut: Cut) -> str:
    text = _("against %(part)s") % {"part": gap.against} + (f", {gap.other}" if gap.other else "")
    if gap.low is not None and gap.high is not None:
        text += f": {_span(gap.low, gap.high, gap.quantity)}"
        if cut.diameter and gap.low >= 0:
            text += ", " + _("%(span)s a side") % {"span": _span(gap.low // 2, -(-gap.high // 2), gap.quantity)}
    ends = [(w, e) for w, e in ((_("at least"), gap.least), (_("at most"), gap.most)) if e is not None]
    allowed = ", ".join(f"{word} {shown(end, gap.quantity, difference=True)}" for word, end in ends)
    return text + ("; " + _("allowed %(range)s") % {"range": allowed} if allowed else "")


def _span(low: int, high: int, quantity: str) -> str:
    return f" {_('to')} ".join(dict.fromkeys(shown(end, quantity, difference=True) for end in (low, high)))


def _wall(block: WallBlock) -> View:
    quantity = block.quantity

    def said(amount: int | None) -> str:
        return _("not known") if amount is None else shown(amount, quantity, difference=True)

    limit = (
        _("at least %(size)s, set by %(who)s") % {"size": said(block.limit), "who": block.set_by}
        if block.limit is not None
        else _("nobody has set one")
    )
    return {
        "title": _("%(feature)s left after step %(n)s") % {"feature": spoken(block.feature), "n": block.step},
        "head": _("Limit: %(limit)s. Core shift %(shift)s. Altogether: %(verdict)s.")
        % {"limit": limit, "shift": said(block.core_shift), "verdict": word(block.verdict)},
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
        "title": _("Permissible unbalance of %(what)s") % {"what": target.what},
        "rows": [
            [
                f"G{row.grade:g}",
                _("not known") if row.unbalance is None else f"{row.unbalance / 1_000_000:.3g} g·mm",
                row.says,
            ]
            for row in target.rows
        ],
        "given": _("mass %(mass)s, highest speed %(speed)s")
        % {"mass": size(target.mass, "mass"), "speed": size(target.speed, "speed")},
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
                _("yes") if one.page else "",
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
    return [spoken(check.joint), check.what, check.expected, check.allowed or _("as it stands")]


def _changes(one: WhatChanges) -> View:
    return {
        "title": _("Against %(unit)s") % {"unit": one.against}
        if one.against
        else _("No unit is on record that the engine came with"),
        "standard": _("The same parts, nothing changed.") if one.standard else "",
        "rows": [[line.what, range_of(line), line.says, "; ".join(line.assumes)] for line in one.lines],
    }


def range_of(line: ChangeLine) -> str:
    """The range with sign and unit, or *not known*."""
    if line.low is None or line.high is None:
        return _("not known")
    places = {"%": 0, "semitone": 1}.get(line.unit, 2)
    ends = [_signed(end, places) for end in (line.low, line.high)]
    unit = "" if line.unit == "-" else " " + {"semitone": _("semitones")}.get(line.unit, line.unit)
    return f" {_('to')} ".join(dict.fromkeys(ends)) + unit


def _signed(value: float, places: int) -> str:
    text = f"{value:+.{places}f}"
    return text.lstrip("+-") if float(text) == 0 else text
