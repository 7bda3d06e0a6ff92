"""Forms, snapshots and conditions of what is under `/v1`; an answer is given again while its snapshot stands."""

import hashlib
from collections import OrderedDict
from dataclasses import dataclass
from datetime import date
from typing import Final
from urllib.parse import parse_qsl, urlencode

from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api import problems
from api.current import Current
from api.http import notes
from api.http.addresses import Address, Addresses
from api.http.forms import chosen
from api.http.metrics import Metrics
from api.http.preconditions import NONE, Preconditions, preconditions
from api.http.refusals import BadHeader, Behind, NoSuchRoute
from graph.errors import SpoolwrightError, Stale
from graph.model.record import Snapshot

Headers = list[tuple[bytes, bytes]]

SNAPSHOT: Final = b"spoolwright-snapshot"
AT_LEAST: Final = b"spoolwright-at-least"
QUESTIONS: Final = frozenset(
    f"/v1/{name}"
    for name in (
        *("fits", "plans", "picklists"),
        *("why", "unknown", "weigh", "rank", "reach", "least", "keep-in-stock"),
    )
)
"""Addresses whose POST only asks, so that its answer may be given again."""

VARY: Final = b"Accept, Accept-Encoding, Authorization"
"""The fields of a request on which any answer hangs."""

KEPT_BYTES: Final = 64 * 1024 * 1024
ONE_MOST: Final = 2 * 1024 * 1024
"""Bytes of answers that are kept, and of one of them; a plan with its evidence has about half a megabyte."""

