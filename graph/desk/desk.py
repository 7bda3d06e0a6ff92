"""One snapshot of a store, and every question that may be asked of it."""

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from pathlib import Path

from graph.desk import names, showing
from graph.desk.evidence import pick_evidence
from graph.desk.exporting import write_all
from graph.desk.judging import UNSURE, Evidence, Judgement, judge
from graph.desk.recall import Recall
from graph.desk.wishing import wishes as wished
from graph.errors import AnswerRefused, BadPartNumber, BadQuestion, NotFound, SavedRefused
from graph.index.catalogue import Catalogue
from graph.index.gather import fits_evidence, plan_bundle, whole_bundle
from graph.index.search import Candidate
from graph.index.shelf import Shelf
from graph.index.store import Store
from graph.ledger.chain import ChangeSet
from graph.ledger.reading import Difference
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.depth import WhyAnswer
from graph.model.fits import FitsAnswer, FitsQuestion
from graph.model.picking import PickList
from graph.model.plan import Plan, PlanAnswer
from graph.model.record import Snapshot
from graph.model.shown import Found, Hit, Shown
from graph.model.statement import Statement
from graph.model.value import spelled_code
from graph.picklist import pick_list
from graph.planning.answer import plan
from graph.planning.check import check
from graph.planning.saved import Saved, answer_of
from graph.swap import fits

PLAN_SECONDS = 20.0
"""How long the search may take for one question."""

CHECK_SECONDS = 20.0
"""How long the checker may take to prove once more that no plan is cheaper; every plan is judged all the same."""

WAYS = ("written", "spelled", "begins", "contains")
"""How a search finds things, the surest way first."""


def within(seconds: float) -> Callable[[], bool]:
    """Says when `seconds` from now are over."""
    end = time.monotonic() + seconds
    return lambda: time.monotonic() > end


