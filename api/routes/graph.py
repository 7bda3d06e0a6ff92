"""`/v1`: the knowledge graph: SPARQL 1.1 Protocol (query), Graph Store Protocol (reading), description, context."""

import json
from collections.abc import Iterator
from typing import Annotated, Any
from urllib.parse import parse_qsl, unquote

from fastapi import APIRouter, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse

from api.current import CurrentDesk
from api.documented import PROBLEMS, refused
from api.http import notes
from api.http.addresses import OWN_FORMS
from api.http.forms import MEDIA, accepted
from api.http.refusals import BadQuery
from api.schemas import Form
from api.sparql_worker import SparqlAsked
from graph.desk import Desk
from graph.errors import BadQuestion, NotFound
from graph.model.statement import Statement
from graph.sparql.answer import GRAPHS, TABLES
from graph.sparql.answer import Query as Sparql
from graph.sparql.guard import MOST, refuse
from ontology.terms import ID

SECONDS = 5.0
"""How long one query may take."""

LOADING = 120.0
"""How long the first query after a change may wait for the graph to be loaded."""

SOURCE = ID + "source/"
RDF = ("ttl", "nt", "nq", "jsonld")
SPARQL_PROBLEMS = PROBLEMS | {400: refused("A query that is not sound, or that asks for what is not done here")}
router = APIRouter(prefix="/v1", tags=["knowledge graph"], responses=SPARQL_PROBLEMS)
well_known = APIRouter(include_in_schema=False)
ANSWER: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "A table (SELECT, ASK) or a graph; `Spoolwright-Truncated` says that rows were left off",
        "content": {media: {"schema": {"type": "string"}} for media in (*TABLES, *GRAPHS)},
    }
}
FORM_BODY = {
    "requestBody": {
        "required": True,
        "content": {
            "application/sparql-query": {"schema": {"type": "string"}},
            "application/x-www-form-urlencoded": {
                "schema": {
                    "type": "object",
                    "required": ["query"],
                    "properties": {
                        "query": {"type": "string"},
                        "default-graph-uri": {"type": "array", "items": {"type": "string"}},
                        "named-graph-uri": {"type": "array", "items": {"type": "string"}},
                    },
                }
            },
        },
    },
    OWN_FORMS: True,
}
SHORT = {
    "json": ("application/sparql-results+json", "application/ld+json"),
    "xml": ("application/sparql-results+xml", "application/rdf+xml"),
    "csv": ("text/csv",),
    "tsv": ("text/tab-separated-values",),
    "ttl": ("text/turtle",),
    "turtle": ("text/turtle",),
    "nt": ("application/n-triples",),
    "n-triples": ("application/n-triples",),
    "rdf": ("application/rdf+xml",),
    "jsonld": ("application/ld+json",),
    "json-ld": ("application/ld+json",),
}
"""Forms by the short names that clients of the protocol send."""


async def _answered(request: Request, pairs: list[tuple[str, str]]) -> Response:
    """The protocol's operation: one query, the graphs that make its dataset, the form by `format` or `Accept`."""
    notes.read("shelf")
    queries = [text for name, text in pairs if name == "query"]
    if len(queries) != 1:
        raise BadQuery(f"{len(queries)} queries came", fix="send exactly one `query`")
    if any(name in ("update", "using-graph-uri", "using-named-graph-uri") for name, _ in pairs):
        raise BadQuery("this address only reads", fix="publish a change instead")
    try:
        refuse(queries[0])
    except BadQuestion as error:
        raise BadQuery(error.message, fix=error.fix) from None
    query = Sparql(
        queries[0],
        tuple(text for name, text in pairs if name == "default-graph-uri"),
        tuple(text for name, text in pairs if name == "named-graph-uri"),
        _wanted(request, pairs),
    )
    asked = SparqlAsked(query, SECONDS, request.scope["state"].get("as_of", ""))
    found, snapshot = await run_in_threadpool(request.app.state.sparql.ask, asked, SECONDS + LOADING)
    notes.answered_from(snapshot)
    headers = {"Spoolwright-Truncated": "more rows than are given"} if found.truncated else {}
    charset = "; charset=utf-8" if found.media.startswith("text/") else ""
    return Response(found.body, media_type=found.media + charset, headers=headers)


def _wanted(request: Request, pairs: list[tuple[str, str]]) -> tuple[str, ...]:
    asked = next((text for name, text in pairs if name == "format"), "")
    if asked:
        return SHORT.get(asked, (asked,))
    ranges = accepted(request.headers.get("accept", ""))
    return tuple(media for media, weight in sorted(ranges, key=lambda one: -one[1]) if weight > 0)


