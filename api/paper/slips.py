"""What stands on each counter paper: its head, tables, sums, notes and the lines to sign."""

from collections.abc import Sequence

from api.pages.terms import SECTIONS, days, money, word
from api.pages.wording import _
from api.paper.codes import code128_bare, for_paper, qr_svg
from api.paper.credit import Credit
from api.paper.figures import figure_value, on_record, quote_ground
from api.paper.quote import Quote
from api.paper.slip import Slip, Table
from api.text.pick import PAID
from api.words import named, spoken
from graph.desk.matching import Against
from graph.model.bench import CoreRecord, Decision
from graph.model.figures import Figure, HourlyRate
from graph.model.picking import PickLine, PickList
from graph.model.plan import CostLine, Plan, PlanAnswer
from graph.model.record import Snapshot


def _foot(snapshot: Snapshot, day: str) -> str:
    return _("catalogue %(catalogue)s, shelf %(shelf)s, as of %(day)s") % {
        "catalogue": snapshot.catalogue[:12],
        "shelf": snapshot.shelf,
        "day": day,
    }


def _head(*pairs: tuple[str, str]) -> tuple[str, ...]:
    return tuple(f"{what}: {said}" for what, said in pairs if said)


def pick_slip(picks: PickList, codes: Sequence[str], wished: Sequence[str]) -> Slip:
    """A pick list with a box to tick on every line. `wished`: what each job's customer wishes, as it is said."""
    rows = tuple(_pick_row(line, code, picks.currency) for line, code in zip(picks.lines, codes, strict=True))
    bars = tuple(
        ("", 0.0) if line.section == "in-kit" else code128_bare(code)
        for line, code in zip(picks.lines, codes, strict=True)
    )
    return Slip(
        _("Pick list"),
        tuple(". ".join(filter(None, told)) for told in zip(picks.jobs, wished, strict=True)),
        _("%(n)s lines; ready: %(ready)s.") % {"n": len(rows), "ready": days(picks.lead_days)},
        (Table("", (_("got"), _("from"), _("qty"), _("number"), _("what and where"), _("price")), rows, 1, bars),),
        (
            (_("Parts"), money(picks.total, picks.currency, at_least=picks.at_least)),
            (_("Deposits beside it"), money(picks.deposits, picks.currency)),
        ),
        ((_("Short"), picks.shortages), (_("Struck out"), picks.struck)),
        _foot(picks.snapshot, picks.day),
        (_("picked by"), _("date")),
        for_paper(qr_svg("; ".join(picks.jobs), "qr", _("Jobs of this list"))),
    )


def _pick_row(line: PickLine, code: str, currency: str) -> tuple[str, ...]:
    where = ", ".join(f"{place} ({n})" for place, n in line.bins) or (
        _("core %(tag)s") % {"tag": line.lot} if line.lot else _("no bin on record")
    )
    texts = [line.label, where]
    if line.short:
        texts.append(_("%(n)s short") % {"n": line.short})
    if line.instead_of:
        texts.append(_("instead of %(numbers)s") % {"numbers": ", ".join(line.instead_of)})
    price = money(line.price, currency) if line.section in PAID else ""
    number = f"{line.maker} {line.number}".strip()
    if code not in number:
        number += f" [{code}]"
    return (
        "☐" if line.section != "in-kit" else "",
        SECTIONS[line.section],
        str(line.quantity),
        number,
        "; ".join(t for t in texts if t),
        price,
    )


