"""The yard's questions at the desk: the day's jobs against the shelf, what is promised to whom, and interchange."""

import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from graph.desk import names
from graph.desk.desk import CHECK_SECONDS, Desk, within
from graph.desk.joblist import jobs_of
from graph.desk.promised import promised
from graph.errors import AnswerRefused, BadQuestion
from graph.index.gather import plan_bundle
from graph.interchange import interchange, report
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.interchange import InterchangeAnswer, InterchangeReport
from graph.model.statement import Evidence, Statement
from graph.model.yard import Job, Promise, RushAnswer, ShelfAnswer, ShelfQuestion
from graph.planning.check import check
from graph.shelf import plan_rush, plan_shelf
from graph.shelf.check import objections

SHELF_SECONDS = 60.0
"""How long the search for an allocation may take."""


class Yard:
    """The desk with the questions that look at the whole shelf, or at all parts of a seat."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk

    def jobs(self, data: bytes, file: str = "jobs") -> tuple[Job, ...]:
        """The jobs of a list in CSV.

        Raises
        ------
        BadFile, BadQuestion
            It is no such list, or rows have faults; all are named.
        """
        return jobs_of(self.desk.catalogue, self.desk.shelf, data, file)

    def promised(self, day: str = "") -> tuple[Promise, ...]:
        """What is promised to jobs, oldest first: not released, and with a day named not lapsed by then."""
        return promised(self.desk.shelf, day)

    def plan(self, question: ShelfQuestion, *, seconds: float = SHELF_SECONDS) -> ShelfAnswer:
        """Which job gets what, every plan and the allocation judged.

        Raises
        ------
        AnswerRefused
            The checker does not bear out a plan, or the allocation uses a thing twice.
        """
        promised = self.promised(question.day)
        answer = plan_shelf(
            question,
            self.desk.shelf.cores(),
            self._evidence(),
            promised=promised,
            remaining=_remaining(seconds),
        )
        self._judge(answer, promised)
        return answer

    def rush(self, question: ShelfQuestion, *, seconds: float = SHELF_SECONDS) -> RushAnswer:
        """What the question's rush job displaces; both allocations judged."""
        promised = self.promised(question.day)
        answer = plan_rush(
            question,
            self.desk.shelf.cores(),
            self._evidence(),
            promised=promised,
            remaining=_remaining(seconds),
        )
        self._judge(answer.without, promised)
        self._judge(answer.together, promised)
        return answer

    def interchange(self, part: str, seat: str = "") -> InterchangeAnswer:
        """What else could sit where this part sits, and whose place it could take, by the features."""
        key = names.thing(self.desk.catalogue.find_parts, "part", part).key
        return interchange(self.desk.catalogue, self.desk.snapshot, key, seat)

    def interchange_report(self) -> InterchangeReport:
        """Where what is asserted and what is derived part."""
        return report(self.desk.catalogue, self.desk.snapshot)

    def _evidence(self) -> Callable[[PlanQuestion], Bundle]:
        kept: dict[PlanQuestion, Bundle] = {}

        def gathered(question: PlanQuestion) -> Bundle:
            if question not in kept:
                kept[question] = plan_bundle(self.desk.catalogue, self.desk.shelf, question)
            return kept[question]

        return gathered

    def _judge(self, answer: ShelfAnswer, promised: Sequence[Promise]) -> None:
        found: list[str] = []
        for one in answer.jobs:
            if one.answer.bundle is None:
                raise AnswerRefused(f"{one.job.name}: a plan without its evidence", fix="ask the question again")
            refusals = check(one.answer, one.answer.bundle, stop=within(CHECK_SECONDS))
            found += [f"{one.job.name}, {r.where}: {r.text}" for r in refusals]
        cores = {core.tag: core for core in self.desk.shelf.cores()}
        drawn = {p.part for one in answer.jobs for p in one.promises if not p.tag}
        stock = {key: sum(s.quantity for s in rows) for key, rows in self.desk.shelf.stocks(drawn).items()}
        found += objections(answer, cores, stock, promised)
        if found:
            raise AnswerRefused(
                f"the checker refuses this allocation ({len(found)} findings): {'; '.join(found[:5])}",
                fix="this is a fault of the program; report it with the jobs",
            )


def _remaining(seconds: float) -> Callable[[], float]:
    end = time.monotonic() + seconds
    return lambda: end - time.monotonic()


def bare(answer: ShelfAnswer) -> ShelfAnswer:
    """The answer without the evidence of its plans, which is megabytes; each plan can be saved with its own."""
    return replace(answer, jobs=tuple(replace(one, answer=replace(one.answer, bundle=None)) for one in answer.jobs))


def reservation_rows(yard: Yard, answer: ShelfAnswer, day: str, *, until: str = "", who: str = "") -> list[Statement]:
    """Rows that promise what the allocation gives, and release what was promised to these jobs before.

    Raises
    ------
    BadQuestion
        The promise would be over before it is made.
    """
    if until and until < day:
        raise BadQuestion(f"until {until} is before {day}", fix="name a later day, or none")
    parts = {
        p.key: p for p in yard.desk.catalogue.parts(p.part for one in answer.jobs for p in one.promises if p.part)
    }
    wanted: dict[tuple[str, str, str, str], Statement] = {}
    for one in answer.jobs:
        for promise in one.promises:
            fields: dict[str, object] = {"job": promise.job}
            if promise.tag:
                fields["tag"] = promise.tag
                if promise.seat:
                    fields["seat"] = promise.seat
            else:
                part = parts[promise.part]
                fields |= {"maker": part.maker, "number": part.number, "quantity": promise.quantity}
            fields |= {name: text for name, text in (("until", until), ("who", who)) if text}
            row = Statement("reservations", fields, Evidence(date=day))
            wanted[_place(row)] = row
    asked = {job.name for job in answer.question.jobs}
    return [*_released(yard, asked, day, except_=wanted), *wanted.values()]


def release_rows(yard: Yard, jobs: Iterable[str], day: str) -> list[Statement]:
    """Rows that release all that is promised to these jobs.

    Raises
    ------
    BadQuestion
        Nothing is promised to one of them.
    """
    asked = set(jobs)
    unknown = asked - {p.job for p in yard.promised()}
    if unknown:
        listed = ", ".join(sorted(unknown))
        raise BadQuestion(f"nothing is promised to {listed}", fix="name a job that something is promised to")
    return _released(yard, asked, day, except_={})


def _released(
    yard: Yard, jobs: set[str], day: str, except_: dict[tuple[str, str, str, str], Statement]
) -> list[Statement]:
    out = []
    for row in yard.desk.shelf.sheet("reservations"):
        if row.fields["job"] in jobs and not row.fields.get("released") and _place(row) not in except_:
            fields = {k: v for k, v in row.fields.items() if k != "quantity"} | {"released": True}
            out.append(Statement("reservations", fields, Evidence(date=day)))
    return out


def _place(row: Statement) -> tuple[str, str, str, str]:
    said = row.fields
    return (
        str(said["job"]),
        str(said.get("tag", "")),
        str(said.get("seat", "")),
        f"{said.get('maker')} {said.get('number')}",
    )
