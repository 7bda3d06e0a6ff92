"""Minimal sets out of a yes-or-no oracle: one minimal conflict (Junker 2004), all minimal relaxations (Reiter 1987).

Rule 1: nothing here knows what a member is; `possible` says of a set of members whether they can be met together.
Rule 2: what is possible stays so with fewer members. The order given decides which of several conflicts is found.
"""

from collections.abc import Callable, Collection, Hashable, Sequence
from typing import TypeVar

M = TypeVar("M", bound=Hashable)
Possible = Callable[[frozenset[M]], bool]


def minimal_conflict(members: Sequence[M], possible: Possible[M]) -> tuple[M, ...] | None:
    """A set that cannot be met while each smaller one can, in the order given; None when all can be met.

    The empty set: not even nothing can be met. About 2 k log2(n / k) + 2 k asks for k of n members.
    """
    if possible(frozenset(members)):
        return None
    if not possible(frozenset()):
        return ()

    def divide(base: frozenset[M], grown: bool, rest: Sequence[M]) -> frozenset[M]:
        if grown and not possible(base):
            return frozenset()
        if len(rest) == 1:
            return frozenset(rest)
        middle = len(rest) // 2
        first, second = rest[:middle], rest[middle:]
        later = divide(base | frozenset(first), True, second)
        return divide(base | later, bool(later), first) | later

    found = divide(frozenset(), False, list(members))
    return tuple(m for m in members if m in found)


def minimal_relaxations(
    members: Sequence[M], possible: Possible[M], *, most: int = 256
) -> tuple[list[frozenset[M]], bool]:
    """All minimal sets of members to give up so that the rest can be met, smallest first; True: these are all.

    Reiter's hitting-set tree, breadth first, over conflicts found on the way; `most` nodes are opened.
    """
    conflicts: list[tuple[M, ...]] = []
    found: list[frozenset[M]] = []
    level: list[frozenset[M]] = [frozenset()]
    opened = 0
    while level:
        below: dict[frozenset[M], None] = {}
        for given in level:
            if any(one <= given for one in found):
                continue
            opened += 1
            if opened > most:
                return found, False
            conflict: Collection[M] | None = next((c for c in conflicts if not given & set(c)), None)
            if conflict is None:
                conflict = minimal_conflict([m for m in members if m not in given], possible)
                if conflict is None:
                    found.append(given)
                    continue
                conflicts.append(tuple(conflict))
            for member in conflict:
                below[given | {member}] = None
        level = list(below)
    return found, True
