"""The version on which a change rests, as If-Match and If-None-Match say it."""

import re
from collections.abc import Callable, Iterable
from typing import Annotated, Final

from fastapi import Depends, Header, Request
from fastapi.dependencies.models import Dependant

from api.http.preconditions import NONE, Preconditions, Tags
from graph.errors import Stale, VersionWanted

_NUMBERED: Final = re.compile(rb'"[1-9][0-9]{0,17}"')


def etag(version: int) -> str:
    """The entity tag of a version of something that is changed with If-Match."""
    return f'"{version}"'


class Seen:
    """What a change rests on: the version that its writer saw, or what the request says of it."""

    def __init__(self, said: Preconditions) -> None:
        self._said = said

    def version(self, current: Callable[[], Iterable[int]]) -> int:
        """The version to which the writer holds the change, under its lock; 0: there must be none yet.

        `current` looks which there is, if any, and is asked only where the request does not name exactly one. Ask for
        the version within `Write.once`: a retry would find the one that it made itself.

        Raises
        ------
        Stale
            There is another one than the request says.
        """
        match self._said:
            case Preconditions(match=Tags(named=(one,)), none_match=None) if _NUMBERED.fullmatch(one):
                return int(one[1:-1])
            case Preconditions(match=None, none_match=Tags(any_=True)):
                return 0
        have = max(current(), default=0)
        tag = etag(have).encode() if have else None
        if self._said.matched(tag) and self._said.unknown(tag):
            return have
        there = f"what is there has the ETag {etag(have)}" if have else "there is nothing yet"
        fix = "look at it again, then write"
        if tag and self._said.match and self._said.match.weakly(tag):
            fix = "a weak tag (W/) never meets If-Match: take the ETag of an answer that nobody packed on its way"
        raise Stale(f"{there}, which is not what the request says", fix=fix)

    def version_if_said(self, current: Callable[[], Iterable[int]]) -> int | None:
        """The same for what is changed also without a condition; None: the request says nothing."""
        return self.version(current) if self._said != NONE else None


def seen(
    request: Request,
    if_match: Annotated[
        str, Header(description='The version this change rests on, as its ETag: `"12"`; several, or `*`: any')
    ] = "",
    if_none_match: Annotated[str, Header(description="`*`: make it, there is none yet")] = "",
) -> Seen:
    """What the request says of the version of what it changes; read by the layer around the routes."""
    said: Preconditions = request.state.preconditions
    return Seen(said)


def wanted(said: Annotated[Seen, Depends(seen)], request: Request) -> Seen:
    """The same where a change must say it.

    Raises
    ------
    VersionWanted
        The request does not.
    """
    asked: Preconditions = request.state.preconditions
    if asked.match is None and asked.none_match in (None, Tags()):
        raise VersionWanted(
            "a change must say which version it rests on",
            fix="look at it first and send its ETag as If-Match; `If-None-Match: *` where there is none yet",
        )
    return said


def holds_to_version(dependant: Dependant) -> bool:
    """Whether a route holds its write to If-Match itself."""
    return any(one.call is seen or holds_to_version(one) for one in dependant.dependencies)


Expected = Annotated[Seen, Depends(wanted)]
"""What a route takes whose changes must say what they rest on."""

Expectable = Annotated[Seen, Depends(seen)]
"""What a route takes whose changes may say it."""
