"""The questions that plan, answered into the bytes that leave: in the server's own process or in a worker's."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from pydantic import TypeAdapter

from api.current import Current
from api.depth.made import DEEP, deep
from api.forms import pick_bytes
from api.http.forms import MEDIA
from api.text.fits import fits_lines
from api.text.plan import answer_lines
from graph.desk import Desk
from graph.desk.measured import planned
from graph.model.codec import to_json
from graph.model.fits import FitsAnswer
from graph.model.plan import PlanAnswer
from graph.model.record import Snapshot
from graph.model.statement import canonical
from graph.model.things import PartAnswer
from graph.model.verdict import Proof
from graph.planning.saved import saved

FITS: Final = TypeAdapter(list[FitsAnswer])
PART: Final = TypeAdapter(PartAnswer)


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and the form of its answer. `kind`: fits, plan, pick or one of `DEEP`; `given` as the desk takes it.

    The form `bare` is a plan answer without its evidence.
    `as_of`: the change set or day whose desk is asked; empty: the newest.
    """

    kind: str
    given: dict[str, Any]
    form: str = "json"
    as_of: str = ""


@dataclass(frozen=True, slots=True)
class Made:
    """An answer as it leaves. `settled`: no limit of time stopped it, so it will be the same again."""

    body: bytes
    media: str
    snapshot: Snapshot
    settled: bool = True
    headers: dict[str, str] = field(default_factory=dict)


def answer(current: Current, asked: Asked) -> Made:
    """Answer one question.

    Raises
    ------
    SpoolwrightError
        As the desk.
    """
    desk = current.desk_at(asked.as_of) if asked.as_of else current.desk()
    if asked.kind == "fits":
        return fits_made(desk, desk.fits(**asked.given), asked.form)
    if asked.kind == "pick":
        body, headers = pick_bytes(desk.pick(**asked.given), asked.form)
        return Made(body, _media(asked.form), desk.snapshot, headers=headers)
    if asked.kind in DEEP:
        body, sure = deep(desk, asked.kind, asked.given, asked.form)
        return Made(body, _media(asked.form), desk.snapshot, sure)
    found = planned(desk, **asked.given)
    if asked.form == "text":
        body = _lines(answer_lines(found))
    elif asked.form == "bare":
        body = canonical(to_json(replace(found, bundle=None))).encode()
    else:
        body = saved(found)
    return Made(body, _media(asked.form), desk.snapshot, _settled(found))


def fits_made(desk: Desk, answers: Sequence[FitsAnswer], form: str) -> Made:
    """Answers to *does it fit?* in one form."""
    if form == "text":
        body = _lines([line for one in answers for line in (*fits_lines(one), "")][:-1])
    else:
        body = FITS.dump_json(list(answers))
    return Made(body, _media(form), desk.snapshot)


def _settled(found: PlanAnswer) -> bool:
    return found.proof in (Proof.CHEAPEST, Proof.BEST, Proof.IMPOSSIBLE)


def _media(form: str) -> str:
    if form == "bare":
        return MEDIA["json"]
    return MEDIA[form] + ("; charset=utf-8" if MEDIA[form].startswith("text/") else "")


def _lines(lines: Sequence[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode()
