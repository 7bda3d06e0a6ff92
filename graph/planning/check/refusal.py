"""What the checker says of an answer that it cannot confirm."""

from dataclasses import dataclass

UNCONFIRMED = "optimality-not-confirmed"
"""The code that says nothing against the answer: the checker was stopped before it knew."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that the evidence does not bear out: a stable `code`, the place in the answer, and why.

    `UNCONFIRMED` alone says nothing against the answer.
    """

    code: str
    where: str
    text: str
