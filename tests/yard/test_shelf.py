"""The day's jobs against one shelf, held against trying everything, an assignment solver and the checker."""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment
from yard_cases import Yard, exhaustive, yard

from graph.errors import BadQuestion, MixedCurrency
from graph.model.bundle import Bundle, PlanQuestion
from graph.model.claim import Claim, Rank
from graph.model.record import (
    Build,
    Core,
    Engine,
    Feature,
    FoundPart,
    Joint,
    Kind,
    Layout,
    Part,
    Price,
    Rate,
    Rule,
    Seat,
    Snapshot,
    Stock,
    Supersession,
)
from graph.model.value import Amount
from graph.model.verdict import Proof
from graph.model.yard import Job, Promise, ShelfAnswer, ShelfQuestion
from graph.planning.check import check
from graph.shelf import allocation, plan_rush, plan_shelf
from graph.shelf.check import objections

DAY = "2026-01-01"
Held = Callable[..., None]


def asked(case: Yard, **more: object) -> ShelfAnswer:
    return plan_shelf(case.question, case.cores, case.evidence, promised=case.promised, **more)  # type: ignore[arg-type]


def stands(answer: ShelfAnswer, case: Yard) -> None:
    """The plans as the checker of single plans judges them, and the allocation as its own witness does."""
    for one in answer.jobs:
        assert one.answer.bundle is not None
        assert check(one.answer, one.answer.bundle) == []
    stock = {p.key: sum(s.quantity for s in p.stock) for p in case.base.parts}
    assert list(objections(answer, {c.tag: c for c in case.cores}, stock, case.promised)) == []


def equal(seed: int, *, rush: bool = False) -> bool | None:
    """One random yard against trying everything; None when it is too large or no job can be done."""
    case = yard(seed)
    first = case.question.jobs[-1].name if rush else ""
    wanted = exhaustive(case, first)
    if wanted is None or not wanted[0]:
        if wanted is not None:
            assert not asked(case).jobs
        return None
    answer = asked(replace(case, question=replace(case.question, rush=first)))
    assert (len(answer.jobs), answer.cost) == wanted, seed
    assert answer.most == wanted[0] and answer.bound == wanted[1]
    priced = not any(one.answer.plans[0].at_least for one in answer.jobs)
    assert answer.proof is (Proof.CHEAPEST if priced else Proof.FOUND)
    stands(answer, case)
    if not rush:
        count, cost = answer.first_come
        assert (-count, cost) >= (-wanted[0], wanted[1])
    return (answer.first_come[0], answer.first_come[1]) != wanted


@pytest.mark.slow
def test_the_allocation_equals_that_of_trying_everything(held: Held) -> None:
    """160 random shelves of three or more cores, of which the solvable ones are held against every combination."""
    said = [equal(seed) for seed in range(160)]
    held("allocation of a shelf", "exhaustive search", sum(x is not None for x in said))
    assert sum(x is not None for x in said) > 40
    assert any(said)  # first come, first served is worse somewhere


@pytest.mark.slow
def test_a_rush_job_goes_before_all_others_as_trying_everything_does(held: Held) -> None:
    solved = sum(equal(seed, rush=True) is not None for seed in range(500, 545))
    held("rush job on a shelf", "exhaustive search", solved)
    assert solved > 5


# A yard made by hand: one seat for a wheel, one for a housing; the wheel's size must be the build's.

FEATURES = (Feature("size", "size", "length"),)
KINDS = (Kind("wheel", "wheel"), Kind("house", "house"))
LAYOUT = Layout(
    "l",
    (Seat("wheel", "wheel", strip_time=60_000), Seat("house", "house", strip_time=180_000)),
    (Joint("j", "", ("wheel", "house")),),
    (
        Rule("j", "r", "clearance", ("house", "size"), (("wheel", "size"),), 0, 0),
        Rule("j", "onto", "at_least", ("house", "size"), (("engine", "size"),)),
    ),
)


