"""Changes before they are published: files sent, looked at, put right, published or given up.

What is sent is kept on the server as a change set in the making, with an address of its own that a reload, another
browser or another person finds again.
"""

import hashlib
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import RedirectResponse
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from api.current import CurrentDesk
from api.http.shell import MAX_BODY
from api.pages import guard, preview, twice
from api.pages.asking import address
from api.pages.frame import Text, _, form_of, page, trouble
from api.pages.uploads import TAKEN, Part, Sent, parts_of
from api.tables import table_csv
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.desk.touching import Effect
from graph.desk.watching import summary
from graph.errors import BadQuestion, Conflict, FindingsInTheWay, SpoolwrightError, Stale
from graph.ledger.chain import ChangeSet
from graph.ledger.staging import BYTES_MOST, Staging
from graph.model.codec import to_json
from graph.model.finding import Finding
from graph.model.verdict import Verdict
from graph.model.watch import Question

router = APIRouter()
At = Annotated[int, Query(ge=1, le=100_000)]
ROWS_A_PAGE: Final = 100
FINDINGS_A_PAGE: Final = 50
LAST: Final = 5
"""Published change sets on the first page."""

NOUNS: Final = {"fits": "swap answer", "plan": "plan answer", "part": "stock answer"}


def limits() -> dict[str, Any]:
    """What a form for files says of itself."""
    return {"body_most": MAX_BODY >> 20, "change_most": BYTES_MOST >> 20, "taken_files": TAKEN}


@router.get("/changes")
def changes(request: Request, desk: CurrentDesk) -> Response:
    """A form for files, and what waits to be published."""
    return _start(request, desk, {}, [], [])


def _start(
    request: Request, desk: Desk, filled: dict[str, str], faults: list[str], findings: list[Finding]
) -> Response:
    waiting = Staging(request.app.state.current.store().ledger).all("open")
    history = [change for change in desk.history() if change.n <= desk.snapshot.shelf]
    return page(
        request,
        desk,
        "changes.html",
        status=422 if faults or findings else 200,
        posting=True,
        filled=filled,
        faults=faults,
        findings=findings,
        waiting=waiting,
        last=history[:LAST],
        published=len(history),
        once=twice.mark(),
        **limits(),
    )


@router.post("/changes")
async def begin(request: Request, desk: CurrentDesk) -> Response:
    """Keep the files that were sent as a change set in the making, and show what it would do."""
    form, files, digest = await _sent(request)

    def work() -> Response:
        parts, findings = parts_of(files)
        if findings:
            return _start(request, desk, form, [], findings)
        try:
            author = guard.writer(request, form, "edit")
            if not parts:
                raise BadQuestion(_("no file was sent"), fix=_("choose one or several files"))
            title = form.get("title", "").strip() or ", ".join(one.name for one in files)
            return twice.once(request, form, lambda: stage(request, parts, title, author), files=digest)
        except SpoolwrightError as error:
            return _start(request, desk, form, [said(error)], [])

    return await run_in_threadpool(work)


def said(error: SpoolwrightError) -> str:
    """An error in one line, with what to do."""
    return f"{error.message}. {error.fix}".strip(". ")


async def _sent(request: Request) -> tuple[dict[str, str], list[Sent], bytes]:
    """The form's texts, its files, and a digest of the files."""
    async with request.form() as form:  # closes the files
        pairs = form.multi_items()
        files = [
            Sent(value.filename, await value.read())
            for _name, value in pairs
            if isinstance(value, UploadFile) and value.filename
        ]
    digest = hashlib.sha256()
    for one in files:
        digest.update(one.name.encode() + b"\0" + hashlib.sha256(one.data).digest())
    return form_of(pairs), files, digest.digest()


def stage(request: Request, parts: list[Part], title: str, author: str) -> str:
    """Begin a change set with these items; its address."""
    staging = Staging(request.app.state.current.store().ledger)
    made = staging.make(title[:200], by=author, time=now())
    for part in parts:
        staging.add(made.id, part.form, part.name, part.data, by=author, time=now())
    return f"/changes/{made.id}"


@router.get("/changes/{change}")
def look(
    request: Request, desk: CurrentDesk, change: str, aside: Text = "", rows: At = 1, faults: At = 1
) -> Response:
    """What is in a change set in the making, what is wrong with it, and what it would do."""
    return _shown(request, desk, change, aside=aside == "yes", rows=rows, faults=faults)


def _shown(
    request: Request,
    desk: Desk,
    change: str,
    *,
    aside: bool,
    rows: int = 1,
    faults: int = 1,
    filled: dict[str, str] | None = None,
    said_of: list[str] | None = None,
    since: tuple[ChangeSet, ...] = (),
    status: int = 200,
) -> Response:
    store = request.app.state.current.store()
    try:
        staged = Staging(store.ledger).get(change)
        if staged.state != "open":
            return page(request, desk, "change.html", staged=staged, seen=None)
        seen = preview.of_staged(desk, store, change, staged.version, aside=aside)
    except SpoolwrightError as error:
        return trouble(request, desk, error)

    def href(**other: object) -> str:
        told = {"aside": "yes" if aside else "", "rows": rows if rows > 1 else "", **other}
        return address(f"/changes/{change}", **{k: str(v) for k, v in told.items() if v})

    return page(
        request,
        desk,
        "change.html",
        status=status,
        posting=True,
        staged=staged,
        seen=seen,
        aside=aside,
        head=desk.snapshot.shelf,
        filled=filled or {"title": staged.title},
        faults=said_of or [],
        since=since,
        once=twice.mark(),
        href=href,
        **told_of(seen, rows),
        **paged("finding", seen.findings, faults, FINDINGS_A_PAGE),
        **limits(),
    )


