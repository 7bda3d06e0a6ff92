"""Bodies in JSON as routes read them: by `api.jsontext`, and refused with all that is wrong with them."""

from collections.abc import Callable, Coroutine
from typing import Any

from fastapi import Request, Response
from fastapi.routing import APIRoute
from starlette.exceptions import HTTPException

from api.jsontext import Fault, NotJson, read


class Unreadable(HTTPException):
    """A body that is no JSON; of the class that passes through the reading of a body unchanged."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__(400)
        self.faults = faults


class JsonRequest(Request):
    """A request whose body is read strictly."""

    async def json(self) -> Any:
        """The body.

        Raises
        ------
        Unreadable
            It is no JSON, or some of it would be lost.
        """
        try:
            return read(await self.body())
        except NotJson as error:
            raise Unreadable(error.faults) from error


class JsonRoute(APIRoute):
    """A route that may have a body in JSON."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The handler, given such a request."""
        plain = super().get_route_handler()

        async def handler(request: Request) -> Response:
            return await plain(strict(request))

        return handler


def strict(request: Request) -> JsonRequest:
    """The same request, whose body is read strictly; to be made before the body is read."""
    return request if isinstance(request, JsonRequest) else JsonRequest(request.scope, request.receive)