def part(kind: str, name: str, size: int, new: int, used: int = 5, stock: int = 0, **more: object) -> Part:
    key = f"part/O/{name}"
    claim = Claim(f"c{name}", key, "size", Amount(size, "length"), "d", Rank.DRAWING)
    lead = more.pop("lead", None)
    return Part(
        key,
        "O",
        name,
        kind,
        "",
        (claim,),
        price_new=Price(new, "EUR", DAY, lead_days=lead),  # type: ignore[arg-type]
        price_used=Price(used, "EUR", DAY),
        stock=(Stock("", stock),),
        **more,  # type: ignore[arg-type]
    )


def core(tag: str, wheel: str, house: str, book: int = 10, *, donor: bool = True, own: bool = False) -> Core:
    found = tuple(FoundPart(s, f"part/O/{p}") for s, p in (("house", house), ("wheel", wheel)) if p)
    return Core(f"core/{tag}", tag, "l", book_value=book, currency="EUR", own=own, may_donate=donor, found=found)


def small(parts: list[Part], cores: list[Core], question: ShelfQuestion, promised: tuple[Promise, ...] = ()) -> Yard:
    base = Bundle(
        PlanQuestion("", "build/b", "engine/e", 1, DAY),
        Snapshot("c", 1),
        LAYOUT,
        Build("build/b", "b", "l"),
        ENGINE,
        cores[0],
        (),
        tuple(sorted(parts, key=lambda p: p.key)),
        KINDS,
        FEATURES,
        (),
        (),
        (),
        (),
        (Rate("shop", 3_600, "EUR"),),  # one minor unit a second
        (),
    )
    return Yard(base, tuple(cores), {"build/b": base.build}, question, promised)


def jobs(count: int, **more: object) -> tuple[Job, ...]:
    return tuple(Job(f"j{i}", "build/b", "engine/e", **more) for i in range(count))  # type: ignore[arg-type]


ENGINE_SIZE = Claim("e", "engine/e", "size", Amount(0, "length"), "d", Rank.DRAWING)
ENGINE = Engine("engine/e", "B", "e", claims=(ENGINE_SIZE,))
WHEEL, HOUSE = part("wheel", "w", 100, 900), part("house", "h", 100, 2_000)


def test_one_core_starts_one_job_and_one_part_goes_into_one() -> None:
    cores = [core("a", "w", ""), core("b", "", "h"), core("c", "w", "h", 50)]
    case = small([WHEEL, HOUSE], cores, ShelfQuestion(jobs(2), DAY))
    answer = asked(case)
    stands(answer, case)
    # By hand: c as it is for 50; then b with the wheel of a: 10 + 5 + 60 s of stripping. Any other pair costs more.
    assert answer.cost == 50 + 10 + 5 + 60
    assert {one.tag for one in answer.jobs} == {"b", "c"}


def test_a_core_that_starts_a_job_gives_nothing_to_another() -> None:
    case = small([WHEEL, HOUSE], [core("a", "w", ""), core("b", "", "h")], ShelfQuestion(jobs(2), DAY))
    answer = asked(case)
    stands(answer, case)
    assert answer.cost == 10 + 2_000 + 10 + 900


def test_a_donor_torn_down_once_is_stripped_for_its_dearest_seat_alone() -> None:
    """By hand: wheel 60 s and house 180 s out of one donor at one minor unit a second; once: 180."""
    cores = [core("a", "", ""), core("b", "w", "h", 5_000)]
    case = small([WHEEL, HOUSE], cores, ShelfQuestion(jobs(1), DAY))
    assert asked(case).cost == 10 + 5 + 60 + 5 + 180
    once = replace(case, question=replace(case.question, torn_down_once=True))
    answer = asked(once)
    stands(answer, once)
    assert (answer.cost, answer.saved) == (10 + 5 + 5 + 180, 60)
    assert exhaustive_agrees(once, answer)


def exhaustive_agrees(case: Yard, answer: ShelfAnswer) -> bool:
    wanted = exhaustive(case)
    return wanted == (len(answer.jobs), answer.cost)


