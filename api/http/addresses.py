"""Which addresses there are, their methods and the forms of their answers, read from the routes."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from re import Pattern
from typing import Any, Final
from urllib.parse import unquote

from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from pydantic import BaseModel

from api.http.forms import FORMS, MEDIA
from api.http.retired import MARK, fields

_CONVERTER: Final = re.compile(r":[a-z]+\}")


@dataclass(slots=True)
class Address:
    """One path template; by method the forms of its answer (form to medium), what tells that it is retired, and the
    names of what it takes behind the `?`.

    `desks`: its answers rest on the desk's snapshot alone (or on nothing), so that the clocks name them.
    `own_forms`: the route chooses the form itself, as a protocol of its own says.
    """

    template: str
    pattern: Pattern[str]
    forms: dict[str, dict[str, str]] = field(default_factory=dict)
    retired: dict[str, list[tuple[bytes, bytes]]] = field(default_factory=dict)
    taken: dict[str, frozenset[str]] = field(default_factory=dict)
    desks: bool = False
    own_forms: bool = False

    @property
    def shown(self) -> str:
        """The template as the OpenAPI document writes it, without the converters of its parameters."""
        return _CONVERTER.sub("}", self.template)

    @property
    def methods(self) -> list[str]:
        """The methods that it takes, as `Allow` lists them."""
        found = set(self.forms) | {"OPTIONS"}
        return sorted(found | {"HEAD"} if "GET" in found else found)


OWN_FORMS: Final = "x-own-forms"
"""What a route's `openapi_extra` holds when it chooses the form of its answer itself."""

DESKS: Final = frozenset(
    {
        "questions",
        "things",
        "depth",
        "yard",
        "bench",
        "route sheets",
        "look up",
        "store",
        "calculations",
        "jobs",
        "stock",
        "shop figures",
        "sign-offs",
        "knowledge graph",
    }
)
"""Tags of routes whose GET reads nothing but the desk; others read more (keys, staged changes, photos' bytes)."""


REMEMBERED: Final = 4096
"""Paths whose address is not looked for again."""


SLASH: Final = "%2F"
"""A slash within one piece of a path, as it stands in the path by which a route is found."""


def in_pieces(raw_path: bytes) -> str:
    """A path whose pieces are kept apart: one with a slash in its name is not two.

    >>> in_pieces(b"/v1/cores/SW%2F4")
    '/v1/cores/SW%2F4'
    """
    pieces = raw_path.partition(b"?")[0].decode("ascii", "replace").split("/")
    return "/".join(unquote(piece).replace("/", SLASH) for piece in pieces)


class Addresses:
    """The addresses of one application."""

    def __init__(self, app: FastAPI) -> None:
        self._app = app
        self._found: list[Address] = []
        self._met: dict[tuple[str, str], Address | None] = {}

    def _all(self) -> list[Address]:
        if not self._found:
            self._found = list(_addresses(self._app))
        return self._found

    def documented(self) -> list[Address]:
        """All of them, in the order of the routes."""
        return self._all()

    def methods(self, path: str) -> list[str]:
        """All methods that some route of this path takes, sorted; none if there is no such path."""
        found: set[str] = set()
        for address in self._all():
            if address.pattern.match(path):
                found |= set(address.methods)
        return sorted(found)

    def answering(self, path: str, method: str) -> Address | None:
        """The first address that answers this path with this method."""
        asked = (path, method)
        if asked not in self._met:
            if len(self._met) >= REMEMBERED:
                self._met.clear()
            self._met[asked] = next((a for a in self._all() if method in a.forms and a.pattern.match(path)), None)
        return self._met[asked]


def _addresses(app: FastAPI) -> Iterator[Address]:
    made: dict[str, Address] = {}
    for route in iter_route_contexts(app.routes):
        path, pattern = getattr(route, "path", None), getattr(route, "path_regex", None)
        if path is None or pattern is None:
            continue
        address = made.setdefault(path, Address(path, pattern))
        address.desks = path == app.openapi_url or bool(DESKS & set(getattr(route, "tags", None) or ()))
        address.own_forms = OWN_FORMS in (getattr(route, "openapi_extra", None) or {})
        for method in getattr(route, "methods", None) or ():
            if method != "HEAD":
                address.forms[method] = dict(_forms(route))
                address.taken[method] = frozenset(_taken(getattr(route, "dependant", None)))
                if told := (getattr(route, "openapi_extra", None) or {}).get(MARK):
                    address.retired[method] = fields(told)
    yield from made.values()


def _taken(dependant: Any) -> Iterator[str]:
    """The names of query parameters that a route and what it depends on take."""
    if dependant is None:
        return
    for one in dependant.query_params:
        model = one.field_info.annotation
        if isinstance(model, type) and issubclass(model, BaseModel):
            yield from (info.alias or name for name, info in model.model_fields.items())
        else:
            yield one.alias
    for other in dependant.dependencies:
        yield from _taken(other)


def _forms(route: Any) -> Iterator[tuple[str, str]]:
    """JSON where there is a model, then what the answer's description adds, in that order."""
    said: Mapping[str, Any] = (getattr(route, "responses", None) or {}).get(200, {})
    media = list(said.get("content", {}))
    if getattr(route, "response_field", None) is not None or said.get("model") is not None or not media:
        media.insert(0, MEDIA["json"])
    for one in dict.fromkeys(media):
        yield FORMS.get(one, one), one
