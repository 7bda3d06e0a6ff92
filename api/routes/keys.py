"""`/v1`: keys of callers, and who did what beside writing change sets."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request, Response
from pydantic import Field

from api import access
from api.current import CurrentStore
from api.http.paging import cut, linked, numbered
from api.schemas import Asked, Name
from api.writing import WRITE_PROBLEMS, AdminWrite, WriteRoute, now, unkept
from graph.ledger.audit import Act, acts
from graph.ledger.keys import Key, Keys

router = APIRouter(
    prefix="/v1", tags=["keys"], responses=WRITE_PROBLEMS, route_class=WriteRoute, dependencies=[Depends(unkept)]
)
Admin = Annotated[access.Caller, Depends(access.Needs("admin"))]


class KeyAsked(Asked):
    """A key for somebody: the name signs whatever is written with it. Made by the key that asks, or `author`."""

    name: Name
    scopes: list[Name] = Field(min_length=1, max_length=6, description="read, stock, bench, edit, sign-off, admin")
    author: str = Field("", max_length=200)


class KeyMade(Asked):
    """The key. `secret` is told this once: a retry whose answer got lost finds it empty; renew or revoke it then."""

    key: Key
    secret: str


@router.get("/keys")
def list_keys(store: CurrentStore, _admin: Admin) -> list[Key]:
    """All keys, revoked ones too, by name; no secrets."""
    return list(Keys(store.ledger).all())


@router.post("/keys", status_code=201)
def make_key(asked: KeyAsked, request: Request, store: CurrentStore, write: AdminWrite) -> KeyMade:
    """Make a key; its secret is in this answer and nowhere else."""
    write.secret = True
    keys, author = Keys(store.ledger), write.author(asked.author)
    made = write.once(lambda: keys.make(asked.name, tuple(asked.scopes), by=author, time=now()))
    access.door(request).made_one()
    if made is None:
        return KeyMade(key=next(k for k in keys.all() if k.name == asked.name.strip()), secret="")
    return KeyMade(key=made[0], secret=made[1])


@router.post("/keys/{key}/secret")
def renew_key(
    key: str, request: Request, store: CurrentStore, write: AdminWrite, author: Annotated[str, Query()] = ""
) -> KeyMade:
    """Give a key a new secret, in this answer and nowhere else; the one before opens nothing from now on."""
    write.secret = True
    by, keys = write.author(author), Keys(store.ledger)
    made = write.once(lambda: keys.renew(key, by=by, time=now()))
    access.door(request).forget()
    if made is None:
        return KeyMade(key=next(k for k in keys.all() if k.id == key), secret="")
    return KeyMade(key=made[0], secret=made[1])


@router.delete("/keys/{key}")
def revoke_key(
    key: str, request: Request, store: CurrentStore, write: AdminWrite, author: Annotated[str, Query()] = ""
) -> Key:
    """Let a key open nothing any more; it stays on record."""
    by = write.author(author)
    write.once(lambda: Keys(store.ledger).revoke(key, by=by, time=now()))
    access.door(request).forget()
    return next(k for k in Keys(store.ledger).all() if k.id == key)


class Acts(Asked):
    """What somebody did beside writing change sets, newest first; `truncated`: there is more, at `next`."""

    acts: list[Act]
    truncated: bool
    next: str = Field("", description="Address of the next page; empty on the last one")


@router.get("/audit")
def audit(
    request: Request,
    response: Response,
    store: CurrentStore,
    _admin: Admin,
    before: Annotated[int, Query(ge=0, le=2**31 - 1, description="Acts before this number; 0: the newest")] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 100,
) -> Acts:
    """Who made and revoked keys, hooks and staged changes, newest first; change sets name their author themselves."""
    shown, truncated = cut(acts(store.ledger, before, limit + 1), limit)
    next_ = numbered(request, shown[-1].at, "before") if truncated else ""
    linked(request, response, next_, "before")
    return Acts(acts=list(shown), truncated=truncated, next=next_)