def quote_slip(
    answer: PlanAnswer,
    plan: Plan,
    quote: Quote,
    against: Sequence[Against],
    rates: Sequence[HourlyRate],
    *,
    customer: str,
    wished: str,
    shop: str,
    day: str,
) -> Slip:
    """A quote for one way. What is not known of it is said in it, and which of its figures were typed in; `wished`:
    what the customer wishes, as it is said."""
    question = answer.question

    def rows(lines: Sequence[CostLine]) -> tuple[tuple[str, ...], ...]:
        return tuple((line.what, str(line.quantity), line.as_of, money(line.amount, plan.currency)) for line in lines)

    heads = (_("what"), _("qty"), _("price as of"), _("amount"))
    sums = [(_("Net"), money(quote.net, plan.currency, at_least=quote.at_least))]
    if quote.rate is None:
        sums.append((_("Tax"), _("rate not set; not in this sum")))
    else:
        sums.append(
            (_("Tax, %(rate)s %%") % {"rate": quote.rate}, money(quote.tax, plan.currency, at_least=quote.at_least))
        )
        sums.append((_("Total"), money(quote.total, plan.currency, at_least=quote.at_least)))
    sums.append((_("Deposit, given back by the grading rule"), money(quote.deposit, plan.currency)))
    subject_to = [gap.measure for gap in answer.open]
    if quote.at_least:
        subject_to.append(_("A price, or how deep a cut must go, is not known; the sum is the least it can be."))
    open_ = tuple(dict.fromkeys([*subject_to, *plan.confirm]))
    lasting = tuple(f"{s.label} ({spoken(s.seat)})" for s in plan.steps if s.target is not None and not s.reversible)
    return Slip(
        _("Quote"),
        (
            *_head(
                (_("from"), shop),
                (_("for"), customer),
                (_("date"), day),
                (_("valid until"), quote.valid_until or _("not set")),
            ),
            *filter(None, [wished]),
        ),
        _offer(answer, plan, quote),
        (
            Table(_("Core, parts and small things"), heads, rows(quote.parts), 1),
            Table(_("Work at the shop's rates"), heads, rows(quote.labour), 1),
            Table(_("Work done elsewhere"), heads, rows(quote.sublet), 1),
        ),
        tuple(sums),
        (
            (_("Subject to"), open_),
            (_("Cannot be undone"), lasting),
            (
                _("Not included"),
                (
                    _("Taking the unit off the engine and putting it back; engine oil and filter."),
                    _("Gaskets, pipes, hoses and fixings on the engine's side unless listed above."),
                    _("Faults of the engine or its controls that made the old unit fail."),
                    _("Programming, approval and registration."),
                ),
            ),
            (_("What it will not do"), _will_not(against)),
            (
                _("Where the figures come from"),
                quote_ground(quote, [rate for rate in rates if rate.statement in {c.said for c in plan.costs}]),
            ),
            (_("Check, and with whom"), tuple(dict.fromkeys(c.text for c in plan.cautions if c.code != "operation"))),
        ),
        f"{named(question.core)} · {named(question.build)} · {named(question.engine)} · "
        + _foot(answer.snapshot, day),
        (_("accepted by"), _("date")),
    )


def _offer(answer: PlanAnswer, plan: Plan, quote: Quote) -> str:
    """What is offered, for which sum; what the answer is not sure of is said before it."""
    bundle, asked = answer.bundle, answer.question
    goal = (bundle.build.label if bundle else "") or named(asked.build)
    engine = (bundle.engine.label if bundle else "") or named(asked.engine)
    price = money(quote.net, plan.currency, at_least=quote.at_least)
    if quote.total is not None:
        price = _("%(total)s with tax, %(net)s without") % {
            "total": money(quote.total, plan.currency, at_least=quote.at_least),
            "net": price,
        }
    said = _("Core %(core)s made into %(goal)s for %(engine)s: %(price)s.") % {
        "core": named(asked.core),
        "goal": goal,
        "engine": engine,
        "price": price,
    }
    if not answer.open:
        return said
    asks = "; ".join(dict.fromkeys(gap.measure for gap in answer.open))
    return _("Not known yet whether it can be done: %(asks)s. If that turns out well: %(said)s") % {
        "asks": asks,
        "said": said,
    }


def _will_not(against: Sequence[Against]) -> tuple[str, ...]:
    """What differs from the original for the worse, and what nobody promises."""
    worse = [
        _("%(what)s is %(compared)s than the %(unit)s's: %(ours)s against %(original)s")
        % {
            "what": f"{spoken(m.seat)} {spoken(m.feature)}",
            "compared": word(m.compared),
            "unit": one.original,
            "ours": m.ours,
            "original": m.original,
        }
        for one in against
        for m in one.lines
        if m.compared == "smaller"
    ]
    worse += [
        _("%(what)s is another than the %(unit)s's: %(ours)s against %(original)s")
        % {
            "what": f"{spoken(m.seat)} {spoken(m.feature)}".strip(),
            "unit": one.original,
            "ours": m.ours,
            "original": m.original,
        }
        for one in against
        for m in one.lines
        if m.compared == "different"
    ]
    unknown = [
        _("%(what)s against the %(unit)s's is not known")
        % {"what": f"{spoken(m.seat)} {spoken(m.feature)}", "unit": one.original}
        for one in against
        for m in one.lines
        if m.compared == "not known"
    ]
    promise = _(
        "No power, boost pressure or fuel use is promised; those depend on the engine, its fuel and its load."
    )
    return (*worse, *unknown, promise)


