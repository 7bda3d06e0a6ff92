"""The shop's own figures: what its papers take, since when and on whose word, and forms that set them."""

from typing import Final

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk, today
from api.pages import guard, twice
from api.pages.frame import Text, _, form_of, page
from api.paper.figures import figure_name, figure_value
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.figures import shop_figures
from graph.errors import BadQuestion, SpoolwrightError, Stale
from graph.index.store import Store
from graph.model.figures import TAX, VALIDITY, WARRANTY
from graph.model.sheet import FIGURES
from graph.publish.figuring import figure_key

router = APIRouter()
RATE: Final = "rate"
"""What the form for an hour's price says it sets."""
ALWAYS: Final = {TAX: _("Tax rate"), VALIDITY: _("Days of validity"), WARRANTY: _("Warranty from the hand-over")}
"""Figures that every shop has or has not; the page names them when they are not set, too."""


@router.get("/shop")
def shop(request: Request, desk: CurrentDesk, as_of: Text = "", saved: Text = "") -> HTMLResponse:
    """All figures that hold on a day, those that are not set, and a form for each sort."""
    return _shown(request, desk, {}, "", as_of=as_of, saved=saved)


def _shown(
    request: Request, desk: Desk, filled: dict[str, str], wrong: str, *, as_of: str = "", saved: str = ""
) -> HTMLResponse:
    day = as_of or today()
    figures = shop_figures(desk, day)
    rows = [(figure_name(one), figure_value(one), one) for one in figures.figures]
    later = [
        (figure_name(one), figure_value(one), one) for one in shop_figures(desk).figures if one.as_of > day
    ]  # fmt: skip
    missing = [name for sort, name in ALWAYS.items() if all(one.figure != sort for one in figures.figures)]
    currency = next((rate.currency for rate in figures.rates), "")
    return page(
        request,
        desk,
        "shop.html",
        status=422 if wrong else 200,
        posting=True,
        rows=rows,
        later=later,
        missing=missing,
        rates=figures.rates,
        operations=desk.catalogue.all_operations,
        currency=filled.get("currency") or currency,
        filled=filled,
        wrong=wrong,
        sorts=(*FIGURES, RATE),
        day=day,
        saved=saved,
        once=twice.mark(),
        seen=desk.snapshot.shelf,
    )


@router.post("/shop")
async def set_figure(request: Request, desk: CurrentDesk) -> Response:
    """Set a figure or a rate; what is wrong is said beside the form, and nothing typed is lost."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        try:
            author = guard.writer(request, form, "sign-off")
            return twice.once(request, form, lambda: _write(request.app.state.current.store(), form, author))
        except SpoolwrightError as error:
            return _shown(request, desk, form, f"{error.message}. {error.fix}".strip(". "))

    return await run_in_threadpool(work)


def _write(store: Store, form: dict[str, str], author: str) -> str:
    what, of, moment = form.get("what", ""), form.get("of", ""), now()
    sheet, key = ("rates", (" ".join(of.split()),)) if what == RATE else ("figures", figure_key(what, of))
    with store.ledger.reading() as reading:
        version = max(reading.live_since(sheet, key).values(), default=0)
    seen = form.get("seen", "")
    if not seen.isascii() or not seen.isdigit():
        raise BadQuestion(_("this form is incomplete; nothing was written"), fix=_("open the page again and send it"))
    if version > int(seen):
        raise Stale(_("somebody set this since you opened the page"), fix=_("look at it again, then send it"))
    if what == RATE:
        writer.put_rate(store, of, form, version=version, author=author, time=moment).sound()
    else:
        writer.put_figure(store, what, of, form, version=version, author=author, time=moment).sound()
    return "/shop?saved=yes#set"
