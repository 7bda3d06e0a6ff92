"""What was published: every change set with its rows, and taking one back after a look at what that would do."""

from typing import Annotated, Final

from fastapi import APIRouter, Path, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from api.current import CurrentDesk
from api.pages import guard, preview, twice
from api.pages.asking import address
from api.pages.changes import paged, said, told_of, whole
from api.pages.frame import Text, _, form_of, page, trouble
from api.writing import now
from graph import publish as writer
from graph.desk import Desk
from graph.errors import NotFound, SpoolwrightError, Stale
from graph.ledger.chain import ChangeSet

router = APIRouter()
Number = Annotated[int, Path(ge=1, le=2**31 - 1)]
At = Annotated[int, Query(ge=1, le=100_000)]
SETS_A_PAGE: Final = 50


@router.get("/history")
def history(request: Request, desk: CurrentDesk, sets: At = 1) -> Response:
    """All change sets, newest first."""
    made = tuple(change for change in desk.history() if change.n <= desk.snapshot.shelf)

    def href(sets: int) -> str:
        return address("/history", sets=str(sets))

    return page(request, desk, "history.html", total=len(made), href=href, **paged("set", made, sets, SETS_A_PAGE))


@router.get("/history/{n}")
def change_set(request: Request, desk: CurrentDesk, n: Number, rows: At = 1, done: Text = "") -> Response:
    """One change set: who, when, why, and every row that came, went or changed."""
    try:
        made, later = _found(desk, n)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    found = preview.rows_of(desk.diff(n - 1, n)) if made.count <= preview.ROWS_MOST else None
    seen = preview.Preview((), made.count, 0, False, found, None)
    return page(
        request,
        desk,
        "changeset.html",
        made=made,
        seen=seen,
        done=done == "yes",
        later=later,
        href=lambda **other: address(f"/history/{n}", **{k: str(v) for k, v in other.items()}),
        **told_of(seen, rows),
    )


def _found(desk: Desk, n: int) -> tuple[ChangeSet, ChangeSet | None]:
    """The change set, and the one that took it back."""
    made = {change.n: change for change in desk.history() if n <= change.n <= desk.snapshot.shelf}
    if n not in made:
        raise NotFound(f"there is no change set {n}", fix=_("the history lists them"))
    later = [made[m] for m in sorted(made) if made[m].title == f"undo of {n}"]
    return made[n], later[-1] if later else None


@router.get("/history/{n}/undo")
def look(request: Request, desk: CurrentDesk, n: Number, rows: At = 1) -> Response:
    """What taking it back would do."""
    return _shown(request, desk, n, rows=rows)


def _shown(
    request: Request,
    desk: Desk,
    n: int,
    *,
    rows: int = 1,
    filled: dict[str, str] | None = None,
    faults: tuple[str, ...] = (),
    since: tuple[ChangeSet, ...] = (),
    status: int = 200,
) -> Response:
    try:
        made, _later = _found(desk, n)
        seen = preview.of_undo(desk, request.app.state.current.store(), n)
    except SpoolwrightError as error:
        return trouble(request, desk, error)
    return page(
        request,
        desk,
        "undo.html",
        status=status,
        posting=True,
        made=made,
        seen=seen,
        head=desk.snapshot.shelf,
        filled=filled or {},
        faults=faults,
        since=since,
        once=twice.mark(),
        href=lambda **other: address(f"/history/{n}/undo", **{k: str(v) for k, v in other.items()}),
        **told_of(seen, rows),
    )


@router.post("/history/{n}/undo")
async def undo(request: Request, desk: CurrentDesk, n: Number) -> Response:
    """Take it back by a new change set, if nothing came in between."""
    form = form_of((await request.form()).multi_items())

    def work() -> Response:
        store = request.app.state.current.store()

        def again(text: str, status: int, since: tuple[ChangeSet, ...] = ()) -> Response:
            fresh = request.app.state.current.desk()
            return _shown(request, fresh, n, filled=form, faults=(text,), since=since, status=status)

        def act() -> str:
            done = writer.undo(store, n, author=author, time=now(), head=whole(form.get("head", "")))
            return address(f"/history/{done.change_set.n if done.change_set else n}", done="yes")

        try:
            author = guard.writer(request, form, "sign-off")
            return twice.once(request, form, act)
        except Stale:
            with store.ledger.reading() as reading:
                since = tuple(reading.history(whole(form.get("head", ""))))
            return again(_("nothing was taken back: the record moved on since this was looked at"), 409, since)
        except SpoolwrightError as error:
            return again(said(error), error.status_hint)

    return await run_in_threadpool(work)
