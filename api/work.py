"""The questions that plan, answered into the bytes that leave: in the server's own process or in a worker's."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from pydantic import TypeAdapter

from api.forms import pick_bytes
from api.http.forms import MEDIA
from api.text.fits import fits_lines
from api.text.plan import answer_lines
from graph.desk import Desk
from graph.model.fits import FitsAnswer
from graph.model.plan import PlanAnswer
from graph.model.record import Snapshot
from graph.model.verdict import Proof
from graph.planning.saved import saved

FITS: Final = TypeAdapter(list[FitsAnswer])


@dataclass(frozen=True, slots=True)
class Asked:
    """A question and the form of its answer. `kind`: fits, plan or pick; `given` as the desk's method takes it."""

    kind: str
    given: dict[str, Any]
    form: str = "json"


@dataclass(frozen=True, slots=True)
class Made:
    """An answer as it leaves. `settled`: no limit of time stopped it, so it will be the same again."""

    body: bytes
    media: str
    snapshot: Snapshot
    settled: bool = True
    headers: dict[str, str] = field(default_factory=dict)


def answer(desk: Desk, asked: Asked) -> Made:
    """Answer one question.

    Raises
    ------
    SpoolwrightError
        As the desk.
    """
    if asked.kind == "fits":
        return fits_made(desk, desk.fits(**asked.given), asked.form)
    if asked.kind == "pick":
        body, headers = pick_bytes(desk.pick(**asked.given), asked.form)
        return Made(body, _media(asked.form), desk.snapshot, headers=headers)
    found = desk.plan(**asked.given)
    body = _lines(answer_lines(found)) if asked.form == "text" else saved(found)
    return Made(body, _media(asked.form), desk.snapshot, _settled(found))


def fits_made(desk: Desk, answers: Sequence[FitsAnswer], form: str) -> Made:
    """Answers to *does it fit?* in one form."""
    if form == "text":
        body = _lines([line for one in answers for line in (*fits_lines(one), "")][:-1])
    else:
        body = FITS.dump_json(list(answers))
    return Made(body, _media(form), desk.snapshot)


def _settled(found: PlanAnswer) -> bool:
    return found.proof in (Proof.CHEAPEST, Proof.IMPOSSIBLE)


def _media(form: str) -> str:
    return MEDIA[form] + ("; charset=utf-8" if MEDIA[form].startswith("text/") else "")


def _lines(lines: Sequence[str]) -> bytes:
    return ("\n".join(lines) + "\n").encode()
