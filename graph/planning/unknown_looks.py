"""A question looked at as if some of its missing facts had been found: its cheapest certain and possible plan.

Rule 1: a fact lies between two sizes (or at one code) as if it had been read so; what is certain then holds for every
value in between. Nothing is inferred from single values.
Rule 2: work is counted, not timed; where it ends, nothing more is said.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

from graph.model.bundle import Bundle
from graph.model.verdict import Proof
from graph.planning.answer import written
from graph.planning.compile import Compiled, compiled
from graph.planning.problem import Problem
from graph.planning.search import k_best
from graph.planning.unknown_gap import Given, Look, completed

MOST_WORK = 400_000
"""Options weighed in all looks together (one look at a core with many donors weighs some 300)."""

DOUBT = 100_000_000
"""What one open requirement weighs against money, so that plans which hang on little come first."""


class Spent(Exception):
    """No work is left."""


@dataclass(slots=True)
class Looks:
    """The looks taken so far; `left`: options that may still be weighed."""

    bundle: Bundle
    stop: Callable[[], bool]
    left: int = field(default_factory=lambda: MOST_WORK)
    _problems: dict[Given, Problem] = field(default_factory=dict)
    _found: dict[tuple[Given, str], tuple[Compiled, tuple[int, ...] | None]] = field(default_factory=dict)
    _looks: dict[tuple[Given, str], Look] = field(default_factory=dict)

    def able(self, given: Given) -> bool:
        """Whether there is a certain plan."""
        return self._solved(given, "certain")[1] is not None

    def hopeless(self, given: Given) -> bool:
        """Whether there is no possible plan."""
        return self._solved(given, "possible")[1] is None

    def sure(self, given: Given) -> Look | None:
        """The cheapest certain plan."""
        return self._look(given, "certain")

    def cheapest(self, given: Given) -> Look | None:
        """The cheapest possible plan."""
        return self._look(given, "possible")

    def likeliest(self, given: Given) -> Look | None:
        """The possible plan that hangs on least, of such the cheapest."""
        return self._look(given, "likeliest")

    def others(self, most: int) -> list[Look]:
        """The possible plans of the question as it stands that hang on least, at most so many."""
        made, _ = self._solved((), "likeliest")
        found = k_best(made.network, most, stop=self.stop)
        return [self._written(made, s.choice) for s in found.solutions]

    def given(self, given: Given) -> Bundle:
        """The bundle as if these facts had been found so."""
        bundle = self.bundle
        for gap, taken in given:
            bundle = completed(bundle, gap, taken)
        return bundle

    def problem(self, given: Given) -> Problem:
        """The question as if these facts had been found so."""
        if given not in self._problems:
            whole = self._problems.get(())
            if whole is None:
                whole = self._problems[()] = Problem(self.bundle)
            self._problems[given] = whole.asked_otherwise(self.given(given)) if given else whole
        return self._problems[given]

    def _look(self, given: Given, how: str) -> Look | None:
        made, choice = self._solved(given, how)
        if choice is None:
            return None
        if (given, how) not in self._looks:
            self._looks[given, how] = self._written(made, choice)
        return self._looks[given, how]

    def _written(self, made: Compiled, choice: tuple[int, ...]) -> Look:
        plan, open_, facts = written(made, choice)
        return Look(made, choice, plan, open_, facts)

    def _solved(self, given: Given, how: str) -> tuple[Compiled, tuple[int, ...] | None]:
        if (given, how) not in self._found:
            if self.left <= 0 or self.stop():
                raise Spent
            doubt = DOUBT if how == "likeliest" else 0
            made = compiled(self.problem(given), certain=how == "certain", doubt=doubt)
            self.left -= sum(len(own) for own in made.network.unary)
            found = k_best(made.network, 1, stop=self.stop)
            if found.proof is Proof.UNDECIDED:
                raise Spent
            self._found[given, how] = made, found.solutions[0].choice if found.solutions else None
        return self._found[given, how]