def test_a_superseded_number_is_used_up_when_its_stock_is() -> None:
    """Trap: the plan question offers it as long as one is in stock; two jobs cannot both have the last one."""
    old = part("wheel", "old", 100, 100, stock=1, superseded_by=(Supersession("part/O/old", "part/O/w"),))
    cores = [core("a", "", "h", donor=False), core("b", "", "h", donor=False)]
    case = small([old, WHEEL, HOUSE], cores, ShelfQuestion(jobs(2), DAY))
    answer = asked(case)
    stands(answer, case)
    assert answer.cost == 10 + 100 + 10 + 900
    assert sum(p.quantity for one in answer.jobs for p in one.promises if p.part == old.key) == 1


def test_what_cannot_be_here_in_time_must_be_in_stock() -> None:
    slow = part("wheel", "w", 100, 900, stock=1, lead=10)
    cores = [core("a", "", "h", donor=False), core("b", "", "h", donor=False)]
    due = small([slow, HOUSE], cores, ShelfQuestion(jobs(2, due="2026-01-08"), DAY))
    answer = asked(due)
    stands(answer, due)
    assert len(answer.jobs) == 1 and answer.most == 1
    assert "goes to the other jobs" in answer.left_out[0].reason and "2026-01-08" in answer.left_out[0].reason
    later = small([slow, HOUSE], cores, ShelfQuestion(jobs(2, due="2026-01-11"), DAY))
    found = asked(later)
    assert len(found.jobs) == 2
    assert sorted(len(one.order) for one in found.jobs) == [0, 1]  # one out of stock, one ordered
    assert len(asked(replace(later, question=replace(later.question, by="2026-01-05"))).jobs) == 1


def test_a_lead_time_that_nobody_knows_is_no_promise_for_a_due_day() -> None:
    case = small([WHEEL, HOUSE], [core("a", "", "h")], ShelfQuestion(jobs(1, due="2030-01-01"), DAY))
    answer = asked(case)
    assert not answer.jobs and answer.proof is Proof.IMPOSSIBLE
    assert asked(replace(case, question=ShelfQuestion(jobs(1), DAY))).jobs


def test_a_customers_core_is_for_the_job_that_names_it_alone() -> None:
    own = core("mine", "w", "h", own=True)
    cores = [own, core("shop", "w", "h", 700)]
    any_core = small([WHEEL, HOUSE], cores, ShelfQuestion(jobs(1), DAY))
    assert asked(any_core).jobs[0].tag == "shop"
    named = small([WHEEL, HOUSE], cores, ShelfQuestion((Job("x", "build/b", "engine/e", "core/mine"), *jobs(1)), DAY))
    answer = asked(named)
    stands(answer, named)
    assert [(one.job.name, one.tag) for one in answer.jobs] == [("x", "mine"), ("j0", "shop")]


def test_what_is_promised_to_another_job_stays_its_own() -> None:
    cores = [core("a", "w", "h", 10), core("b", "w", "h", 400), core("d", "w", "", 9_000)]
    case = small([WHEEL, HOUSE], cores, ShelfQuestion(jobs(1), DAY), (Promise("other", "a"),))
    answer = asked(case)
    stands(answer, case)
    assert answer.jobs[0].tag == "b"
    # A promise to a job that is asked about is planned anew.
    assert asked(replace(case, promised=(Promise("j0", "b"),))).jobs[0].tag == "a"
    wheelless = [core("a", "", "h"), core("d", "w", "", 9_000)]
    taken = small([WHEEL, HOUSE], wheelless, ShelfQuestion(jobs(1), DAY), (Promise("other", "d", "wheel"),))
    assert asked(taken).cost == 10 + 900
    assert asked(replace(taken, promised=())).cost == 10 + 5 + 60
    stocked = part("wheel", "w", 100, 900, stock=1, lead=10)
    scarce = small(
        [stocked, HOUSE],
        [core("a", "", "h")],
        ShelfQuestion(jobs(1, due="2026-01-03"), DAY),
        (Promise("other", part=stocked.key),),
    )
    assert not asked(scarce).jobs
    assert asked(replace(scarce, promised=())).jobs


