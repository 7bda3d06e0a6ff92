"""What the checker says of an answer that it cannot confirm."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that the evidence does not bear out: a stable `code`, the place in the answer, and why.

    `optimality-not-confirmed` alone says nothing against the answer: the checker was stopped before it knew.
    """

    code: str
    where: str
    text: str
