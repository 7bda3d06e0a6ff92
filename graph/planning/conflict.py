"""Which requirements between seats cannot be met together, when every seat by itself could be filled."""

from collections.abc import Callable

from graph.model.said import joined, say
from graph.model.verdict import Proof
from graph.planning.compile import Compiled
from graph.planning.explain import requirement_text, room_left
from graph.planning.network import Network
from graph.planning.search import k_best


def clash(made: Compiled, stop: Callable[[], bool]) -> list[str]:
    """A set of requirements none of which can be dropped from the clash, in words (by deletion, one search each)."""
    problem, network = made.problem, made.network
    names = list(dict.fromkeys(g for grounds in made.grounds for g in grounds))
    kept = set(names)
    for name in names:
        fewer = kept - {name}
        factors = tuple(
            f for f, grounds in zip(network.factors, made.grounds, strict=True) if all(g in fewer for g in grounds)
        )
        smaller = Network(network.unary, factors, network.labels, network.names)
        if k_best(smaller, 1, stop=stop).proof is Proof.IMPOSSIBLE:
            kept = fewer
    by_name = {r.name: r for r in problem.requirements}
    clashing = [by_name[n] for n in names if n in kept]
    if not clashing:
        return [
            say("no choice of parts and operations meets what concerns single seats, though each has some that would")
        ]
    asked = joined("; ", (requirement_text(problem, r) for r in clashing))
    if len(clashing) > 1:
        lead = say("cannot all be met: {demands}", demands=asked)
    else:
        lead = say("no part and no work on record meets: {demands}", demands=asked)
    return [lead, *room_left(problem, clashing)]
