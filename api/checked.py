"""What a check of a change set in the making finds: faults, rows that come and go, answers that turn."""

from contextlib import ExitStack
from typing import Final

from pydantic import Field

from api.current import today
from api.schemas import Asked
from api.writing import now
from graph import publish as writer
from graph.desk import Desk, within
from graph.desk.touching import Effect, effect
from graph.desk.watching import summary
from graph.index.store import Store
from graph.ledger.reading import Difference
from graph.ledger.staging import Staging
from graph.ledger.watches import Watches
from graph.model.finding import Finding
from graph.model.watch import Turned

SHOWN: Final = 1_000
"""Rows that come or go that one check shows; all are counted."""


class Shift(Asked):
    """Rows that come (`+`) and go (`-`): those that go first, each in the order in which they were written."""

    come: int
    go: int
    rows: list[Difference]
    truncated: bool = Field(description=f"there are more than the {SHOWN} shown")


class ChangeCheck(Asked):
    """What a check found. `head` and `version`: what it was made on, for the commit.

    `questions`: every watched question that was asked, before and after, and `summary` in words how their answers
    turn. `swaps`: whether the turbochargers that the change touches fit, where that turns; `swap_summary` of all that
    were asked. `left`: questions for which there was no time; `more`: it touches more swaps than are looked at.
    """

    version: int
    head: int
    faulty: bool
    findings: list[Finding]
    rows: int
    counts: dict[str, int]
    shift: Shift | None = Field(default=None, description="empty where faults stand in the way, or nothing was asked")
    summary: list[str]
    questions: list[Turned]
    swap_summary: list[str] = Field(default_factory=list)
    swaps: list[Turned] = Field(default_factory=list)
    left: int = 0
    more: bool = False


def checked(store: Store, change: str, *, set_aside: bool, questions: bool, seconds: float) -> ChangeCheck:
    """Look at a change set in the making; nothing is published.

    `questions`: also at what it would turn, for so many seconds.

    Raises
    ------
    NotFound, Conflict
        There is no such change, or it is committed or dropped.
    """
    staged = Staging(store.ledger).get(change)
    with store.ledger.reading() as reading:
        head = reading.head().n
    with ExitStack() as stack:
        report, spool = writer.check_staged(store, change, stack, staged.version, set_aside=set_aside)
        in_the_way = report.faulty and (not set_aside or report.whole)
        found = ChangeCheck(
            version=staged.version,
            head=head,
            faulty=in_the_way,
            findings=list(report.findings),
            rows=report.rows,
            counts=dict(report.counts),
            summary=["Nothing was asked: faults come first." if in_the_way else "Nothing was asked."],
            questions=[],
        )
        if in_the_way or not questions:
            return found
        shift, turns = _tried(store, spool, seconds)
    asked = {kept: [one.turned for one in turns.asked if one.kept is kept] for kept in (True, False)}
    return found.model_copy(
        update={
            "shift": shift,
            "summary": summary(asked[True]),
            "questions": asked[True],
            "swap_summary": summary(asked[False], "swap") if asked[False] else [],
            "swaps": [one for one in asked[False] if one.turned],
            "left": turns.left,
            "more": turns.more,
        }
    )


def _tried(store: Store, spool: writer.Spool, seconds: float) -> tuple[Shift, Effect]:
    with writer.tried(store, spool.changes(), time=now()) as (after, done):
        rows: list[Difference] = []
        if done.change_set is not None:
            with after.ledger.reading() as reading:
                rows = list(reading.diff(done.change_set.n - 1, done.change_set.n))
        turns = effect(
            Desk.over(store),
            Desk.over(after),
            Watches(store.ledger).all(),
            (one.statement for one in rows),
            day=today(),
            stop=within(seconds),
        )
    come = sum(one.op == "+" for one in rows)
    return Shift(come=come, go=len(rows) - come, rows=rows[:SHOWN], truncated=len(rows) > SHOWN), turns
