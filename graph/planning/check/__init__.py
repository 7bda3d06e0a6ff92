"""The second witness: judges an answer by the claims in its evidence, with code of its own.

It follows docs/semantics.md and shares nothing with the search but the plain records: slow, exact and plain.
"""

from graph.planning.check.answer import check
from graph.planning.check.bound import Optimum, optimum
from graph.planning.check.refusal import Refusal

__all__ = ["Optimum", "Refusal", "check", "optimum"]
