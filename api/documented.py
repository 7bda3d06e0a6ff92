"""How errors stand in the OpenAPI document."""

from typing import Any

from fastapi import FastAPI
from pydantic import BaseModel, Field

from api.http.forms import MEDIA
from graph.model.plan import PlanAnswer


class Fault(BaseModel):
    """One thing wrong with a request."""

    where: str
    why: str


class Problem(BaseModel):
    """RFC 9457 problem details; `code` is stable, `fix` says what to do."""

    type: str
    code: str
    title: str
    status: int
    detail: str = ""
    fix: str = ""
    faults: list[Fault] = Field(default_factory=list)


class SavedAnswer(BaseModel):
    """An answer that can be kept: `digest` is SHA-256 of the answer's canonical JSON."""

    format: int
    answer: PlanAnswer
    digest: str


def refused(description: str) -> dict[str, Any]:
    """How one kind of refusal stands in the document."""
    return {
        "description": description,
        "content": {"application/problem+json": {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }


PROBLEMS: dict[int | str, dict[str, Any]] = {
    404: refused("A name, number or tag that is not in the graph"),
    405: refused("The address does not take this method; see `Allow`"),
    406: refused("The answer is not available in the form asked for"),
    409: refused("A name that leads to more than one thing, or a store that moved on"),
    413: refused("The body is larger than this server takes"),
    422: refused("A question that cannot be answered as asked; `fix` says what to do"),
    429: refused("More requests than this server takes from one caller; see `Retry-After`"),
    500: refused("An answer the checker refused, or a fault of the program"),
    503: refused("Stopped by its limit, all workers busy, or not yet at the version asked for; see `Retry-After`"),
}
"""What any route under /v1 may answer beside its result."""


def forms(description: str, model: Any, *others: str) -> dict[int | str, dict[str, Any]]:
    """The answer of a route that gives JSON of `model` and these other forms."""
    content = {MEDIA[form]: {"schema": {"type": "string"}} for form in others}
    return {200: {"model": model, "description": description, "content": content}}


def document(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document of `app`, with the schema of problems that every route points to."""
    if app.openapi_schema is None:
        made = FastAPI.openapi(app)
        problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        made["components"]["schemas"] |= {**problem.pop("$defs"), "Problem": problem}
        made["components"]["schemas"] = dict(sorted(made["components"]["schemas"].items()))
    assert app.openapi_schema is not None
    return app.openapi_schema