def test_a_rush_job_displaces_the_job_that_had_the_core() -> None:
    cores = [core("a", "w", "h", 10, donor=False), core("b", "", "h", 20, donor=False)]
    question = ShelfQuestion((*jobs(1), Job("rush", "build/b", "engine/e")), DAY, rush="rush", only_stock=True)
    case = small([WHEEL, HOUSE], cores, question)
    found = plan_rush(question, case.cores, case.evidence)
    assert [one.job.name for one in found.together.jobs] == ["rush"]
    assert [(d.job, d.before, d.after) for d in found.displaced] == [("j0", "a", "")]
    assert "must wait" in found.sentence
    enough = replace(question, only_stock=False)
    moved = plan_rush(enough, case.cores, case.evidence)
    assert len(moved.together.jobs) == 2 and moved.together.cost == 10 + 20 + 900


@pytest.mark.parametrize("seed", range(50))
def test_where_only_cores_are_short_it_is_an_assignment(seed: int, held: Held) -> None:
    """Each job its own build on any core, no donors: the cost matrix of single plans, solved by scipy."""
    r = Random(seed)
    sizes = [100, 101, 102]
    parts = [part("wheel", f"w{s}", s, r.randint(50, 400)) for s in sizes]
    parts += [part("house", f"h{s}", s, r.randint(50, 400)) for s in sizes]
    cores = [
        core(f"c{i}", f"w{r.choice(sizes)}", f"h{r.choice(sizes)}", r.randint(0, 200), donor=False) for i in range(5)
    ]
    builds = {}
    for size in sizes:
        rule = Rule("want", "want", "at_least", ("wheel", "size"), (), size)
        builds[f"build/{size}"] = (Build(f"build/{size}", str(size), "l"), rule)
    wanted = [r.choice(sizes) for _ in range(r.choice([3, 4]))]
    question = ShelfQuestion(tuple(Job(f"j{i}", f"build/{s}", "engine/e") for i, s in enumerate(wanted)), DAY)
    case = small(parts, cores, question)

    def evidence(asked_: PlanQuestion) -> Bundle:
        build, rule = builds[asked_.build]
        layout = replace(LAYOUT, rules=(*LAYOUT.rules, rule))
        start = next(c for c in cores if c.key == asked_.core)
        return replace(case.base, question=asked_, core=start, build=build, layout=layout)

    answer = plan_shelf(question, cores, evidence)
    size_of = {p.key: p.claims[0].value.amount for p in parts}  # type: ignore[union-attr]
    price = {p.key: p.price_new.price for p in parts if p.price_new}

    def cost(size: int, start: Core) -> int:
        kept = {f.seat: f.part for f in start.found}
        ways = []
        for wheel in [p for p in price if "/w" in p]:
            for house in [p for p in price if "/h" in p]:
                if size_of[wheel] == size_of[house] >= size:
                    bought = [p for p, seat in ((wheel, "wheel"), (house, "house")) if kept[seat] != p]
                    ways.append((start.book_value or 0) + sum(price[p] for p in bought))
        return min(ways)

    matrix = np.array([[cost(size, c) for c in cores] for size in wanted])
    rows, columns = linear_sum_assignment(matrix)
    assert answer.cost == matrix[rows, columns].sum()
    assert answer.proof is Proof.CHEAPEST
    held("allocation of a shelf", "scipy linear_sum_assignment", 1)


