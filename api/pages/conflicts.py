"""What the record disagrees about, the weightiest first, each with a form for the claim that settles it."""

from functools import lru_cache
from typing import Annotated, Final

from fastapi import APIRouter, Query, Request, Response

from api.current import CurrentDesk, today
from api.pages import twice
from api.pages.asking import address
from api.pages.changes import paged
from api.pages.frame import page
from api.words import named
from graph.desk.conflicts import Conflicts, Dispute, conflicts, of_catalogue, settles
from graph.index.catalogue import Catalogue
from graph.ledger.watches import Watches
from graph.model.claim import RANK_WORDS
from graph.model.record import Source

router = APIRouter()
At = Annotated[int, Query(ge=1, le=100_000)]
DISPUTES_A_PAGE: Final = 20
EDGES_A_PAGE: Final = 50


@lru_cache(maxsize=2)
def _standing(catalogue: Catalogue) -> Conflicts:
    """What one catalogue disagrees about; to look at every asserted edge anew for each page would be slow."""
    return of_catalogue(catalogue)


@router.get("/conflicts")
def queue(request: Request, desk: CurrentDesk, disputes: At = 1, edges: At = 1) -> Response:
    """Disputed values, circles of supersession, and interchanges that the features do not bear out."""
    watches = Watches(request.app.state.current.store().ledger).all()
    found = conflicts(desk, watches, _standing(desk.catalogue))

    def href(**other: object) -> str:
        told = {"disputes": disputes if disputes > 1 else "", "edges": edges if edges > 1 else "", **other}
        return address("/conflicts", **{k: str(v) for k, v in told.items() if v})

    return page(
        request,
        desk,
        "conflicts.html",
        posting=True,
        found=found,
        settling=lambda dispute: _sources(desk.catalogue.sources, dispute),
        thing_href=_href,
        part_href=lambda key: address("/thing", name=named(key)),
        interchange_href=lambda key: address("/interchange", part=named(key)),
        once=twice.mark,
        filled={},
        today=today(),
        href=href,
        **paged("dispute", found.disputes, disputes, DISPUTES_A_PAGE),
        **paged("edge", found.edges, edges, EDGES_A_PAGE),
    )


def _sources(sources: tuple[Source, ...], dispute: Dispute) -> list[tuple[Source, bool]]:
    """Who may say it, and whether that settles it: those that do first, then by rank and name."""
    found = [(source, settles(dispute, RANK_WORDS[source.rank])) for source in sources]
    return sorted(found, key=lambda one: (not one[1], RANK_WORDS[one[0].rank], one[0].name))


def _href(dispute: Dispute) -> str:
    if dispute.subject.startswith("core/"):
        return f"/core/{named(dispute.subject)}"
    return address("/thing", name=named(dispute.subject))