@router.get("/sparql", response_class=Response, responses=ANSWER, openapi_extra={OWN_FORMS: True})
async def get_sparql(
    request: Request,
    query: Annotated[str, Query(max_length=MOST, description="A SPARQL 1.1 query")] = "",
) -> Response:
    """SPARQL 1.1 Protocol, query by GET; `default-graph-uri` and `named-graph-uri` make the dataset."""
    return await _answered(request, request.query_params.multi_items())


@router.post("/sparql", response_class=Response, responses=ANSWER, openapi_extra=FORM_BODY)
async def post_sparql(request: Request) -> Response:
    """The same by POST: a form, or the query itself as `application/sparql-query`."""
    kind, _, said = request.headers.get("content-type", "").lower().partition(";")
    kind, charset = kind.strip(), said.partition("charset=")[2].partition(";")[0].strip(' "')
    if charset not in ("", "utf-8", "utf8"):
        raise BadQuery(f"a query does not come in {charset!r}", fix="send UTF-8")
    try:
        body = (await request.body()).decode("utf-8")
    except UnicodeDecodeError as error:
        raise BadQuery("the body is no UTF-8", fix="send UTF-8") from error
    in_address = request.query_params.multi_items()  # the dataset, which clients name there for both kinds of body
    if kind == "application/sparql-query":
        return await _answered(request, [*in_address, ("query", body)])
    if kind == "application/x-www-form-urlencoded":
        return await _answered(request, [*in_address, *parse_qsl(body, keep_blank_values=True)])
    raise BadQuery(f"a query does not come as {kind or 'nothing'}", fix="send a form or application/sparql-query")


@router.get(
    "/graphs",
    response_class=Response,
    responses={200: {"description": "The graph", "content": {MEDIA[form]: {} for form in RDF}}},
)
def get_graph(
    request: Request,
    desk: CurrentDesk,
    graph: Annotated[str, Query(max_length=2000, description="The graph of one source, by its IRI")] = "",
    default: Annotated[str | None, Query(max_length=2000, description="All that holds; takes no value")] = None,
    format: Form = "ttl",
) -> Response:
    """SPARQL 1.1 Graph Store Protocol, reading: `?default` is all that holds, `?graph=IRI` what one source says."""
    notes.read("shelf")
    if (default is not None) == bool(graph):
        raise BadQuery("name one graph", fix="ask for ?default or ?graph=IRI")
    if graph and not graph.startswith(SOURCE):
        raise NotFound(
            f"there is no graph {graph!r}", fix="graphs are named by their sources; /v1/sources lists them"
        )
    name = unquote(graph.removeprefix(SOURCE))
    found = list(_said_by(desk, name)) if graph else desk.everything()
    if graph and not found:
        raise NotFound(
            f"there is no graph {graph!r}", fix="graphs are named by their sources; /v1/sources lists them"
        )
    # rdflib comes with the writer and costs a second to import, which every question would wait for.
    from graph.triples import serialise  # noqa: PLC0415

    return Response(b"".join(serialise(found, MEDIA[format])), media_type=MEDIA[format])


def _said_by(desk: Desk, source: str) -> Iterator[Statement]:
    return (said for said in desk.everything() if said.evidence.source == source)


@router.get(
    "/dataset",
    response_class=Response,
    responses={
        200: {"description": "The description", "content": {MEDIA[form]: {} for form in ("ttl", "nt", "jsonld")}}
    },
)
def get_dataset(request: Request, desk: CurrentDesk, format: Form = "ttl") -> Response:
    """What this dataset is (VoID, DCAT), and how it came to be, change set by change set (PROV)."""
    from api.text.dataset import described, expanded, lines  # noqa: PLC0415

    notes.read("shelf")
    found = list(described(desk, str(request.base_url).rstrip("/")))
    body = json.dumps(expanded(found), ensure_ascii=False) if format == "jsonld" else lines(found)
    return Response(body, media_type=MEDIA[format])


@router.get(
    "/context.jsonld",
    response_class=Response,
    responses={200: {"description": "The context", "content": {MEDIA["jsonld"]: {}}}},
)
def get_context() -> Response:
    """The JSON-LD context of all our JSON-LD; its ETag is of its own bytes and outlives every change set."""
    from graph.triples.serial import context  # noqa: PLC0415

    return Response(json.dumps({"@context": context()}, indent=1), media_type=MEDIA["jsonld"])


@well_known.get("/.well-known/void")
def void() -> RedirectResponse:
    """Where the description is, as the VoID note (section 7.2) asks."""
    return RedirectResponse("/v1/dataset", 303)
