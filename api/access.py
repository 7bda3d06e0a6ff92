"""Who calls, and what that caller may do.

A key comes as `Authorization: Bearer sw_…`; a browser may send it as the password of HTTP Basic, which opens reading
only, since a browser sends that along with requests that some other page made it send. Without a key:

- nobody has made a key yet, or it is the demo: a program or browser on this very machine may do everything, others
  may read;
- there are keys: this machine may read, others may do nothing.

A request through a proxy does not come from this machine, whatever address it says. A server that listens beyond
loopback (`open_here` false) trusts nobody without a key.
"""

import base64
import binascii
import hashlib
import ipaddress
import time
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from fastapi import Request
from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import problems
from graph.errors import NoKey, NoScope, SpoolwrightError
from graph.ledger.keys import Key, Keys

FORWARDED: Final = ("forwarded", "x-forwarded-for", "x-real-ip", "via")
OPEN_PATHS: Final = frozenset({"/health", "/ready"})
"""Addresses that tell nothing of the shop."""

ASK: Final = 'Bearer realm="spoolwright", Basic realm="spoolwright", charset="UTF-8"'
OPEN_HEADER: Final = b"spoolwright-access"
REMEMBERED: Final = 1.0
"""Seconds for which a key that was found is not looked up again; a revoked one opens for so long at most."""

_HELD_MOST: Final = 1_000


@dataclass(frozen=True, slots=True)
class Caller:
    """Who calls. Without a key the name is empty."""

    name: str = ""
    key: Key | None = None


class Door:
    """Knows the keys of one store; shared by all requests of an application."""

    def __init__(self, keys: Keys) -> None:
        self._keys = keys
        self._any = False
        self._asked = -REMEMBERED
        self._held: dict[bytes, tuple[float, Key]] = {}

    def any(self) -> bool:
        """Whether there are keys; once there are, there always will have been."""
        now = time.monotonic()
        if not self._any and now - self._asked >= REMEMBERED:
            self._any = self._keys.any()
            self._asked = now
        return self._any

    def made_one(self) -> None:
        """A key was made here: writing takes one from this moment."""
        self._any = True

    def forget(self) -> None:
        """Look every key up again, since one was revoked here."""
        self._held.clear()

    def holder(self, text: str) -> Key | None:
        """The key that this text is."""
        mark, now = hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest(), time.monotonic()
        seen, key = self._held.get(mark, (0.0, None))
        if key is not None and now - seen < REMEMBERED:
            return key
        found = self._keys.holder(text)
        if found is not None:
            if len(self._held) >= _HELD_MOST:
                self._held.clear()
            self._held[mark] = (now, found)
        return found


def door(request: Request) -> Door:
    """The door of the application that answers this request."""
    state = request.app.state
    if getattr(state, "door", None) is None:
        state.door = Door(Keys(state.current.store().ledger))
    made: Door = state.door
    return made


def from_here(request: Request) -> bool:
    """Whether a program on this very machine asks, by a name of this machine, through no proxy, for no other site.

    The name matters: a page of another site may send a browser to its own name that leads here.
    """
    if any(name in request.headers for name in FORWARDED) or request.client is None:
        return False
    origin = request.headers.get("origin", "")
    if origin and origin.partition("://")[2] != request.headers.get("host", ""):
        return False
    if request.headers.get("sec-fetch-site", "none") not in ("none", "same-origin"):
        return False
    return loopback(request.client.host) and loopback(request.url.hostname or "")


@lru_cache(maxsize=1024)  # every request asks it twice
def loopback(host: str) -> bool:
    """Whether this is a name or address of this very machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def caller(request: Request, scope: str) -> Caller:
    """Who asks for this.

    Raises
    ------
    NoKey
        A key is needed, or what came opens nothing.
    NoScope
        The key does not open this.
    """
    text, ambient = _presented(request)
    if text:
        key = door(request).holder(text)
        if key is None:
            raise NoKey("this key opens nothing", fix="send a key that was made here and not revoked")
        if ambient and scope != "read":
            raise NoKey("a password opens reading only", fix="send the key as Authorization: Bearer")
        if not key.opens(scope):
            raise NoScope(
                f"key {key.name!r} opens {', '.join(key.scopes)}; this takes {scope}", fix=f"use a key with {scope}"
            )
        return Caller(key.name, key)
    state = request.app.state
    here = from_here(request) and getattr(state, "open_here", True)
    if here and (scope == "read" or getattr(state, "demo", False) or not door(request).any()):
        return Caller()
    if scope == "read" and not door(request).any():
        return Caller()
    raise NoKey(
        "this takes a key" if door(request).any() else "writing from elsewhere takes a key, and none was made yet",
        fix="send it as Authorization: Bearer sw_…; `spoolwright key make` makes one",
    )


def _presented(request: Request) -> tuple[str, bool]:
    """The text of a key that came along, and whether a browser may have added it by itself."""
    kind, _, text = request.headers.get("authorization", "").partition(" ")
    if kind.casefold() == "bearer":
        return text.strip() or " ", False
    if kind.casefold() == "basic":
        try:
            return base64.b64decode(text, validate=True).decode().partition(":")[2] or " ", True
        except (binascii.Error, UnicodeDecodeError):
            return " ", True
    return (" ", False) if kind else ("", False)


class Gate:
    """The layer before every answer: refuses readers from elsewhere once there are keys; says when all is open."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] != "http" or scope["path"] in OPEN_PATHS or scope["path"].startswith("/static/"):
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        try:
            open_ = await self._opened(request)
        except SpoolwrightError as error:
            refused = problems.of(error)
            if error.status_hint == 401:
                refused.headers["WWW-Authenticate"] = ASK
            await refused(scope, receive, send)
            return

        async def wrapped(message: Message) -> None:
            if message["type"] == "http.response.start" and (open_ or message["status"] == 401):
                headers = [*message.get("headers", ())]
                headers += [(OPEN_HEADER, open_)] if open_ else []
                headers += [(b"www-authenticate", ASK.encode())] if message["status"] == 401 else []
                message = {**message, "headers": headers}
            await send(message)

        await self.app(scope, receive, wrapped)

    async def _opened(self, request: Request) -> bytes:
        """What the header says about openness; raises what refuses the reader."""
        state = request.app.state
        demo = getattr(state, "demo", False)
        if "authorization" in request.headers or not from_here(request):
            try:
                await run_in_threadpool(caller, request, "read")
            except NoKey:
                raise
            except SpoolwrightError as error:
                if error.code != "not-found":  # no store yet: there is nothing to keep from anyone
                    raise
        if not getattr(state, "open_here", True):
            return b""
        if demo:
            return b"demo; open to this machine without a key"
        try:
            held = await run_in_threadpool(door, request) if getattr(state, "door", None) is None else door(request)
        except SpoolwrightError:  # no store yet: nothing can be written
            return b""
        return b"" if held.any() else b"no key yet; open to this machine"


class Needs:
    """The dependency of a route that tells what not every reader may know."""

    def __init__(self, scope: str) -> None:
        self.scope = scope

    def __call__(self, request: Request) -> Caller:
        """Who asks."""
        return caller(request, self.scope)
