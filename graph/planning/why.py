"""Why a question cannot be met, and the cheapest ways out: one answer, not yet judged by the checker."""

from collections.abc import Callable

from graph.errors import Unanswerable
from graph.model.bundle import Bundle
from graph.model.depth import Clash, WayOut, WhyAnswer
from graph.model.verdict import Proof, Verdict
from graph.planning.answer import never, plan
from graph.planning.clash import Oracle, clash
from graph.planning.kept import Kept
from graph.planning.relax import ways_out


def why(bundle: Bundle, *, best: int = 3, waive: bool = False, stop: Callable[[], bool] = never) -> WhyAnswer:
    """What clashes and what to give up; a question that is possible is said to be so, with its plan's sentence.

    Raises
    ------
    Unanswerable
        Stopped before it was settled.
    """
    shared = Kept()
    answer = plan(bundle, stop=stop, kept=shared)
    if answer.proof is Proof.UNDECIDED:
        raise Unanswerable(
            "whether it is possible was not settled before the limit was reached", fix="give it more time"
        )
    if answer.verdict is not Verdict.NO:
        return WhyAnswer(
            bundle.question,
            bundle.snapshot,
            answer.verdict,
            answer.proof,
            answer.sentence,
            None,
            (),
            (),
            True,
            bundle,
        )
    oracle = Oracle(bundle, stop, shared)
    found = clash(bundle, stop, oracle)
    ways: tuple[WayOut, ...] = ()
    complete = True
    if found is not None:
        ways, complete = ways_out(bundle, best=best, waive=waive, stop=stop, oracle=oracle)
    causes = answer.causes if found is None else ()
    said = _sentence(bundle, found, causes, ways)
    return WhyAnswer(
        bundle.question, bundle.snapshot, answer.verdict, answer.proof, said, found, causes, ways, complete, bundle
    )


def _sentence(bundle: Bundle, found: Clash | None, causes: tuple[str, ...], ways: tuple[WayOut, ...]) -> str:
    start = f"Core {bundle.core.tag}"
    goal = f"{bundle.build.label or bundle.build.name} for {bundle.engine.label or bundle.engine.name}"
    if found is None:
        return f"{start} cannot become {goal} whatever is asked of it: {'; '.join(causes)}."
    asks = "; ".join(m.text for m in found.members)
    out = f"{start} cannot become {goal}: not all of this can be met together, though all but any one can: {asks}."
    if not ways:
        return f"{out} Nothing that may be given up makes it possible; another core may do."
    return f"{out} The cheapest way out: {ways[0].sentence}"