BODY_MOST: Final = 64 * 1024
"""Bytes of a question whose answer is kept."""


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer as it left."""

    headers: Headers
    body: bytes
    etag: bytes


class Answers:
    """The answers of one version, the least used thrown away first."""

    def __init__(self) -> None:
        self._version: tuple[str, ...] = ()
        self._kept: OrderedDict[tuple[object, ...], Answer] = OrderedDict()
        self._size = 0

    def forget(self) -> None:
        """Keep none of them."""
        self._kept.clear()
        self._size = 0

    def get(self, version: tuple[str, ...], key: tuple[object, ...]) -> Answer | None:
        """The answer given before for this version."""
        if version != self._version:
            self.forget()
            self._version = version
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
        return found

    def keep(self, version: tuple[str, ...], key: tuple[object, ...], answer: Answer) -> None:
        """Keep an answer, unless the version moved on while it was made."""
        if version != self._version or key in self._kept:
            return
        self._kept[key] = answer
        self._size += len(answer.body)
        while self._size > KEPT_BYTES:
            _, gone = self._kept.popitem(last=False)
            self._size -= len(gone.body)


class Conditions:
    """The layer itself; what is not under `/v1` passes through."""

    def __init__(
        self, app: ASGIApp, *, current: Current, addresses: Addresses, metrics: Metrics, answers: Answers
    ) -> None:
        self.app = app
        self._current = current
        self._addresses = addresses
        self._metrics = metrics
        self._answers = answers

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse what asks for a form or a version that there is not."""
        if scope["type"] != "http" or not scope["path"].startswith("/v1/"):
            await self.app(scope, receive, send)
            return
        given = dict(scope["headers"])
        asked = NONE
        try:
            address, form = self._form(scope, given)
            self._new_enough(given)
            if address is None and not self._addresses.methods(scope["path"]):
                raise self._nothing_at(scope["path"])
            if b"if-match" in given or b"if-none-match" in given:
                asked = preconditions(scope["headers"])
            if b"as-of=" in scope["query_string"]:
                scope = _as_of(scope)
                here = address is not None and not address.desks
                if scope["state"]["as_of"] and here and scope["method"] == "GET":
                    raise BadHeader("this address knows only what is now", fix="leave as-of out")
        except SpoolwrightError as error:
            await problems.of(error, self._headers(None))(scope, receive, send)
            return
        if form:
            mark = b"&" if scope["query_string"] else b""
            scope = {**scope, "query_string": scope["query_string"] + mark + b"format=" + form.encode()}
        scope.setdefault("state", {})["preconditions"] = asked
        await self._kept_or_made(scope, receive, send, given, address, asked)

    def _form(self, scope: Scope, given: dict[bytes, bytes]) -> tuple[Address | None, str]:
        """The address, and the form to ask the route for where the asker named none in the address itself."""
        accept, query = given.get(b"accept", b""), scope["query_string"]
        address = self._addresses.answering(scope["path"], scope["method"])
        if address is None or address.own_forms:
            return address, ""
        offered = address.forms[scope["method"]]
        plain = accept in (b"", b"*/*") or (accept == b"application/json" and "json" in offered)
        if plain and b"format=" not in query:
            return address, ""
        asked = next((text for name, text in parse_qsl(query.decode("latin-1")) if name == "format"), "")
        form = chosen(offered, accept.decode("latin-1"), asked)
        return address, form if not asked and form != next(iter(offered)) else ""

    def _nothing_at(self, path: str) -> SpoolwrightError:
        bare = path.rstrip("/")
        if bare != path and self._addresses.methods(bare):
            return NoSuchRoute(f"there is nothing at {path!r}", fix=f"ask for {bare}")
        return NoSuchRoute(f"there is nothing at {path!r}", fix="/v1/openapi.json lists the addresses")

    def _new_enough(self, given: dict[bytes, bytes]) -> None:
        asked = given.get(AT_LEAST)
        if asked is None:
            return
        if not asked.isdigit() or len(asked) > 18:
            raise BadHeader("Spoolwright-At-Least takes the number of a change set", fix="send a number")
        have = self._current.desk().snapshot.shelf
        if have < int(asked):
            raise Behind(f"this server has change set {have}, {int(asked)} was asked for", fix="ask again shortly")

    def _headers(self, snapshot: Snapshot | None) -> Headers:
        if snapshot is None:
            try:
                snapshot = self._current.desk().snapshot
            except SpoolwrightError:
                return []
        return [(SNAPSHOT, f'"{snapshot.catalogue}";shelf={snapshot.shelf}'.encode())]

    async def _kept_or_made(
        self,
        scope: Scope,
        receive: Receive,
        send: Send,
        given: dict[bytes, bytes],
        address: Address | None,
        asked: Preconditions,
    ) -> None:
        method, template = scope["method"], address.template if address else ""
        scope["state"]["address"] = template
        key: tuple[object, ...] | None = None
        version: tuple[str, ...] = ()
        body = b""
        length = given.get(b"content-length", b"")
        asks = method == "POST" and template in QUESTIONS and length and int(length) <= BODY_MOST
        if address and address.desks and (method == "GET" or asks):
            if method == "POST":
                body, receive = await _read(receive)
            gzip = b"gzip" in given.get(b"accept-encoding", b"")
            own = given.get(b"accept") if address.own_forms else None  # for others the form stands in the address
            said = (given.get(b"authorization"), given.get(b"content-type") if body else None, own)
            as_of = scope["state"].get("as_of", "")
            key = (method, scope["path"], scope.get("raw_path"), scope["query_string"], as_of, body, gzip, *said)
            version = (self._current.version(), date.today().isoformat())
            kept = self._answers.get(version, key)
            if kept is not None:
                self._metrics.again.inc()
                await _give(kept, asked if method == "GET" else NONE, send)
                return
        if scope["query_string"] and address and not address.own_forms:
            strange = _strange(scope["query_string"], address.taken[method])
            if strange is not None:
                strange.raw_headers.extend(self._headers(None))
                await strange(scope, receive, send)
                return
        taken = notes.begin()
        await self.app(scope, receive, _Collected(self, send, asked, taken, key, version, method, address))

    def finished(
        self, taken: notes.Notes, status: int, headers: Headers, body: bytes | None, named: bool
    ) -> tuple[Headers, bytes]:
        """The headers of an answer with what is known only now, and its ETag (empty: it has none).

        `named`: the clocks that were read name the answer.
        """
        names = {name.lower() for name, _ in headers}
        added = self._headers(taken.snapshot)
        etag = b""
        if status == 200:
            etag = dict(headers).get(b"etag", b"")
        if status == 200 and named:
            etag = etag or _etag(taken, dict(headers).get(b"content-type", b""), body)
            if etag and b"etag" not in names:
                added.append((b"etag", etag))
            if b"cache-control" not in names:
                added.append((b"cache-control", b"private, no-cache"))
        if b"vary" in names:  # a layer below packed the answer, and named only what that hangs on
            headers = [(name, _varying(text) if name.lower() == b"vary" else text) for name, text in headers]
        else:
            added.append((b"vary", VARY))
        return [*headers, *added], etag

    def keep(self, version: tuple[str, ...], key: tuple[object, ...], answer: Answer) -> None:
        """Keep an answer for the next who asks."""
        self._answers.keep(version, key, answer)


