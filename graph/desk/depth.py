"""What comes after a plan: why not, what then, which core, how far, what least; all judged before it leaves."""

from collections.abc import Sequence
from dataclasses import replace

from graph.desk import names
from graph.desk.desk import CHECK_SECONDS, PLAN_SECONDS, Desk, within
from graph.desk.judging import UNSURE
from graph.desk.promised import promised
from graph.desk.wishing import wishes as wished
from graph.errors import AnswerRefused, BadQuestion
from graph.index.gather import for_build, plan_bundle, shelf_bundle, unit_bundle, whole_bundle
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.depth import Least, Objectives, Ranked, Ranking, StockAdvice, UnknownAnswer, WhyAnswer
from graph.model.plan import PlanAnswer
from graph.model.record import Build, Snapshot
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import plan, verdict_of
from graph.planning.check import Refusal, Shared, check
from graph.planning.check.bound import optimum_of
from graph.planning.check.case import Case, Mode
from graph.planning.check.clash import check_why
from graph.planning.check.compare import compared
from graph.planning.check.weighed import check_weighed
from graph.planning.explain import money_text
from graph.planning.objective import best_by, measures, pareto
from graph.planning.problem import Problem
from graph.planning.reach import Standing, lacking, of_core, ranked, stock_up
from graph.planning.unknown import unknown as what_then
from graph.planning.why import why as why_not


def question(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    best: int = 1,
    by: Sequence[str] = (),
    wishes: Sequence[str] = (),
    day: str = "",
) -> PlanQuestion:
    """The plan question that these names ask.

    Raises
    ------
    NotFound, Ambiguous, BadQuestion
        A name that leads nowhere or to several things, no engine is named and the build is for none, or a measure
        that there is not.
    """
    order = measures(by)
    wanted = names.build(desk.catalogue, build)
    core_key = names.core(desk.shelf, core).key
    return PlanQuestion(
        core_key, wanted.key, _engine(desk, engine, wanted), best, day, wished(desk.catalogue, wishes), order
    )


def _engine(desk: Desk, engine: str, build: Build) -> str:
    key = names.thing(desk.catalogue.find_engines, "engine", engine).key if engine else build.engine
    if not key:
        raise BadQuestion(f"build {build.name} is for no engine in particular", fix="name the engine")
    return key


def why(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    best: int = 3,
    waive: bool = False,
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = 3 * PLAN_SECONDS,
) -> WhyAnswer:
    """Why the core cannot become the build: the minimal clash, and the cheapest ways out with their plans.

    Raises
    ------
    AnswerRefused
        The checker does not bear it out; it stays here.
    Unanswerable
        Stopped before it was settled.
    """
    asked = question(desk, core, build, engine, wishes=wishes, day=day)
    bundle = whole_bundle(desk.catalogue, desk.shelf, asked)
    answer = why_not(bundle, best=best, waive=waive, stop=within(seconds))
    refuse(check_why(answer, bundle, within(CHECK_SECONDS)))
    return replace(answer, bundle=bundle)


def unknown(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = 3 * PLAN_SECONDS,
) -> UnknownAnswer:
    """What follows in each case of the facts that are missing, and what settles it."""
    asked = question(desk, core, build, engine, wishes=wishes, day=day)
    bundle = plan_bundle(desk.catalogue, desk.shelf, asked)
    answer, cases = what_then(bundle, stop=within(seconds))
    checked = Shared()
    refuse(check(answer.answer, bundle, within(CHECK_SECONDS), checked))
    for number, (case, turned) in enumerate(zip(answer.cases, cases, strict=True)):
        if case.plan is not None:
            mode: Mode = "certain" if case.verdict is Verdict.WITH_WORK else "possible"
            refuse(compared(checked.case(turned), case.plan, mode, f"cases[{number}]"))
        elif case.verdict is Verdict.NO and _possible(checked.case(turned)):
            refuse([Refusal("cases", f"cases[{number}]", "it is called impossible, and a plan exists")])
    return answer


