"""The question line and where it leads, and all that is known of one thing."""

from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from api.current import CurrentDesk, today
from api.pages import twice
from api.pages.frame import Text, page, trouble
from api.picture.neighbours import neighbours_svg
from api.words import named
from demo_graph.tours import TOURS
from graph.desk import Desk, machines, search
from graph.desk.machines import MachineAnswer
from graph.desk.search import Guess
from graph.errors import SpoolwrightError
from graph.model.shown import ShownLink

router = APIRouter()


def address(path: str, **query: str) -> str:
    """A path of ours with what is not empty of the query."""
    told = urlencode({name: text for name, text in query.items() if text})
    return path + (f"?{told}" if told else "")


def thing_href(kind: str, key: str, name: str) -> str:
    """Where a thing has its page."""
    if kind == "core":
        return address(f"/core/{name}") if "/" not in name else address("/thing", name=name)
    called = named(key)
    return address("/thing", name=called or name)


@router.get("/")
def home(request: Request, desk: CurrentDesk) -> HTMLResponse:
    """One line to ask, and the three sentences to fill."""
    tours = (
        [{"href": tour.page, "text": tour.text} for tour in TOURS.values() if tour.page]
        if request.app.state.demo
        else []
    )
    return page(request, desk, "home.html", tours=tours)


@router.get("/ask")
def ask(request: Request, desk: CurrentDesk, q: Text = "") -> Response:
    """What was typed, led to its own address where it is sure, else what it may mean."""
    if not q.strip():
        return RedirectResponse("/", 303)
    said = search.sentence(q)
    try:
        if said is not None:
            led = _led(desk, said)
            return led if led is not None else _unsure(request, desk, q, said)
        found = machines.machine(desk, q)
        if found is not None:
            return RedirectResponse(address("/machine", q=q), 303)
        hits = search.guesses(desk, q)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    sure = [hit for hit in hits if hit.sure]
    if len(sure) == 1:
        return RedirectResponse(thing_href(sure[0].kind, sure[0].key, sure[0].name), 303)
    pair = _pair(desk, q)
    if pair:
        return RedirectResponse(pair, 303)
    return page(request, desk, "ask.html", q=q, hits=_shown(hits), said=None, slots=())


def _led(desk: Desk, said: search.Sentence) -> Response | None:
    if said.kind == "what":
        words = said.words[0] if said.words else ""
        if not words:
            return RedirectResponse("/identify", 303)
        return RedirectResponse(address("/ask", q=words), 303)
    if said.kind == "fits":
        unit = _one(desk, said.words[0], ("unit",))
        engine = _engine(desk, said.words[1])
        if unit and engine:
            return RedirectResponse(address("/fits", unit=unit, engine=engine, both="yes"), 303)
        return None
    core, build = _one(desk, said.words[0], ("core",)), _one(desk, said.words[1], ("build",))
    engine = _engine(desk, said.words[2]) if said.words[2] else ""
    if core and build and (engine or not said.words[2]):
        return RedirectResponse(address("/plan", core=core, build=build, engine=engine, best="5"), 303)
    return None


def _one(desk: Desk, text: str, kinds: tuple[str, ...]) -> str:
    sure = [hit for hit in search.guesses(desk, text, kinds=kinds) if hit.sure]
    return _name(sure[0]) if len(sure) == 1 else ""


def _name(hit: Guess) -> str:
    return hit.name if hit.kind in ("core", "build") else named(hit.key)


def _engine(desk: Desk, text: str) -> str:
    """The engine itself, or the one engine that a machine with its year or serial had."""
    sure = _one(desk, text, ("engine",))
    if sure:
        return sure
    found = machines.machine(desk, text)
    if found is None or len(found.engines) != 1 or found.unread or found.doubt:
        return ""
    return named(found.engines[0].key)