class _Collected:
    """Takes an answer from the application: completes its headers, answers 304, keeps what may be kept."""

    def __init__(
        self,
        layer: Conditions,
        send: Send,
        asked: Preconditions,
        taken: notes.Notes,
        key: tuple[object, ...] | None,
        version: tuple[str, ...],
        method: str,
        address: Address | None,
    ) -> None:
        self._layer, self._send, self._asked, self._taken = layer, send, asked, taken
        self._key, self._version, self._method, self._address = key, version, method, address
        self._start: Message | None = None
        self._silent = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self._start = message
            return
        if self._start is not None and message["type"] == "http.response.body":
            await self._begin(self._start, message)
            self._start = None
            return
        if not self._silent:
            await self._send(message)

    def _desks(self) -> bool:
        return self._method == "GET" and self._address is not None and self._address.desks

    def _retired(self) -> Headers:
        return self._address.retired.get(self._method, []) if self._address else []

    async def _begin(self, start: Message, message: Message) -> None:
        whole = message.get("body", b"") if not message.get("more_body") else None
        status = start["status"]
        headers, etag = self._layer.finished(
            self._taken, status, [*start.get("headers", ()), *self._retired()], whole, self._desks()
        )
        if whole is not None and status == 200 and self._key and self._taken.kept and len(whole) <= ONE_MOST:
            answer = Answer(headers, whole, etag)
            if b"no-store" not in dict(headers).get(b"cache-control", b""):
                self._layer.keep(self._version, self._key, answer)
        if self._method == "GET" and status == 200 and await _answered(self._asked, etag, headers, self._send):
            self._silent = True
            return
        await self._send({**start, "headers": headers})
        await self._send(message)


def _varying(said: bytes) -> bytes:
    """What was said of it and all else that an answer hangs on, each once."""
    names = [name.strip() for name in (VARY + b"," + said).split(b",")]
    return b", ".join(dict.fromkeys(names))


def _strange(query: bytes, taken: frozenset[str]) -> Response | None:
    """The refusal of names that the address does not take: a filter that is misspelled must not give all there is."""
    names = dict.fromkeys(name for name, _ in parse_qsl(query.decode("latin-1"), keep_blank_values=True))
    faults = [
        {"where": f"query.{name}", "why": "this address does not take it"}
        for name in names
        if name not in taken and name != "format"
    ]
    if not faults:
        return None
    takes = ", ".join(sorted(taken | {"format"}))
    return problems.problem(422, "bad-request", problems.UNREADABLE, fix=f"it takes {takes}", faults=faults)


def _as_of(scope: Scope) -> Scope:
    """The request without `as-of`, which the desk is asked for and not the route."""
    pairs = parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    scope["state"]["as_of"] = next((text for name, text in pairs if name == "as-of"), "")
    left = urlencode([(name, text) for name, text in pairs if name != "as-of"])
    return {**scope, "query_string": left.encode()}


def _etag(taken: notes.Notes, media: bytes, body: bytes | None) -> bytes:
    """Weak, from the clocks that were read: the same facts in other words. Strong, from the bytes, where none was."""
    if taken.snapshot is None:
        return b'"' + hashlib.sha256(body).hexdigest()[:32].encode() + b'"' if body is not None else b""
    clocks = [taken.snapshot.catalogue]
    if "shelf" in taken.clocks:
        clocks.append(str(taken.snapshot.shelf))
    if "day" in taken.clocks:
        clocks.append(date.today().isoformat())
    form = hashlib.sha256(media).hexdigest()[:8]
    return f'W/"{".".join(clocks)}.{form}"'.encode()


async def _answered(asked: Preconditions, etag: bytes, headers: Headers, send: Send) -> bool:
    """Whether the conditions of a reader answer the request, in the order of RFC 9110 section 13.2.2."""
    if not asked.matched(etag):
        refused = problems.of(Stale("what there is has another ETag than If-Match names", fix="ask without If-Match"))
        held = [(name, value) for name, value in headers if name.lower() in (b"etag", b"vary", SNAPSHOT)]
        start = {"type": "http.response.start", "status": refused.status_code}
        await send({**start, "headers": [*refused.raw_headers, *held]})
        await send({"type": "http.response.body", "body": refused.body})
        return True
    if not asked.unknown(etag):
        told = (b"etag", b"cache-control", b"vary", b"expires", b"date", b"content-location", SNAPSHOT)
        kept = [(name, value) for name, value in headers if name.lower() in told]
        await send({"type": "http.response.start", "status": 304, "headers": kept})
        await send({"type": "http.response.body", "body": b""})
        return True
    return False


async def _give(answer: Answer, asked: Preconditions, send: Send) -> None:
    if await _answered(asked, answer.etag, answer.headers, send):
        return
    await send({"type": "http.response.start", "status": 200, "headers": answer.headers})
    await send({"type": "http.response.body", "body": answer.body})


async def _read(receive: Receive) -> tuple[bytes, Receive]:
    """The whole body, and a `receive` that gives it once more."""
    pieces, more = [], True
    while more:
        message = await receive()
        if message["type"] != "http.request":
            break
        pieces.append(message.get("body", b""))
        more = message.get("more_body", False)
    body = b"".join(pieces)
    given = False

    async def again() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return body, again