class Desk:
    """Answers from one catalogue version and one shelf number; may be shared between threads.

    `recall`: what earlier questions about this version of the catalogue have worked out.
    """

    def __init__(self, store: Store, catalogue: Catalogue, shelf: Shelf, recall: Recall | None = None) -> None:
        self.catalogue = catalogue
        self.recall = Recall() if recall is None else recall
        self.shelf = shelf
        self._store = store

    @classmethod
    def over(cls, store: Store) -> "Desk":
        """The desk over a store's newest snapshot."""
        return cls(store, *store.snapshot())

    @property
    def snapshot(self) -> Snapshot:
        """Both clocks."""
        return Snapshot(self.catalogue.id, self.shelf.n)

    @property
    def folder(self) -> Path:
        """Where the store is: two stores may have come to equal clocks."""
        return self._store.folder

    def close(self) -> None:
        """Give the store's connections back."""
        self._store.close()

    def fits(
        self, unit: str, engine: str, *, seat: str = "", part: str = "", both: bool = False, day: str = ""
    ) -> tuple[FitsAnswer, ...]:
        """Does the unit go onto the engine? With `both`, then every answer of the other direction.

        The other direction: each unit that the engine left the factory with, onto each engine that the asked unit
        was fitted to; by unit, then engine.
        """
        unit_key = names.thing(self.catalogue.find_units, "turbocharger", unit).key
        engine_key = names.thing(self.catalogue.find_engines, "engine", engine).key if engine else ""
        part_key = names.thing(self.catalogue.find_parts, "part", part).key if part else ""
        if not engine and not part:
            raise BadQuestion("no engine and no part is named", fix="name the engine, or a seat and a part")
        questions = [FitsQuestion(unit_key, engine_key, seat, part_key, day)]
        if both and engine_key:
            own_engines = sorted({f.engine for f in self.catalogue.fitments(unit=unit_key)})
            originals = sorted({f.unit for f in self.catalogue.fitments(engine=engine_key)})
            questions += [
                FitsQuestion(other, onto, day=day)
                for other in originals
                for onto in own_engines
                if other != unit_key and onto != engine_key
            ]
        kept = self.catalogue.known.kept
        return tuple(fits(fits_evidence(self.catalogue, self.shelf, q), self._mend, kept) for q in questions)

    def _mend(self, bundle: Bundle) -> PlanAnswer:
        return self._checked(bundle, PLAN_SECONDS)

    def plan(
        self,
        core: str,
        build: str,
        engine: str = "",
        *,
        best: int = 1,
        wishes: Sequence[str] = (),
        day: str = "",
        seconds: float = PLAN_SECONDS,
    ) -> PlanAnswer:
        """What parts and machining turn the core into the build, judged by the checker.

        Raises
        ------
        AnswerRefused
            The checker does not bear out a plan; it stays here.
        """
        wanted = names.build(self.catalogue, build)
        if engine:
            engine_key = names.thing(self.catalogue.find_engines, "engine", engine).key
        elif wanted.engine:
            engine_key = wanted.engine
        else:
            raise BadQuestion(f"build {wanted.name} is for no engine in particular", fix="name the engine")
        asked_for = wished(self.catalogue, wishes)
        question = PlanQuestion(names.core(self.shelf, core).key, wanted.key, engine_key, best, day, asked_for)
        return self._checked(plan_bundle(self.catalogue, self.shelf, question), seconds)

    def _checked(self, bundle: Bundle, seconds: float) -> PlanAnswer:
        answer = replace(plan(bundle, stop=within(seconds), kept=self.recall.kept()), bundle=bundle)
        found = check(answer, bundle, within(CHECK_SECONDS), self.recall.shared(bundle))
        refusals = [r for r in found if r.code != UNSURE]
        if refusals:
            listed = "; ".join(f"{r.code} at {r.where}: {r.text}" for r in refusals[:5])
            raise AnswerRefused(
                f"the checker refuses this answer ({len(refusals)} findings): {listed}",
                fix="this is a fault of the program; report it with the question",
            )
        return answer

    def pick(self, jobs: Sequence[tuple[str, str, str, int, tuple[str, ...]]], *, day: str = "") -> PickList:
        """The pick list of several jobs: (core, build, engine, which plan, wishes) each."""
        taken = []
        for core, build, engine, number, wishes in jobs:
            answer = self.plan(core, build, engine, best=number, wishes=wishes, day=day)
            taken.append((answer, number))
        return self._picked(taken, day)

    def pick_saved(self, saved: Iterable[tuple[bytes, int]], *, day: str = "") -> PickList:
        """The pick list of saved answers, each with the number of the plan that is taken.

        Raises
        ------
        SavedRefused
            An answer that does not stand.
        """
        taken = []
        for data, number in saved:
            judgement = self.judge_here(data)
            if any(r.code != UNSURE for r in judgement.refusals):
                first = judgement.refusals[0]
                raise SavedRefused(
                    f"a saved answer does not stand: {first.where}: {first.text}", fix="ask the question again"
                )
            taken.append((answer_of(data), number))
        return self._picked(taken, day)

    def _picked(self, taken: Sequence[tuple[PlanAnswer, int]], day: str) -> PickList:
        jobs: list[tuple[str, Plan]] = []
        planned: list[tuple[Plan, Bundle]] = []
        sides: dict[str, str] = {}
        for answer, number in taken:
            if number > len(answer.plans):
                have = f"there are {len(answer.plans)}" if answer.plans else answer.sentence
                raise BadQuestion(f"there is no plan {number}: {have}", fix="take a plan that there is")
            bundle = answer.bundle
            if bundle is None:
                raise BadQuestion("an answer without its evidence makes no pick list", fix="ask the question again")
            sides |= {seat.name: seat.side for seat in bundle.layout.seats}
            jobs.append((f"{bundle.core.tag} into {bundle.build.name}", answer.plans[number - 1]))
            planned.append((answer.plans[number - 1], bundle))
        one_time = frozenset(kind.name for kind in self.catalogue.kinds if kind.one_time)
        evidence = pick_evidence(self.catalogue, self.shelf, planned, day)
        return pick_list(jobs, evidence, sides, one_time)

    def evidence_again(self, answer: Saved) -> Bundle | None:
        """The answer's evidence gathered anew; None if this store never held the answer's snapshot."""
        if not 0 < answer.snapshot.shelf <= self.shelf.n:
            return None
        try:
            catalogue, shelf = self._store.as_of(answer.snapshot.shelf)
            if catalogue.id != answer.snapshot.catalogue:
                return None
            if isinstance(answer, WhyAnswer):
                return whole_bundle(catalogue, shelf, answer.question)
            return plan_bundle(catalogue, shelf, answer.question)
        except NotFound:
            return None

    def judge_here(self, data: bytes, others: Iterable[Evidence] = (), seconds: float = CHECK_SECONDS) -> Judgement:
        """Judge a saved answer against its evidence, this store, and then `others`."""
        return judge(data, [self.evidence_again, *others], within(seconds))

    def show(self, text: str, *, day: str = "") -> Shown:
        """All that is known of the one thing that `text` names.

        Raises
        ------
        NotFound, Ambiguous
            Nothing, or more than one thing, has that name.
        """
        try:
            return showing.show_core(self.catalogue, self.shelf, names.core(self.shelf, text))
        except NotFound:
            pass
        if any(spelled_code(b.name) == spelled_code(text) for b in self.catalogue.builds):
            return showing.show_build(self.catalogue, self.shelf, names.build(self.catalogue, text))
        offered: list[str] = []
        for find, what in (
            (self.catalogue.find_units, "turbocharger"),
            (self.catalogue.find_parts, "part"),
            (self.catalogue.find_engines, "engine"),
            (self.catalogue.find_machines, "machine"),
        ):
            try:
                return self._shown(names.thing(find, what, text), day)
            except BadPartNumber as error:
                offered.append(error.message)
            except NotFound as error:
                offered += [error.fix] if error.fix.startswith("did you mean") else []
        raise NotFound(f"nothing here is called {text!r}", fix="; ".join(offered) or "look at the plate or tag again")

    def _shown(self, found: Candidate, day: str) -> Shown:
        if found.type == "part":
            return showing.show_part(self.catalogue, self.shelf, self.catalogue.part(found.key), day)
        if found.type == "unit":
            return showing.show_unit(self.catalogue, self.shelf, self.catalogue.unit(found.key))
        if found.type == "engine":
            return showing.show_engine(self.catalogue, self.shelf, self.catalogue.engine(found.key))
        return showing.show_machine(self.catalogue, self.shelf, found.key, f"{found.maker} {found.name}".strip())

    def find(self, text: str, *, limit: int = 20) -> Found:
        """Things whose number or name is like `text`: the surest way of finding first.

        Equally sure ones: cores, builds, units, parts, engines, machines; then by name.
        """
        wanted = spelled_code(text)
        hits = [
            Hit("core", c.key, c.tag, "written" if spelled_code(c.tag) == wanted else "begins")
            for c in self.shelf.cores()
            if spelled_code(c.tag).startswith(wanted)
        ]
        hits += [
            Hit(
                "build",
                b.key,
                f"{b.name} {b.label}".strip(),
                "written" if spelled_code(b.name) == wanted else "contains",
            )
            for b in self.catalogue.builds
            if wanted in spelled_code(f"{b.name} {b.label}")
        ]
        for find in (
            self.catalogue.find_units,
            self.catalogue.find_parts,
            self.catalogue.find_engines,
            self.catalogue.find_machines,
        ):
            try:
                found = find(text, limit + 1)
            except BadPartNumber:
                continue
            hits += [Hit(c.type, c.key, f"{c.maker} {c.name} {c.label}".strip(), c.how) for c in found]
        hits.sort(key=lambda hit: WAYS.index(hit.why))
        return Found(text, tuple(hits[:limit]), len(hits) > limit, self.snapshot)

    @cached_property
    def _names(self) -> dict[str, list[str]]:
        return {
            "units": [f"{u.maker} {u.name}" for u in self.catalogue.units()],
            "engines": [f"{e.maker} {e.name}" for e in self.catalogue.engines()],
            "cores": [c.tag for c in self.shelf.cores()],
            "builds": [b.name for b in self.catalogue.builds],
        }

    def names(self, most: int = 500) -> dict[str, list[str]]:
        """Names to choose from, in order, at most so many of each (typing finds the rest)."""
        return {what: listed[:most] for what, listed in self._names.items()}

    def history(self) -> Iterator[ChangeSet]:
        """All change sets, newest first."""
        with self._store.ledger.reading() as reading:
            yield from reversed(list(reading.history()))

    def diff(self, a: int, b: int) -> Iterator[Difference]:
        """The net changes from version `a` to version `b`."""
        with self._store.ledger.reading() as reading:
            yield from reading.diff(a, b)

    def everything(self) -> Iterator[Statement]:
        """All that holds, catalogue and shelf, oldest first."""
        with self._store.ledger.reading() as reading:
            yield from reading.as_of(self.shelf.n)

    def export(self, target: Path, form: str) -> int:
        """Write all that holds, catalogue and shelf, to a file (a folder for csv); how many rows it has.

        Raises
        ------
        BadQuestion
            A form that there is not.
        """
        return write_all(self.everything(), target, form)