def told_of(seen: preview.Preview, rows: int) -> dict[str, Any]:
    """What the templates need to show rows and answers: a page of rows, answers in words, their links."""
    return {
        **paged("row", seen.rows.lines if seen.rows else (), rows, ROWS_A_PAGE),
        "summary": answers_in_words(seen.effect) if seen.effect else [],
        "question_href": question_href,
        "question_text": question_text,
        "verdict_of": {verdict.value: verdict for verdict in Verdict}.get,
    }


def paged(name: str, items: tuple[Any, ...], at: int, size: int) -> dict[str, Any]:
    """One page of a list, with its number, how many there are, and which items it has."""
    last = max(1, -(-len(items) // size))
    at = min(at, last)
    return {
        f"{name}s_shown": items[(at - 1) * size : at * size],
        f"{name}_page": at,
        f"{name}_pages": last,
        f"{name}_first": (at - 1) * size + 1,
        f"{name}_last": min(at * size, len(items)),
    }


def answers_in_words(effect: Effect) -> list[str]:
    """How many answers turn from what to what, by sort of question."""
    lines: list[str] = []
    for kind, noun in NOUNS.items():
        turns = [one.turned for one in effect.asked if one.question.kind == kind]
        lines += summary(turns, noun) if turns else []
    return lines


def question_text(question: Question) -> str:
    """What is asked, in names."""
    first, second = (question.unit or question.core), (question.part or question.build)
    named_ = [first, second, question.seat, question.engine]
    return ", ".join(text for text in named_ if text)


def question_href(question: Question) -> str:
    """Where a question is answered."""
    if question.kind == "fits" and question.engine:
        return address("/fits", unit=question.unit, engine=question.engine)
    if question.kind == "plan":
        return address("/plan", core=question.core, build=question.build, engine=question.engine)
    return address("/thing", name=question.part)


@router.get("/changes/{change}/findings.csv")
def findings(request: Request, desk: CurrentDesk, change: str, aside: Text = "") -> Response:
    """All findings as a table, to be worked through beside the workbook."""
    store = request.app.state.current.store()
    try:
        staged = Staging(store.ledger).get(change)
        found = preview.of_staged(desk, store, change, staged.version, aside=aside == "yes").findings
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    columns = ("severity", "file", "sheet", "row", "column", "found", "why", "mend", "code")
    rows = [{**to_json(f), **to_json(f.origin)} for f in found]
    name = f'attachment; filename="findings-{change}.csv"'
    return Response(table_csv(columns, rows), media_type="text/csv", headers={"Content-Disposition": name})


@router.post("/changes/{change}/edit")
async def edit(request: Request, desk: CurrentDesk, change: str) -> Response:
    """Add files, take an item out, or give the whole change up; `do` says which."""
    form, files, digest = await _sent(request)

    def work() -> Response:
        staging = Staging(request.app.state.current.store().ledger)
        try:
            author = guard.writer(request, form, "edit")
            what, _space, number = form.get("do", "").partition(" ")
            parts, found = parts_of(files, [item.name for item in staging.get(change).items])
            if found:
                raise BadQuestion("; ".join(guard.told(found)))

            def act() -> str:
                if what == "drop":
                    staging.drop(change, by=author, time=now())
                elif what == "remove":
                    staging.remove(change, int(number) if number.isdigit() else 0)
                elif not parts:
                    raise BadQuestion(_("no file was sent"), fix=_("choose one or several files"))
                for part in parts if what == "add" else ():
                    staging.add(change, part.form, part.name, part.data, by=author, time=now())
                return f"/changes/{change}"

            return twice.once(request, form, act, files=digest)
        except SpoolwrightError as error:
            return _shown(request, desk, change, aside=False, said_of=[said(error)], status=error.status_hint)

    return await run_in_threadpool(work)


@router.post("/changes/{change}/publish")
async def publish(request: Request, desk: CurrentDesk, change: str) -> Response:
    """Publish what was looked at, if nothing came in between; else show what did, and the change anew."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        store = request.app.state.current.store()
        aside = form.get("aside") == "yes"

        def again(text: str, status: int, since: tuple[ChangeSet, ...] = ()) -> Response:
            fresh = request.app.state.current.desk()
            return _shown(
                request, fresh, change, aside=aside, filled=form, said_of=[text], since=since, status=status
            )

        def act() -> str:
            done = writer.commit_staged(
                store,
                change,
                whole(form.get("version", "")),
                head=whole(form.get("head", "")),
                author=author,
                time=now(),
                title=form.get("title", "").strip()[:200],
                set_aside=aside,
            )
            return address(f"/history/{done.change_set.n}", done="yes") if done.change_set else f"/changes/{change}"

        try:
            author = guard.writer(request, form, "sign-off")
            return twice.once(request, form, act)
        except Stale:
            with store.ledger.reading() as reading:
                since = tuple(reading.history(whole(form.get("head", ""))))
            return again(_("nothing was published: the record moved on since this was looked at"), 409, since)
        except FindingsInTheWay as error:
            return again(said(error), 422)
        except Conflict:
            return RedirectResponse(f"/changes/{change}", 303)
        except SpoolwrightError as error:
            return again(said(error), error.status_hint)

    return await run_in_threadpool(work)


def whole(text: str) -> int:
    """A version that a form carries.

    Raises
    ------
    BadQuestion
        It carries none.
    """
    if not text.isascii() or not text.isdigit() or len(text) > 15:
        raise BadQuestion(_("this form is incomplete; nothing was written"), fix=_("open the page again and send it"))
    return int(text)
