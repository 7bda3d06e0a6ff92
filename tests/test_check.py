"""The checker against plans worked out by hand (tests/support/check_cases.py shows the sums)."""

import ast
import sys
from dataclasses import replace
from pathlib import Path

import check_cases
import pytest

import graph.planning.check
from graph.model.claim import Rank
from graph.model.plan import PlanAnswer
from graph.model.record import FoundPart, Rate, Supersession
from graph.model.verdict import Missing, Proof, Verdict
from graph.planning.check import check, optimum

HAND_COSTS = (34_830, 35_130, 37_150, 37_450, 63_550)


def codes(answer: PlanAnswer) -> set[str]:
    assert answer.bundle is not None
    return {r.code for r in check(answer, answer.bundle)}


@pytest.mark.parametrize("best", [1, 2, 3, 4, 5])
def test_plans_worked_out_by_hand_are_confirmed(best: int) -> None:
    answer = check_cases.answer(best)
    assert answer.bundle is not None
    assert check(answer, answer.bundle) == []


def test_the_bound_finds_the_costs_worked_out_by_hand() -> None:
    assert optimum(check_cases.bundle(), best=5).costs == HAND_COSTS


def test_the_checker_imports_nothing_but_the_records_and_the_errors() -> None:
    folder = Path(graph.planning.check.__file__).parent
    for path in sorted(folder.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            for name in names:
                own = name.startswith(("graph.model", "graph.errors", "graph.planning.check"))
                assert own or name.partition(".")[0] in sys.stdlib_module_names, (path.name, name)


def test_a_dearer_plan_is_not_proved_cheapest() -> None:
    answer = check_cases.answer(1)
    dear = replace(answer, plans=(check_cases.plan_c(),), bound=37_150)
    assert codes(dear) == {"optimality"}


def test_a_dearer_plan_that_was_only_found_is_confirmed() -> None:
    answer = check_cases.answer(1)
    assert codes(replace(answer, plans=(check_cases.plan_c(),), bound=34_830, proof=Proof.FOUND)) == set()


def test_a_bound_above_a_plan_that_exists_is_refused() -> None:
    answer = check_cases.answer(1)
    assert codes(replace(answer, plans=(check_cases.plan_c(),), bound=34_831, proof=Proof.FOUND)) == {"bound"}


@pytest.mark.parametrize("left_out", range(5))
def test_a_plan_left_out_of_the_best_is_missed(left_out: int) -> None:
    answer = check_cases.answer()
    plans = tuple(p for i, p in enumerate(answer.plans) if i != left_out)
    assert codes(replace(answer, plans=plans, bound=plans[0].cost)) == {"optimality"}


def test_a_check_that_is_stopped_says_so_and_nothing_worse() -> None:
    answer = check_cases.answer()
    assert answer.bundle is not None
    refusals = check(answer, answer.bundle, stop=lambda: True)
    assert [r.code for r in refusals] == ["optimality-not-confirmed"]


def test_a_build_that_can_be_done_is_not_proved_impossible() -> None:
    answer = check_cases.answer()
    none = replace(answer, plans=(), verdict=Verdict.NO, proof=Proof.IMPOSSIBLE, bound=None, causes=("bore",))
    assert codes(none) == {"optimality"}


def test_a_build_without_a_way_is_confirmed_as_impossible() -> None:
    """No gear of the list is as large as 61.00."""
    answer = check_cases.answer()
    assert answer.bundle is not None
    build = answer.bundle.build
    larger = replace(build.demands[0], value=check_cases.size("61.00"))
    none = replace(answer, plans=(), verdict=Verdict.NO, proof=Proof.IMPOSSIBLE, bound=None, causes=("gear.od",))
    assert codes(check_cases.asked_with(none, build=replace(build, demands=(larger, build.demands[1])))) == set()


def with_housing(answer: PlanAnswer, found: FoundPart) -> PlanAnswer:
    assert answer.bundle is not None
    core = answer.bundle.core
    return check_cases.asked_with(answer, core=replace(core, found=(found, *core.found[1:])))


@pytest.mark.parametrize("state", ["cracked", "scrap", "missing"])
def test_a_part_that_is_not_there_or_not_sound_is_never_kept(state: str) -> None:
    answer = check_cases.answer()
    assert "option" in codes(with_housing(answer, replace(check_cases.CORE.found[0], state=state)))


def test_a_wall_that_nobody_read_blocks_the_bore() -> None:
    housing = check_cases.CORE.found[0]
    assert "limit" in codes(with_housing(check_cases.answer(), replace(housing, readings=housing.readings[:2])))


def test_a_wall_only_heard_of_blocks_the_bore() -> None:
    housing = check_cases.CORE.found[0]
    heard = replace(housing.readings[2], rank=Rank.HEARD)
    found = replace(housing, readings=(*housing.readings[:2], heard))
    assert "limit" in codes(with_housing(check_cases.answer(), found))


def test_a_wall_with_room_for_less_than_the_bore_blocks_it() -> None:
    """From 59.99, the wall of 5.60 leaves 2 × (5.55 - 0.30 - 5.00) = 0.50: 60.49 is less than 60.62."""
    housing = check_cases.CORE.found[0]
    thin = replace(housing.readings[2], value=check_cases.size("5.60"))
    found = replace(housing, readings=(*housing.readings[:2], thin))
    assert "size" in codes(with_housing(check_cases.answer(), found))


def test_a_gear_above_its_speed_is_refused_whatever_the_answer_says() -> None:
    answer = check_cases.answer()
    assert answer.bundle is not None
    claims = answer.bundle.engine.claims
    fast = replace(claims[1], value=check_cases.rpm(12_000))
    engine = replace(answer.bundle.engine, claims=(claims[0], fast))
    assert "rule" in codes(check_cases.asked_with(answer, engine=engine))


def test_a_worn_shaft_that_was_not_read_settles_nothing() -> None:
    answer = check_cases.answer()
    assert answer.bundle is not None
    core = answer.bundle.core
    found = tuple(replace(f, readings=()) if f.seat == "shaft" else f for f in core.found)
    assert "rule" in codes(check_cases.asked_with(answer, core=replace(core, found=found)))


def test_a_part_superseded_and_out_of_stock_is_not_bought() -> None:
    answer = check_cases.answer()
    assert answer.bundle is not None
    gone = (Supersession("part/O/SL", "part/O/SM", from_date="2025-01-01"),)
    parts = tuple(replace(p, superseded_by=gone) if p.number == "SL" else p for p in answer.bundle.parts)
    assert "option" in codes(check_cases.asked_with(answer, parts=parts))


@pytest.mark.parametrize(
    "wish",
    [
        "no-new",
        "only-stock",
        "no-used:housing",
        "no-machining",
        "keep:gear",
        "no-part:part/O/G2",
        "no-operation:bore",
    ],
)
def test_a_wish_that_the_plan_goes_against_is_noticed(wish: str) -> None:
    answer = check_cases.answer(1)
    assert answer.bundle is not None
    question = replace(answer.bundle.question, wishes=(wish,))
    asked = check_cases.asked_with(replace(answer, question=question), question=question)
    assert codes(asked) & {"option", "operation"}


def test_two_currencies_do_not_add_up() -> None:
    answer = check_cases.answer()
    assert "currency" in codes(check_cases.asked_with(answer, rates=(Rate("shop", 9000, "CHF", "t-shop"),)))


def test_a_missing_rate_makes_the_cost_at_least_and_is_never_proved() -> None:
    assert "total" in codes(check_cases.asked_with(check_cases.answer(), rates=()))
    answer = check_cases.answer(1)
    guessed = replace(answer, plans=(replace(answer.plans[0], at_least=True),))
    assert {"proof", "total"} <= codes(guessed)


def test_a_certain_plan_is_not_passed_off_as_not_known() -> None:
    answer = replace(check_cases.answer(1), plans=(check_cases.plan_b(),), proof=Proof.FOUND, bound=None)
    open_fact = (Missing("gear", "od", "part/O/G2", "no claim", "measure it"),)
    assert codes(replace(answer, verdict=Verdict.UNKNOWN, open=open_fact)) == {"optimality"}


def test_fits_is_not_said_of_a_plan_that_bores() -> None:
    assert codes(replace(check_cases.answer(1), verdict=Verdict.YES)) == {"verdict"}
