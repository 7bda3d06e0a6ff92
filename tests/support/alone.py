"""A saved answer judged by the evidence it carries alone, with no store at hand."""

from graph.desk.judging import judge
from graph.planning.answer import never
from graph.planning.check import Refusal


def judged_alone(data: bytes) -> list[Refusal]:
    """What speaks against it."""
    return list(judge(data, (), never).refusals)
