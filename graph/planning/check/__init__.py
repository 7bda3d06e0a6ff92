"""The second witness: judges an answer by the claims in its evidence, with code of its own.

It follows docs/semantics.md and shares nothing with the search but the plain records: exact and plain.
"""

from graph.planning.check.answer import check
from graph.planning.check.bound import Optimum, optimum
from graph.planning.check.refusal import Refusal
from graph.planning.check.shared import Shared

__all__ = ["Optimum", "Refusal", "Shared", "check", "optimum"]
