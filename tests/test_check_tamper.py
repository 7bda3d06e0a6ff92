"""A saved answer with any one thing altered, sums and digests recomputed, is refused."""

import check_cases
import pytest
import tamper
from alone import judged_alone

from graph.planning.saved import saved


@pytest.mark.slow
@pytest.mark.parametrize(("best", "seed"), [(1, 0), (2, 1)])
def test_every_alteration_of_a_right_answer_is_refused(best: int, seed: int) -> None:
    answer = check_cases.answer(best)
    assert judged_alone(saved(answer)) == []
    altered = list(tamper.alterations(answer, seed))
    assert len(altered) > 300
    assert [name for name, wrong in altered if not judged_alone(saved(wrong))] == []


def test_an_alteration_breaks_no_sum_of_its_own() -> None:
    """Else the alterations would be found by adding up alone."""
    answer = check_cases.answer()
    for name, wrong in tamper.alterations(answer, 0):
        for plan in wrong.plans:
            if not name.startswith("total"):
                assert plan.cost == sum(line.amount or 0 for line in plan.costs), name
