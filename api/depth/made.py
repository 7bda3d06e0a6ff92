"""Answers to what is asked after a plan, at the bench and of the shelf, as the bytes that leave, in every form."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from pydantic import TypeAdapter

from api.depth.shelf import allocated, rushed
from api.tables import table_csv, table_xlsx
from api.text.depth import least_lines, objectives_lines, ranking_lines, unknown_lines, why_lines
from api.words import money, told, wished
from graph.desk import Desk, depth
from graph.desk.bench import Bench
from graph.errors import BadQuestion
from graph.model.bench import SettleAnswer
from graph.model.depth import Least, Objectives, Ranking, StockAdvice, UnknownAnswer
from graph.model.plan import PlanAnswer
from graph.model.verdict import Proof
from graph.model.yard import RushAnswer, ShelfAnswer
from graph.planning.saved import saved

Row = Mapping[str, Any]
MS_A_MINUTE: Final = 60_000


def _json(kind: Any) -> Callable[[Any], bytes]:
    return TypeAdapter(kind).dump_json


@dataclass(frozen=True, slots=True)
class _Kind:
    """How one kind is asked of a desk and told. `sure`: no limit of time stopped it, so it will be the same again."""

    ask: Callable[..., Any]
    json: Callable[[Any], bytes]
    sure: Callable[[Any], bool]
    lines: Callable[[Any], Sequence[str]] | None = None
    table: Callable[[Any], tuple[Sequence[str], list[Row], str]] | None = None


def deep(desk: Desk, kind: str, given: Mapping[str, Any], form: str) -> tuple[bytes, bool]:
    """The answer to one question in one form (json, text, csv, xlsx), and whether it will be the same again.

    Raises
    ------
    SpoolwrightError
        As the desk.
    """
    how = DEEP[kind]
    found = how.ask(desk, **given)
    sure = how.sure(found)
    if form == "text" and how.lines is not None:
        return ("\n".join(how.lines(found)) + "\n").encode(), sure
    if form in ("csv", "xlsx") and how.table is not None:
        make = table_xlsx if form == "xlsx" else table_csv
        return make(*how.table(found)), sure
    return how.json(found), sure


RANKED: Final = ("name", "verdict", "cost", "not below", "needs")


def _ranking_table(found: Ranking) -> tuple[Sequence[str], list[Row], str]:
    """A row a core or build, in the order of the answer; amounts carry their currency."""
    rows: list[Row] = [
        {
            "name": row.name,
            "verdict": row.verdict.value if row.verdict else "not worked out",
            "cost": money(row.cost, found.currency) if row.cost is not None else "",
            "not below": money(row.least, found.currency) if row.cost is None and row.least is not None else "",
            "needs": told(row.needs),
        }
        for row in found.ranked
    ]
    wishes = f"; wished: {'; '.join(wished(w) for w in found.wishes)}" if found.wishes else ""
    return RANKED, rows, f"{found.exact} of {len(rows)} worked out exactly{wishes}"


WEIGHED: Final = ("cost", "minutes", "seats changed", "operations for good", "lead time [days]")


def _objectives_table(found: Objectives) -> tuple[Sequence[str], list[Row], str]:
    rows: list[Row] = [
        {
            "cost": money(one.cost, one.plan.currency, at_least=one.plan.at_least),
            "minutes": f"{one.time / MS_A_MINUTE:g}",
            "seats changed": one.changes,
            "operations for good": one.lasting,
            "lead time [days]": "not known" if one.lead_days is None else one.lead_days,
        }
        for one in found.plans
    ]
    return WEIGHED, rows, "" if found.complete else "there may be more between them: the time given was too short"


def _kept_table(found: StockAdvice) -> tuple[Sequence[str], list[Row], str]:
    rows: list[Row] = [{"part": told(part)} for part in found.parts]
    return ("part",), rows, f"{len(found.possible)} of {found.of} builds can be made from stock then"


def _planned_surely(found: PlanAnswer | None) -> bool:
    return found is None or found.proof in (Proof.CHEAPEST, Proof.IMPOSSIBLE)


def _ranked_surely(found: Ranking) -> bool:
    return all(_planned_surely(row.answer) for row in found.ranked)


def _least_surely(found: Least) -> bool:
    return found.changes is not None or _planned_surely(found.answer)


def _allocated_surely(found: ShelfAnswer) -> bool:
    return found.proof in (Proof.CHEAPEST, Proof.IMPOSSIBLE)


def _rushed_surely(found: RushAnswer) -> bool:
    return _allocated_surely(found.without) and _allocated_surely(found.together)


def _settled(
    desk: Desk, *, core: str, build: str, unit: str, engine: str, wishes: Sequence[str], day: str, seconds: float
) -> SettleAnswer:
    if core and build:
        return Bench(desk).settle_plan(core, build, engine, wishes=wishes, day=day, seconds=seconds)
    if unit and engine:
        return Bench(desk).settle_fits(unit, engine, day=day, seconds=seconds)
    raise BadQuestion("nothing is asked", fix="name a core and a build, or a unit and an engine")


DEEP: Final[Mapping[str, _Kind]] = {
    "why": _Kind(depth.why, saved, lambda a: a.complete, why_lines),
    "unknown": _Kind(depth.unknown, _json(UnknownAnswer), lambda a: a.complete, unknown_lines),
    "weigh": _Kind(depth.objectives, saved, lambda a: a.complete, objectives_lines, _objectives_table),
    "rank": _Kind(depth.rank, _json(Ranking), _ranked_surely, ranking_lines, _ranking_table),
    "reach": _Kind(depth.reach, _json(Ranking), _ranked_surely, ranking_lines, _ranking_table),
    "least": _Kind(depth.least, _json(Least), _least_surely, least_lines),
    "settle": _Kind(_settled, _json(SettleAnswer), lambda a: False),
    "shelf": _Kind(allocated, _json(ShelfAnswer), _allocated_surely),
    "rush": _Kind(
        rushed, _json(RushAnswer), lambda a: _allocated_surely(a.without) and _allocated_surely(a.together)
    ),
    "keep": _Kind(depth.advise, _json(StockAdvice), lambda a: a.proved, None, _kept_table),
}
"""The kinds of questions, and how each is put and told."""