def rank(
    desk: Desk,
    build: str,
    engine: str = "",
    *,
    best: int = 5,
    customers: bool = False,
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = 3 * PLAN_SECONDS,
) -> Ranking:
    """All cores of the shelf for a build, best first: the first `best` exactly, with what each needs.

    Customers' own cores are not the shop's to build from; `customers` ranks them too. A core that is promised to a
    job is ranked and says so.
    """
    wanted = names.build(desk.catalogue, build)
    key = _engine(desk, engine, wanted)
    asked = PlanQuestion("core/", wanted.key, key, 1, day, wished(desk.catalogue, wishes))
    shared, cores = shelf_bundle(desk.catalogue, desk.shelf, asked)
    cores = tuple(c for c in cores if customers or not c.own)
    standings, exact = ranked(shared, cores, best, stop=within(seconds), kept=desk.recall.kept())
    renewed = _renewed(desk)
    held = {p.tag: p.job for p in promised(desk.shelf, day) if p.tag and not p.seat}
    rows: list[Ranked] = []
    for standing in standings:
        answer = None
        if len(rows) < exact:
            answer = _judged(desk, of_core(shared, standing.core), seconds)
        row = _row(standing.core.tag, standing.core.key, standing, answer, renewed)
        job = held.get(standing.core.tag)
        rows.append(replace(row, needs=f"{row.needs}; promised to {job}") if job else row)
    currency = next((r.answer.plans[0].currency for r in rows if r.answer is not None and r.answer.plans), "")
    goal = wanted.label or wanted.name
    first = rows[0] if rows else None
    said = f"No core on the shelf can become {goal}."
    if first is not None and first.answer is not None:
        price = f"for {_price(first, currency)}: " if first.cost is not None else ""
        sure = "By the prices on record the" if _unsure(first) else "The"
        said = f"{sure} best core for {goal} is {first.name}, {price}{first.needs}."
    elif any(r.verdict is None for r in rows):
        said = f"No core was worked out for {goal}."
    snapshot = Snapshot(desk.catalogue.id, desk.shelf.n)
    return Ranking(wanted.key, snapshot, currency, tuple(rows), exact, said, asked.wishes, day)


def reach(
    desk: Desk,
    core: str,
    *,
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = PLAN_SECONDS,
) -> Ranking:
    """All builds that a core can become, cheapest first, each for the engine it is for."""
    found = names.core(desk.shelf, core)
    wanted = wished(desk.catalogue, wishes)
    rows = []
    gathered: dict[str, Bundle] = {}
    for build in desk.catalogue.builds:
        if not build.engine:
            continue
        asked = PlanQuestion(found.key, build.key, build.engine, 1, day, wanted)
        if build.layout in gathered:
            bundle = for_build(desk.catalogue, gathered[build.layout], asked)
        else:
            bundle = gathered[build.layout] = plan_bundle(desk.catalogue, desk.shelf, asked)
        answer = _judged(desk, bundle, seconds)
        cost = answer.plans[0].cost if answer.plans else None
        verdict = None if answer.proof is Proof.UNDECIDED else answer.verdict
        rows.append(
            Ranked(build.name, build.key, verdict, cost, answer.bound, _needs(answer, _renewed(desk)), answer)
        )
    order = (Verdict.YES, Verdict.WITH_WORK, Verdict.UNKNOWN, None, Verdict.NO)

    def place(row: Ranked) -> tuple[int, int, str]:
        return max(order.index(row.verdict), 1), row.cost or row.least or 0, row.name

    rows.sort(key=place)
    able = [r for r in rows if r.cost is not None and r.verdict is not Verdict.UNKNOWN]
    currency = next((r.answer.plans[0].currency for r in rows if r.answer is not None and r.answer.plans), "")
    said = f"Core {found.tag} can become {len(able)} of {len(rows)} builds"
    if able:
        said += "; by the prices on record" if _unsure(able[0]) else ";"
        said += f" the cheapest is {able[0].name}, for {_price(able[0], currency)}"
    said += "."
    snapshot = Snapshot(desk.catalogue.id, desk.shelf.n)
    return Ranking(found.key, snapshot, currency, tuple(rows), len(rows), said, wanted, day)


def least(desk: Desk, unit: str, engine: str, *, day: str = "", seconds: float = PLAN_SECONDS) -> Least:
    """The least change that puts a unit, as supplied, onto an engine: fewest seats changed, then cheapest."""
    unit_key = names.thing(desk.catalogue.find_units, "turbocharger", unit).key
    engine_key = names.thing(desk.catalogue.find_engines, "engine", engine).key
    bundle = unit_bundle(desk.catalogue, desk.shelf, unit_key, engine_key, day)
    bundle = replace(bundle, question=replace(bundle.question, by=("changes",)))
    answer = plan(bundle, stop=within(seconds))
    called = f"{unit.strip()} onto {bundle.engine.label or bundle.engine.name}"
    if not answer.plans or answer.verdict is Verdict.UNKNOWN:
        refuse(check(answer, bundle, within(CHECK_SECONDS)))
        return Least(unit_key, engine_key, None, answer, answer.sentence)
    found = best_by(bundle, bundle.question.by, stop=within(seconds))
    assert found is not None
    problem = Problem(bundle)
    proof = Proof.FOUND if found.plan.at_least else Proof.BEST
    plain = replace(answer, plans=(found.plan,), verdict=verdict_of(problem, found.plan), proof=proof)
    refuse(check(plain, bundle, within(CHECK_SECONDS)))
    what = _needs(plain, _renewed(desk))
    price = f"{'at least ' if found.plan.at_least else ''}{money_text(found.cost, found.plan.currency)}"
    renewed = sum(
        c.source == "new" and c.part in problem.parts and problem.one_time(problem.parts[c.part].kind)
        for c in found.plan.seats
    )
    changes = found.changes - renewed
    count = "nothing but what is always renewed" if not changes else f"{changes} seat{'s' if changes > 1 else ''}"
    said = f"The least change that puts {called}: {count}, for {price}{f': {what}' if what != count else ''}."
    return Least(unit_key, engine_key, changes, plain, said)


