"""A supposed case's plan, judged by the checker before anything is concluded from it."""

from dataclasses import replace

from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.check.case import Case, Mode
from graph.planning.check.compare import compared


def witnessed(answer: PlanAnswer) -> PlanAnswer:
    """The answer; undecided, without plans, where the second witness refuses one of them by the case's own evidence.

    That no plan, or none cheaper, exists is not proved a second time: that takes several times as long as the search,
    and `spoolwright verify` does it for the plan that is really made.
    """
    if answer.bundle is None or not answer.plans:
        return answer
    case = Case(answer.bundle)
    mode: Mode = "possible" if answer.verdict is Verdict.UNKNOWN else "certain"
    refused = [r for i, made in enumerate(answer.plans) for r in compared(case, made, mode, f"plans[{i}]")]
    if not refused:
        return answer
    words = f"The checker refuses this case, so nothing is concluded from it: {refused[0].where}: {refused[0].text}"
    return replace(answer, verdict=Verdict.UNKNOWN, proof=Proof.UNDECIDED, plans=(), open=(), sentence=words)
