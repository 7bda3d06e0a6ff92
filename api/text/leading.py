"""Where a number leads, and what may stand in for it, as tables: a row for each step or relation."""

from collections.abc import Iterable, Sequence
from typing import Any, Final

from graph.model.interchange import Derived, Disagreement, InterchangeAnswer, InterchangeReport
from graph.model.things import SupersessionAnswer

Row = dict[str, Any]
STEPS: Final = ("old", "new", "two_way", "from_date", "from_serial", "condition", "standing", "said")
RELATIONS: Final = ("relation", "layout", "seat", "part", "other", "verdict", "conditions", "missing", "why", "by")
EDGES: Final = ("relation", "seat", "part", "other", "verdict", "conditions", "why", "by")


def supersession_table(found: SupersessionAnswer) -> tuple[Sequence[str], list[Row]]:
    """Columns and rows: the steps in force first, in order, then what is held back, then what else is in reach."""
    steps = {one.said: f"step {n}" for n, one in enumerate(found.steps, 1)}
    standing = {one.said: "held back" for one in found.held} | steps
    ordered = (*found.steps, *found.held, *(one for one in found.all if one.said not in standing))
    return STEPS, [
        {
            "old": one.old,
            "new": one.new,
            "two_way": one.two_way,
            "from_date": one.from_date,
            "from_serial": one.from_serial,
            "condition": one.condition,
            "standing": standing.get(one.said, "not on the way"),
            "said": one.said,
        }
        for one in ordered
    ]


def interchange_table(found: InterchangeAnswer) -> tuple[Sequence[str], list[Row]]:
    """Columns and rows: what could sit here, whose place this could take, then what is asserted; best first."""
    rows = [*_derived("instead", found.instead), *_derived("stands in", found.stands_in)]
    return RELATIONS, [*rows, *_asserted(found.asserted)]


def report_table(found: InterchangeReport) -> tuple[Sequence[str], list[Row]]:
    """Columns and rows: what is asserted, held against the features, then what is derived and nobody asserts."""
    derived: list[Row] = [
        {
            "relation": "derived",
            "seat": one.seat,
            "part": one.part,
            "other": one.other,
            "verdict": one.verdict.value,
            "conditions": "; ".join(one.conditions),
        }
        for one in found.unasserted
    ]
    return EDGES, [*_asserted(found.asserted), *derived]


def _derived(relation: str, found: Iterable[Derived]) -> Iterable[Row]:
    for one in found:
        yield {
            "relation": relation,
            "layout": one.layout,
            "seat": one.seat,
            "part": one.part,
            "other": one.other,
            "verdict": one.verdict.value,
            "conditions": "; ".join(one.conditions),
            "missing": "; ".join(f"{fact.part} {fact.feature}: {fact.measure}" for fact in one.missing),
            "why": "; ".join(rule.text for rule in one.rules),
        }


def _asserted(found: Iterable[Disagreement]) -> Iterable[Row]:
    for one in found:
        yield {
            "relation": "asserted",
            "seat": one.asserted.seat,
            "part": one.asserted.part,
            "other": one.asserted.other,
            "verdict": one.how,
            "conditions": one.asserted.condition,
            "why": one.text,
            "by": one.by,
        }
