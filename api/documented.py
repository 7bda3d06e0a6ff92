"""How errors stand in the OpenAPI document."""

import json
from typing import Any

from fastapi import FastAPI
from pydantic import BaseModel, Field

from api.http.addresses import Addresses
from api.http.conditions import QUESTIONS
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
    401: refused("No key came with the request, or one that opens nothing"),
    403: refused("The key does not open this"),
    404: refused("A name, number or tag that is not in the graph"),
    405: refused("The address does not take this method; see `Allow`"),
    406: refused("The answer is not available in the form asked for"),
    409: refused("A name that leads to more than one thing, or a store that moved on"),
    413: refused("The body is larger than this server takes"),
    415: refused("The body comes packed (`Content-Encoding`)"),
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


BATCH = "/v1/batch/"
AS_OF = {
    "name": "as-of",
    "in": "query",
    "description": "Ask what was known after this change set (its number) or at the end of this day (UTC)",
    "schema": {"type": "string", "pattern": r"^([0-9]{1,9}|[0-9]{4}-[0-9]{2}-[0-9]{2})$"},
}
AT_LEAST = {
    "name": "Spoolwright-At-Least",
    "in": "header",
    "description": "Answer from this change set or a later one, else 503 with `Retry-After`",
    "schema": {"type": "string", "pattern": "^[0-9]{1,18}$"},
}
KNOWN = {
    "name": "If-None-Match",
    "in": "header",
    "description": "The ETag of the answer that the asker has, or several; 304 if one of them still stands",
    "schema": {
        "type": "string",
        "pattern": r'^(\*|(W/)?"[!#-~]{0,100}"(, ?(W/)?"[!#-~]{0,100}"){0,9})$',
    },
}
HEADERS = {
    "Spoolwright-Snapshot": {
        "description": 'Both clocks that the answer comes from: `"CATALOGUE";shelf=N`',
        "schema": {"type": "string"},
    },
    "ETag": {"description": "Names the facts that the answer read", "schema": {"type": "string"}},
}


def document(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI document of `app`, with the schema of problems and the fields that every route under /v1 takes."""
    if app.openapi_schema is None:
        made = _own_names(FastAPI.openapi(app))
        parts = made["components"]
        problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        parts["schemas"] |= {**problem.pop("$defs"), "Problem": problem}
        parts["schemas"].pop("HTTPValidationError", None)
        parts["schemas"].pop("ValidationError", None)
        parts["schemas"] = dict(sorted(parts["schemas"].items()))
        parts["parameters"] = {"as-of": AS_OF, "at-least": AT_LEAST, "known": KNOWN}
        parts["headers"] = dict(HEADERS)
        for address in Addresses(app).documented():
            for method in address.forms:
                operation = made["paths"].get(address.shown, {}).get(method.lower())
                if operation is not None and address.shown.startswith("/v1/"):
                    asks = method == "POST" and (address.shown in QUESTIONS or address.shown.startswith(BATCH))
                    _conventions(operation, reads=method == "GET" and address.desks, asks=asks)
    assert app.openapi_schema is not None
    return app.openapi_schema


def _own_names(made: dict[str, Any]) -> dict[str, Any]:
    """The document with a name and title of its own for each schema: generators of clients name classes by them.

    Records of the same name are told apart by the module that they are from: `BenchResult`, `PlanStep`.
    """
    text = json.dumps(made)
    for name in made["components"]["schemas"]:
        if "__" in name:
            *_, module, own = name.split("__")
            text = text.replace(f'schemas/{name}"', f'schemas/{module.title()}{own}"').replace(
                f'"{name}": {{', f'"{module.title()}{own}": {{'
            )
    renamed: dict[str, Any] = json.loads(text)
    for name, schema in renamed["components"]["schemas"].items():
        schema["title"] = name
    made.clear()
    made.update(renamed)  # FastAPI keeps and serves the one that it made
    return made


def _conventions(operation: dict[str, Any], *, reads: bool, asks: bool) -> None:
    """What every operation takes and gives beside its own; `asks`: a POST that only asks, also of what was."""
    wanted = ("at-least", "known", "as-of") if reads else ("at-least", "as-of") if asks else ("at-least",)
    refs = [{"$ref": f"#/components/parameters/{name}"} for name in wanted]
    operation["parameters"] = [*operation.get("parameters", []), *refs]
    for status, answer in operation["responses"].items():
        if status.startswith("2"):
            names = HEADERS if reads else ("Spoolwright-Snapshot",)
            content = answer.get("content", {})
            if "application/json" in content:  # first, since generators of clients take the first one
                answer["content"] = {"application/json": content.pop("application/json"), **content}
            answer.setdefault("headers", {}).update(
                {name: {"$ref": f"#/components/headers/{name}"} for name in names}
            )
    operation["responses"].setdefault("400", refused("If-Match or If-None-Match is no list of entity tags"))
    if reads:
        operation["responses"]["304"] = {"description": "The asker has this answer"}
        operation["responses"]["412"] = refused("What there is has another ETag than If-Match names")