def objectives(
    desk: Desk,
    core: str,
    build: str,
    engine: str = "",
    *,
    order: Sequence[str] = (),
    wishes: Sequence[str] = (),
    day: str = "",
    seconds: float = PLAN_SECONDS,
) -> Objectives:
    """The best certain plan by measures in that order; without an order the Pareto set of money and time."""
    asked = question(desk, core, build, engine, by=order, wishes=wishes, day=day)
    bundle = plan_bundle(desk.catalogue, desk.shelf, asked)
    if asked.by:
        one = best_by(bundle, asked.by, stop=within(seconds))
        found, complete = [] if one is None else [one], True
    else:
        found, complete = pareto(bundle, stop=within(seconds))
    answer = Objectives(asked, bundle.snapshot, tuple(found), complete, bundle)
    refuse(check_weighed(answer, bundle, within(CHECK_SECONDS), desk.recall.shared(bundle)))
    return answer


def advise(
    desk: Desk, *, most: int = 5, wishes: Sequence[str] = (), day: str = "", seconds: float = 3 * PLAN_SECONDS
) -> StockAdvice:
    """Which parts to keep in stock so that most builds can be made from stock, each from the best core for it."""
    stop = within(seconds)
    questions = []
    for build in desk.catalogue.builds:
        if not build.engine:
            continue
        asked = PlanQuestion("core/", build.key, build.engine, 1, day, wished(desk.catalogue, wishes))
        shared, cores = shelf_bundle(desk.catalogue, desk.shelf, asked)
        sets: list[frozenset[str]] = []
        standings, exact = ranked(shared, [c for c in cores if not c.own], 1, stop=stop)
        if exact and standings[0].verdict is Verdict.WITH_WORK:
            sets, _ = lacking(of_core(shared, standings[0].core), stop=stop)
        questions.append((build.name, sets))
    return stock_up(questions, most)


def _possible(case: Case) -> bool:
    return bool(optimum_of(case, mode="possible", stop=within(CHECK_SECONDS)).costs)


def _judged(desk: Desk, bundle: Bundle, seconds: float) -> PlanAnswer:
    answer = plan(bundle, stop=within(seconds), kept=desk.recall.kept())
    refuse(check(answer, bundle, within(CHECK_SECONDS), desk.recall.shared(bundle)))
    return replace(answer, bundle=None)


def _unsure(row: Ranked) -> bool:
    """Whether a price of it is missing, so that its cost is the least it can be."""
    return row.answer is not None and any(one.at_least for one in row.answer.plans[:1])


def _price(row: Ranked, currency: str) -> str:
    return f"{'at least ' if _unsure(row) else ''}{money_text(row.cost or 0, currency)}"


def _row(name: str, key: str, standing: Standing, answer: PlanAnswer | None, renewed: frozenset[str]) -> Ranked:
    if answer is None:
        said = "cannot become it" if standing.verdict is Verdict.NO else "not worked out"
        return Ranked(name, key, standing.verdict, None, standing.least, said, None)
    cost = answer.plans[0].cost if answer.plans else None
    return Ranked(name, key, answer.verdict, cost, standing.least, _needs(answer, renewed), answer)


def _renewed(desk: Desk) -> frozenset[str]:
    """The seats of what is never used again: it is renewed in any case."""
    once = {kind.name for kind in desk.catalogue.kinds if kind.one_time}
    return frozenset(s.name for layout in desk.catalogue.layouts for s in layout.seats if s.kind in once)


def _needs(answer: PlanAnswer, renewed: frozenset[str]) -> str:
    """What a plan takes beside what is always renewed: new parts, donors' parts, work; empty: nothing."""
    if not answer.plans:
        return answer.causes[0] if answer.causes else answer.sentence
    one = answer.plans[0]
    parts = []
    for source, word in (("new", "new"), ("donor", "from a donor")):
        seats = [c.seat.replace("-", " ") for c in one.seats if c.source == source and c.seat not in renewed]
        if seats:
            parts.append(f"{word}: {', '.join(seats)}")
    work = [f"{s.label} ({s.seat.replace('-', ' ')})" for s in one.steps if s.seat]
    if work:
        parts.append(f"work: {', '.join(work)}")
    if answer.open:
        parts.append(f"first {'; '.join(dict.fromkeys(m.measure for m in answer.open))}")
    return "; ".join(parts) or "nothing but what is always renewed"


def refuse(found: Sequence[Refusal]) -> None:
    """Keep an answer here that the checker refuses; that it had no time to prove all again is no refusal.

    Raises
    ------
    AnswerRefused
        The checker found something against it.
    """
    refusals = [r for r in found if r.code != UNSURE]
    if refusals:
        listed = "; ".join(f"{r.code} at {r.where}: {r.text}" for r in refusals[:5])
        raise AnswerRefused(
            f"the checker refuses this answer ({len(refusals)} findings): {listed}",
            fix="this is a fault of the program; report it with the question",
        )
