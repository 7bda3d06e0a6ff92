"""What is handed over to a customer: quotes, core credits, warranty claims."""

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from api.current import CurrentDesk, today
from api.pages.answers import way_asked
from api.pages.frame import Count, Text, _, page, trouble
from api.paper.quote import credit_of, grading_rule, quote_of
from api.paper.slip import PAPERS, paper_named, pdf_response, slip_pdf
from api.paper.slips import claim_slip, credit_slip, quote_slip
from graph.desk.bench import Bench
from graph.desk.matching import against_originals
from graph.errors import SpoolwrightError
from graph.model.bench import Outcome

router = APIRouter()
Many = Annotated[list[str], Query(max_length=200)]


@router.get("/quote")
def quote(
    request: Request,
    desk: CurrentDesk,
    core: Text = "",
    build: Text = "",
    engine: Text = "",
    plan: Count = 1,
    customer: Text = "",
    tax: Text = "",
    valid: Annotated[int, Query(ge=1, le=365)] = 14,
    sublet: Many = [],  # noqa: B006
    as_of: Text = "",
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """A written quote for one way, as a page to print or PDF."""
    day = as_of or today()
    try:
        answer, chosen = way_asked(desk, core, build, engine, plan, day)
        made = quote_of(chosen, sublet=sublet, tax=tax, day=day, valid_days=valid)
        against = against_originals(desk.catalogue, answer, plan)
        slip = quote_slip(
            answer,
            chosen,
            made,
            against,
            desk.shelf.rates(),
            customer=customer,
            shop=request.app.state.shop,
            day=day,
        )
        if format == "pdf":
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=day), "quote")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    work = [c.what for c in chosen.costs if c.kind in ("labour", "service")]
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        day=day,
        form="quote",
        work=work,
        sublet=sublet,
        valid=valid,
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Quote for %(core)s") % {"core": core},
    )


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
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """What comes back for a core by the shop's rule; nothing is assumed where the rule or the record is silent."""
    try:
        record = Bench(desk).record(core)
        worth = credit_of(record.grade, record.deposit, grading_rule(rule))
        slip = credit_slip(record, worth, rule, customer=customer, shop=request.app.state.shop, day=today())
        if format == "pdf":
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=today()), "core-credit")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        form="credit",
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
    format: Text = "page",
    paper: Text = "a4",
) -> Response:
    """A warranty claim: what the customer says, and what was found on the unit that came back, seat by seat."""
    try:
        bench = Bench(desk)
        record, judged = bench.record(core), bench.inspect(core)
        found = [d for d in judged.decisions if d.outcome is not Outcome.REUSE and (d.judged or d.state != "present")]
        slip = claim_slip(
            record, found, job=job, complaint=complaint, hours=hours, customer=customer,
            shop=request.app.state.shop, day=today(),
        )  # fmt: skip
        if format == "pdf":
            return pdf_response(slip_pdf(slip, paper=paper_named(paper), day=today()), "claim")
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "slip.html",
        slip=slip,
        form="claim",
        pdf=[(name, _with(request, format="pdf", paper=name)) for name in PAPERS],
        keep=_("Claim on %(core)s") % {"core": record.tag},
    )
