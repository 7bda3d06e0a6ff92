"""What is handed over to a customer: quotes, core credits, warranty claims."""

from typing import Annotated, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from api.current import CurrentDesk, today
from api.pages.answers import way_asked
from api.pages.frame import Count, Text, _, page, trouble
from api.pages.terms import wished
from api.pages.wishing import WantedPlan, operation_labels
from api.paper.credit import credit_of, grading_rule, rule_on_record
from api.paper.figures import figure_value, warranty_terms
from api.paper.quote import Typed, quote_of, sublet_price
from api.paper.slip import PAPERS, paper_named, pdf_response, slip_pdf
from api.paper.slips import claim_slip, credit_slip, quote_slip
from graph.desk import Desk
from graph.desk import jobs as looking
from graph.desk.bench import Bench
from graph.desk.figures import shop_figures
from graph.desk.matching import against_originals
from graph.errors import BadQuestion, NotFound, SpoolwrightError
from graph.model.bench import Outcome
from graph.model.figures import TAX, VALIDITY, WARRANTY

router = APIRouter()
Many = Annotated[list[str], Query(max_length=200)]
PRICE: Final = "price:"
"""Before the name of a work done elsewhere: the field that its price is typed into."""
MOST_TYPED: Final = 60
"""Characters of a price that is typed in."""


@router.get("/quote")
def quote(
    request: Request,
    desk: CurrentDesk,
    asked: WantedPlan,
    plan: Count = 1,
    customer: Text = "",
    tax: Text = "",
    valid: Text = "",
    sublet: Many = [],  # noqa: B006
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """A written quote for one way, as a page to print or PDF."""
    day = asked.as_of or today()
    try:
        answer, chosen = way_asked(desk, asked, plan, day)
        figures = shop_figures(desk, day)
        typed = Typed(tax, valid, tuple(sublet), _prices(request))
        made = quote_of(chosen, figures, typed, day=day)
        against = against_originals(desk.catalogue, answer, plan)
        slip = quote_slip(
            answer,
            chosen,
            made,
            against,
            figures.rates,
            customer=customer,
            wished=wished(answer.question.wishes, operation_labels(desk)),
            shop=request.app.state.shop,
            day=day,
        )
        if format == "pdf":
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=day), "quote")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    names = dict.fromkeys(c.what for c in chosen.costs if c.kind in ("labour", "service"))
    on_record = {name: sublet_price(chosen, figures, name) for name in names}
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        day=day,
        form="quote",
        hidden=asked.fields(plan=plan),
        work=[(name, figure_value(one) if one else "") for name, one in on_record.items()],
        sublet=sublet,
        prices=typed.prices,
        price_field=PRICE,
        currency=chosen.currency,
        set_tax=figures.one(TAX),
        set_days=figures.one(VALIDITY),
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Quote for %(core)s") % {"core": asked.core},
    )


def _prices(request: Request) -> dict[str, str]:
    """The prices that were typed in for work done elsewhere, by its name."""
    found = {
        name.removeprefix(PRICE): text.strip()
        for name, text in request.query_params.multi_items()
        if name.startswith(PRICE) and text.strip()
    }
    long = [name for name, text in found.items() if len(text) > MOST_TYPED]
    if long:
        raise BadQuestion(
            _("the price of %(what)s is too long") % {"what": ", ".join(long)}, fix=_("write it as 120.50")
        )
    return found


def _with(request: Request, **change: str) -> str:
    kept = [(k, v) for k, v in request.query_params.multi_items() if k not in change]
    return f"{request.url.path}?" + urlencode([*kept, *change.items()])


@router.get("/credit")
def credit(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    rule: Text = "",
    customer: Text = "",
    as_of: Text = "",
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """What comes back for a core by the shop's rule; nothing is assumed where the rule or the record is silent."""
    day = as_of or today()
    try:
        record = Bench(desk).record(core)
        shares = shop_figures(desk, day).shares()
        shares_by_grade = grading_rule(rule) if rule.strip() else rule_on_record(shares)
        worth = credit_of(record.grade, record.deposit, shares_by_grade)
        slip = credit_slip(record, worth, rule, shares, customer=customer, shop=request.app.state.shop, day=day)
        if format == "pdf":
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=day), "core-credit")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        form="credit",
        hidden=[("core", core), ("as_of", as_of)],
        day=day,
        set_rule=", ".join(f"{one.of}: {one.percent}" for one in shares),
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Core credit for %(core)s") % {"core": record.tag},
    )


@router.get("/claim")
def claim(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    job: Text = "",
    complaint: Annotated[str, Query(max_length=1000)] = "",
    hours: Text = "",
    customer: Text = "",
    as_of: Text = "",
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """A warranty claim: what the customer says, and what was found on the unit that came back, seat by seat."""
    day = as_of or today()
    try:
        bench = Bench(desk)
        record, judged = bench.record(core), bench.inspect(core)
        found = [d for d in judged.decisions if d.outcome is not Outcome.REUSE and (d.judged or d.state != "present")]
        handed_over = _handed_over(desk, job)
        # What holds is what the shop gave when it handed the unit over, not what it gives today.
        terms = warranty_terms(shop_figures(desk, handed_over[:10] or day).one(WARRANTY), handed_over)
        slip = claim_slip(
            record, found, terms=terms, job=job, complaint=complaint, hours=hours, customer=customer,
            shop=request.app.state.shop, day=day,
        )  # fmt: skip
        if format == "pdf":
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=day), "claim")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        form="claim",
        hidden=[("core", core), ("as_of", as_of)],
        day=day,
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Claim on %(core)s") % {"core": record.tag},
    )


def _handed_over(desk: Desk, job: str) -> str:
    """The day on which a job was collected; empty where that is not on record."""
    try:
        steps = looking.job(desk, job.strip()).steps
    except NotFound:
        return ""
    return next((step.time for step in reversed(steps) if step.stage == "collected"), "")