def credit_slip(
    record: CoreRecord, worth: Credit, rule: str, shares: Sequence[Figure], *, customer: str, shop: str, day: str
) -> Slip:
    """What comes back for a core. `rule`: as it was typed in; `shares`: the shop's own rule, if none was."""
    amount = money(worth.amount, record.currency) if worth.amount is not None else _("not known")
    said = (
        _("For core %(tag)s, grade %(grade)s, %(amount)s of the deposit come back.")
        % {"tag": record.tag, "grade": worth.grade, "amount": amount}
        if worth.amount is not None
        else _("What comes back for core %(tag)s is not known yet.") % {"tag": record.tag}
    )
    rows = (
        (
            _("Deposit on record"),
            money(record.deposit, record.currency) if record.deposit is not None else _("not known"),
        ),
        (_("Grade"), worth.grade),
        (_("Share for this grade"), _("not known") if worth.percent is None else f"{worth.percent} %"),
    )
    if rule.strip():
        ground: tuple[str, ...] = (_("typed in at the counter: %(rule)s") % {"rule": rule},)
    else:
        ground = tuple(
            _("grade %(grade)s: %(figure)s, %(word)s")
            % {"grade": one.of, "figure": figure_value(one), "word": on_record(one)}
            for one in shares
        ) or (_("not set, and none was typed in"),)
    return Slip(
        _("Core credit"),
        _head((_("from"), shop), (_("for"), customer or record.customer), (_("date"), day)),
        said,
        (Table(_("How it comes about"), ("", ""), rows, 1),),
        ((_("Credit"), amount),),
        (
            (_("The rule"), ground),
            (_("Open"), (worth.sentence,) if worth.sentence else ()),
            (
                _("As found"),
                tuple(f"{spoken(seat)}: {word(state)}" for seat, _part, state in record.found if state != "present"),
            ),
        ),
        _foot(record.snapshot, day),
        (_("graded by"), _("date")),
    )


def claim_slip(
    record: CoreRecord,
    found: Sequence[Decision],
    *,
    terms: Sequence[str],
    job: str,
    complaint: str,
    hours: str,
    customer: str,
    shop: str,
    day: str,
) -> Slip:
    """A claim: the complaint in the customer's words, the findings in the bench's, and the shop's `terms`."""
    rows = tuple((spoken(d.seat), named(d.part), word(d.outcome), d.reason) for d in found)
    sizes = tuple(
        (
            spoken(r.seat),
            f"{spoken(r.feature)} {r.position}".strip(),
            " ± ".join(t for t in (r.value, r.uncertainty) if t),
            f"{r.instrument} {r.date}".strip(),
        )
        for r in record.readings
        if r.counts
    )
    return Slip(
        _("Warranty claim"),
        _head(
            (_("from"), shop), (_("customer"), customer or record.customer), (_("date"), day),
            (_("unit"), named(record.built)), (_("serial"), record.serial), (_("job"), job), (_("hours run"), hours),
        ),
        complaint or _("The complaint was not written down."),
        (
            Table(_("What was found"), (_("seat"), _("part"), _("outcome"), _("why")), rows),
            Table(_("Measured"), (_("seat"), _("what"), _("size"), _("by")), sizes),
        ),
        (),
        (
            (
                _("Not looked at"),
                () if rows or sizes else (_("Nothing was found or measured yet; strip and measure first."),),
            ),
            (_("The shop's warranty"), tuple(terms)),
            (
                _("To be settled by a person"),
                (_("Cause of the failure, and whether it lies in the unit, its oil, its air or the engine."),
                 _("Whether the claim is accepted, and what is made good.")),
            ),
            (_("Photos"), record.photos),
        ),
        _foot(record.snapshot, day),
        (_("found by"), _("decided by"), _("date")),
    )  # fmt: skip
