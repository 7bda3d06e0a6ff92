"""Minimal conflicts and relaxations of any monotone oracle, against trying every subset."""

import random
from collections.abc import Callable
from itertools import combinations

from hypothesis import given, settings
from hypothesis import strategies as st

from graph.planning.quickxplain import minimal_conflict, minimal_relaxations

Held = Callable[..., None]
Sets = list[frozenset[int]]


def oracle(conflicts: Sets, asked: list[frozenset[int]]):  # type: ignore[no-untyped-def]
    def possible(some: frozenset[int]) -> bool:
        asked.append(some)
        return not any(c <= some for c in conflicts)

    return possible


def hitting(conflicts: Sets, members: list[int]) -> Sets:
    """All minimal sets that hit every conflict, by trying every set."""
    found: Sets = []
    for size in range(len(members) + 1):
        for some in combinations(members, size):
            given_up = frozenset(some)
            if all(given_up & c for c in conflicts) and not any(f <= given_up for f in found):
                found.append(given_up)
    return found


def test_conflicts_and_relaxations_of_400_random_oracles_are_those_of_trying_everything(held: Held) -> None:
    impossible = 0
    for seed in range(400):
        r = random.Random(seed)
        members = list(range(r.randint(1, 9)))
        conflicts = [frozenset(r.sample(members, r.randint(1, len(members)))) for _ in range(r.randint(0, 4))]
        possible = oracle(conflicts, [])
        found = minimal_conflict(members, possible)
        relaxed, complete = minimal_relaxations(members, possible)
        assert complete
        assert sorted(relaxed, key=sorted) == sorted(hitting(conflicts, members), key=sorted)
        if not conflicts:
            assert found is None
            assert relaxed == [frozenset()]
            continue
        impossible += 1
        assert found is not None
        assert any(c <= frozenset(found) for c in conflicts)
        for member in found:
            assert not any(c <= frozenset(found) - {member} for c in conflicts)
        assert list(found) == sorted(found)
    held("minimal clash", "every subset of an oracle's members", impossible)
    held("minimal relaxations", "every subset of an oracle's members", impossible)
    assert impossible > 250


def test_nothing_that_can_be_met_is_the_empty_conflict() -> None:
    assert minimal_conflict([1, 2], lambda some: False) == ()
    assert minimal_conflict([], lambda some: True) is None


@settings(max_examples=80, deadline=None)
@given(st.integers(20, 60), st.integers(1, 3), st.integers(0, 10**6))
def test_a_small_conflict_in_many_members_takes_few_questions(count: int, size: int, seed: int) -> None:
    """Junker 2004, from memory: at most 2 k log2(n / k) + 2 k checks, and the two asked first here."""
    r = random.Random(seed)
    conflict = frozenset(r.sample(range(count), size))
    asked: list[frozenset[int]] = []
    assert minimal_conflict(range(count), oracle([conflict], asked)) == tuple(sorted(conflict))
    most = 2 * size * max(1, _log(count / size)) + 2 * size + 2
    assert len(asked) <= most


def _log(x: float) -> int:
    n = 0
    while 2**n < x:
        n += 1
    return n


def test_a_tree_that_grows_too_large_says_so() -> None:
    conflicts = [frozenset({i, i + 10}) for i in range(10)]
    found, complete = minimal_relaxations(range(20), oracle(conflicts, []), most=50)
    assert not complete
    assert all(all(f & c for c in conflicts) for f in found)