def _unsure(request: Request, desk: Desk, q: str, said: search.Sentence) -> HTMLResponse:
    """The sentence with what each of its words may mean."""
    wanted = {"fits": ("unit", "engine"), "turn": ("core", "build", "engine")}[said.kind]
    slots = []
    for name, text in zip(wanted, said.words, strict=False):
        found = machines.machine(desk, text) if name == "engine" and text else None
        hits = search.guesses(desk, text, kinds=(name,), most=6) if text else ()
        sure = [hit for hit in hits if hit.sure]
        slots.append(
            {
                "name": name,
                "text": text,
                "hits": [{"name": _name(h), "title": h.title, "why": h.why} for h in (sure or hits)],
                "machine": address("/machine", q=text) if found else "",
                "engines": [{"name": named(e.key), "title": e.title, "why": ""} for e in found.engines]
                if found
                else [],
            }
        )
    return page(
        request,
        desk,
        "ask.html",
        q=q,
        hits=(),
        said=said,
        slots=slots,
        path="/fits" if said.kind == "fits" else "/plan",
    )


def _pair(desk: Desk, text: str) -> str:
    """A turbocharger and an engine ask whether it fits; a core and a build, what it takes."""
    words = text.split()
    for at in range(1, len(words)):
        left, right = " ".join(words[:at]), " ".join(words[at:])
        for one, other in ((left, right), (right, left)):
            unit = _one(desk, one, ("unit",))
            engine = _engine(desk, other) if unit else ""
            if unit and engine:
                return address("/fits", unit=unit, engine=engine, both="yes")
            core = _one(desk, one, ("core",))
            build = _one(desk, other, ("build",)) if core else ""
            if core and build:
                return address("/plan", core=core, build=build, best="5")
    return ""


def _shown(hits: tuple[Guess, ...]) -> list[dict[str, str]]:
    return [{"href": thing_href(h.kind, h.key, h.name), "title": h.title, "kind": h.kind, "why": h.why} for h in hits]


@router.get("/machine")
def machine(request: Request, desk: CurrentDesk, q: Text = "") -> HTMLResponse:
    """Which engine this machine has; where several are possible, what decides."""
    found = machines.machine(desk, q)
    if found is None:
        hits = search.guesses(desk, q, kinds=("machine",))
        return page(request, desk, "ask.html", q=q, hits=_shown(hits), said=None, slots=())
    return page(request, desk, "machine.html", q=q, found=found, keep=_machine_label(found), called=named)


def _machine_label(found: MachineAnswer) -> str:
    return " ".join(text for text in (found.title, found.year, found.serial) if text)


@router.get("/thing")
def thing(request: Request, desk: CurrentDesk, name: Text = "", as_of: Text = "") -> HTMLResponse:
    """All that is known of one thing, with a picture of what it is joined to; each neighbour leads on."""
    return thing_page(request, desk, name, as_of or today(), {}, [])


def thing_page(
    request: Request, desk: Desk, name: str, day: str, filled: dict[str, str], findings: list[str]
) -> HTMLResponse:
    """The page of one thing, with a claim that was filled in and what is wrong with it."""
    try:
        shown = desk.show(name, day=day)
    except SpoolwrightError as error:
        hits = search.guesses(desk, name)
        if error.status_hint == 404 and hits:
            return page(request, desk, "ask.html", status=404, q=name, hits=_shown(hits), said=None, slots=())
        return trouble(request, desk, error)

    def href(link: ShownLink) -> str:
        kind = link.key.partition("/")[0]
        if kind not in ("part", "unit", "engine", "machine", "core", "build") or link.key == "part/not identified":
            return ""
        return thing_href(kind, link.key, named(link.key))

    kind = shown.kind.partition(" ")[0]
    return page(
        request,
        desk,
        "thing.html",
        shown=shown,
        kind=kind,
        called=named(shown.key),
        href=href,
        picture=neighbours_svg(shown, href),
        day=day,
        keep=shown.title,
        status=422 if findings else 200,
        posting=True,
        claimable=shown.key.partition("/")[0] in ("part", "unit", "engine"),
        features=sorted(desk.catalogue.features, key=lambda f: f.label.casefold()),
        sources_on_record=desk.catalogue.sources,
        filled=filled,
        findings=findings,
        once=twice.mark(),
    )
