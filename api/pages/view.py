"""What the answer pages show of an answer: margins, what became of each seat, alternatives and how they differ."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from api.pages.terms import word
from api.pages.wording import _
from graph.desk import Desk
from graph.model.fits import FitsAnswer
from graph.model.plan import Plan
from graph.model.verdict import RuleVerdict
from ontology.quantities import shown


def margin(rule: RuleVerdict) -> str:
    """How far it is to the nearer limit, or by how much it is beyond it."""
    if rule.margin is None or not rule.quantity:
        return ""
    amount = shown(abs(rule.margin), rule.quantity, difference=True)
    if rule.margin < 0:
        return _("%(amount)s beyond the limit") % {"amount": amount}
    return _("%(amount)s to spare") % {"amount": amount}


def seat_states(plan: Plan | None, to_measure: Iterable[str] = ()) -> dict[str, str]:
    """What becomes of each seat in a plan; a seat whose fact is still missing is to be measured."""
    if plan is None:
        return {}
    open_ = set(to_measure)
    states = {}
    for choice in plan.seats:
        state = choice.source
        if state == "kept" and choice.operations:
            state = "machined"
        states[choice.seat] = "measure" if choice.seat in open_ else state
    return states


class Others(NamedTuple):
    """Other units for an engine: those shown, of how many that were looked at, of how many there are."""

    shown: list[FitsAnswer]
    looked_at: int
    there: int


def alternatives(desk: Desk, asked: FitsAnswer, day: str, most: int) -> Others:
    """Other units for the engine: the best verdicts first, then originals, then by name; at most `most`.

    Twice as many are looked at: those that the engine left the factory with first, then those of the same layout.
    """
    engine = asked.question.engine
    originals = {f.unit for f in desk.catalogue.fitments(engine=engine)}
    own = desk.catalogue.unit(asked.question.unit).layout
    units = [u for u in desk.catalogue.units() if u.key != asked.question.unit]
    units.sort(key=lambda u: (u.key not in originals, u.layout != own, u.key))
    name = desk.catalogue.engine(engine)
    looked_at = units[: 2 * most]
    answers = [desk.fits(f"{u.maker} {u.name}", f"{name.maker} {name.name}", day=day)[0] for u in looked_at]
    answers.sort(key=lambda a: (-a.verdict.rank, a.question.unit not in originals, a.question.unit))
    return Others(answers[:most], len(looked_at), len(units))


def differing(columns: Sequence[FitsAnswer]) -> list[tuple[str, list[tuple[str, bool]]]]:
    """Rows of a comparison: what, and for each column its text and whether it differs from the first column's.

    Joints by their verdict, then what is unlike the original; rows that are alike in all columns are left out.
    """
    rows: dict[str, list[list[str]]] = {}

    def say(label: str, place: int, text: str) -> None:
        cell = rows.setdefault(label, [[] for _ in columns])[place]
        cell += [] if text in cell else [text]  # of several originals each is told, once

    for place, answer in enumerate(columns):
        for joint in answer.joints:
            say(joint.label or joint.joint, place, word(joint.verdict))
        for match in answer.match:
            label = f"{match.seat} {match.feature}".replace("-", " ").replace("_", " ")
            say(label, place, match.ours if match.compared == "same" else f"{match.ours} ({word(match.compared)})")
    made = []
    for label, cells in rows.items():
        texts = [" | ".join(cell) for cell in cells]
        if len(set(texts)) > 1:
            made.append((label, [(text or _("no such joint"), text != texts[0]) for text in texts]))
    return made