def test_it_says_what_is_not_proved_when_the_time_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock runs out before the least cost is looked for: a bound below the truth, and the gap in words.

    Witness: the same yards with all the time there is, which trying everything confirms above.
    """
    solve = allocation._Model.solve

    def out_of_time(self: Any, objective: Any, *, maximise: bool, **more: Any) -> object:
        return solve(self, objective, maximise=maximise, **more) if maximise else (None, None, 0)

    gaps = 0
    for seed in range(40):
        case = yard(seed)
        full = asked(case)
        if len(full.jobs) < 2:
            continue
        with monkeypatch.context() as patch:
            patch.setattr(allocation._Model, "solve", out_of_time)
            answer = asked(case)
        stands(answer, case)
        assert answer.proof is Proof.FOUND
        assert len(answer.jobs) == len(full.jobs)
        assert answer.bound is not None and full.bound is not None
        assert answer.bound <= full.cost <= answer.cost
        assert answer.gap == answer.cost - answer.bound
        if answer.gap:
            share = f"{100 * answer.gap / max(answer.bound, 1):.1f} % above that"
            assert "not proved cheapest: it cannot be done for less than" in answer.sentence
            assert share in answer.sentence
            gaps += 1
    assert gaps >= 3


def test_when_the_time_is_over_at_once_nothing_is_claimed() -> None:
    case = yard(next(s for s in range(40) if len(asked(yard(s)).jobs) > 1))
    answer = asked(case, remaining=lambda: 0.0)
    assert answer.proof in (Proof.FOUND, Proof.UNDECIDED)
    assert not answer.jobs or answer.bound is not None


def test_the_order_of_the_jobs_and_of_the_cores_changes_no_cost() -> None:
    seen = 0
    for seed in range(40):
        case = yard(seed)
        answer = asked(case)
        if len(answer.jobs) < 2:
            continue
        seen += 1
        turned = replace(case.question, jobs=case.question.jobs[::-1])
        other = plan_shelf(turned, case.cores[::-1], case.evidence)
        assert (len(other.jobs), other.cost) == (len(answer.jobs), answer.cost)
    assert seen > 3


def test_faulty_jobs_are_all_named_at_once() -> None:
    question = ShelfQuestion(
        (
            Job("x", "build/b", "engine/e", "core/none"),
            Job("x", "build/b", "engine/e", due="soon"),
            Job("y", "build/b", "engine/e", "core/a"),
            Job("z", "build/b", "engine/e", "core/a"),
        ),
        DAY,
        by="2026-13-01",
        rush="nobody",
    )
    case = small([WHEEL, HOUSE], [core("a", "w", "h")], question)
    with pytest.raises(BadQuestion) as caught:
        asked(case)
    for said in (
        "two jobs are called 'x'",
        "no core 'core/none'",
        "name the core 'core/a'",
        "'soon'",
        "2026-13-01",
        "nobody",
    ):
        assert said in caught.value.message
    with pytest.raises(BadQuestion, match="no job"):
        asked(replace(case, question=ShelfQuestion((), DAY)))


def test_book_values_in_another_currency_are_refused() -> None:
    foreign = replace(core("a", "w", "h"), currency="SEK")
    case = small([WHEEL, HOUSE], [foreign], ShelfQuestion(jobs(1), DAY))
    with pytest.raises(MixedCurrency):
        asked(case)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda a: replace(a, cost=a.cost - 1),
        lambda a: replace(a, jobs=(a.jobs[0], replace(a.jobs[1], tag=a.jobs[0].tag))),
        lambda a: replace(a, jobs=a.jobs[:1]),
        lambda a: replace(a, saved=1),
        lambda a: replace(
            a, jobs=(replace(a.jobs[0], promises=(Promise("j0", part=WHEEL.key, quantity=9),)), a.jobs[1])
        ),
    ],
)
def test_an_altered_allocation_is_refused(spoil: object) -> None:
    cores = [core("a", "w", ""), core("b", "", "h"), core("c", "w", "h", 50)]
    case = small([WHEEL, HOUSE], cores, ShelfQuestion(jobs(2), DAY))
    answer = spoil(asked(case))  # type: ignore[operator]
    assert list(objections(answer, {c.tag: c for c in cores}, {WHEEL.key: 1}, ()))
