"""Judging a saved answer: by its own evidence, and by the store it was read from where that is at hand."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, fields

from graph.errors import BadFile
from graph.model.bundle import Bundle
from graph.model.codec import to_json
from graph.model.depth import Objectives, WhyAnswer
from graph.model.record import Snapshot
from graph.model.verdict import Verdict
from graph.planning.check import Refusal
from graph.planning.saved import Saved, any_answer_of, judged

UNSURE = "optimality-not-confirmed"


@dataclass(frozen=True, slots=True)
class Judgement:
    """What was found against an answer. `against`: `store` or `evidence`, whichever it was held against."""

    refusals: tuple[Refusal, ...]
    against: str
    snapshot: Snapshot | None
    sentence: str

    @property
    def stands(self) -> bool:
        """Whether nothing speaks against the answer."""
        return not self.refusals


Evidence = Callable[[Saved], Bundle | None]
"""Gathers the answer's evidence anew from a store; None when that store never held the answer's snapshot."""


def judge(data: bytes, stores: Iterable[Evidence], stop: Callable[[], bool]) -> Judgement:
    """Judge the bytes of a saved answer.

    The stores are asked in turn for the evidence of the answer's own snapshot; the first that has it is compared
    with the bundle in the answer, fact by fact. With no such store only the bundle speaks.
    """
    try:
        answer = any_answer_of(data)
    except BadFile as error:
        refusal = Refusal(error.code, "file", error.message)
        return Judgement((refusal,), "evidence", None, "Refused: this is not a saved answer as it was given.")
    if answer.bundle is None:
        refusal = Refusal("no-evidence", "bundle", "the answer carries no evidence to judge it by")
        return Judgement((refusal,), "evidence", answer.snapshot, "Refused: there is nothing to judge it by.")
    refusals = judged(answer, stop)
    held = next((bundle for bundle in (gather(answer) for gather in stores) if bundle is not None), None)
    if held is not None:
        refusals += differences(answer.bundle, held)
    return Judgement(
        tuple(refusals), "evidence" if held is None else "store", answer.snapshot, _sentence(answer, refusals, held)
    )


def _sentence(answer: Saved, refusals: list[Refusal], held: Bundle | None) -> str:
    where = (
        f"the evidence in it; the store of snapshot {answer.snapshot.catalogue} is not at hand"
        if held is None
        else f"its evidence and the store, snapshot {answer.snapshot.catalogue}, shelf {answer.snapshot.shelf}"
    )
    if isinstance(answer, WhyAnswer):
        return _why_sentence(answer, refusals, where)
    if isinstance(answer, Objectives):
        return _weighed_sentence(answer, refusals, where)
    if not refusals:
        return f"Confirmed against {where}: {len(answer.plans)} plans, {answer.proof.value}."
    if all(r.code == UNSURE for r in refusals):
        return (
            f"Every plan is confirmed against {where}; that none is cheaper was not proved again in the time given."
        )
    return f"Refused: {len(refusals)} findings, held against {where}."


def _why_sentence(answer: WhyAnswer, refusals: list[Refusal], where: str) -> str:
    if answer.clash is None:
        what = "nothing clashes" if answer.verdict is not Verdict.NO else "a seat cannot be filled"
    else:
        what = f"a minimal clash of {len(answer.clash.members)}: together impossible, each one dropped possible"
    if not refusals:
        return f"Confirmed against {where}: {what}; {len(answer.ways)} way{'s' if len(answer.ways) != 1 else ''} out."
    if all(r.code == UNSURE for r in refusals):
        return f"Every plan is confirmed against {where}; not all was proved again in the time given."
    return f"Refused: {len(refusals)} findings, held against {where}."


def _weighed_sentence(answer: Objectives, refusals: list[Refusal], where: str) -> str:
    plans = f"{len(answer.plans)} plan{'s' if len(answer.plans) != 1 else ''}"
    if not answer.plans:
        what = "there is no certain plan"
    elif not answer.complete:
        what = f"{plans}; what may lie between was not worked out, and nothing is claimed of it"
    elif answer.question.by:
        what = "no certain plan is better by its measures"
    else:
        what = f"{plans} that nothing beats in both money and time, and no other is missing"
    if not refusals:
        return f"Confirmed against {where}: {what}."
    if all(r.code == UNSURE for r in refusals):
        return (
            f"Every plan is confirmed against {where}; that none is missing was not proved again in the time given."
        )
    return f"Refused: {len(refusals)} findings, held against {where}."


def differences(ours: Bundle, theirs: Bundle) -> list[Refusal]:
    """What the answer's evidence says otherwise than the store's, one refusal a record."""
    found: list[Refusal] = []
    for field in fields(Bundle):
        mine, held = to_json(getattr(ours, field.name)), to_json(getattr(theirs, field.name))
        if mine == held:
            continue
        if not isinstance(mine, list):
            found.append(Refusal("evidence-altered", f"bundle.{field.name}", "the store holds something else"))
            continue
        left = {str(row): row for row in mine}
        right = {str(row): row for row in held}
        for row in [left[key] for key in left.keys() - right.keys()]:
            found.append(
                Refusal("evidence-altered", f"bundle.{field.name}", f"the store does not hold {_short(row)}")
            )
        for row in [right[key] for key in right.keys() - left.keys()]:
            found.append(Refusal("evidence-left-out", f"bundle.{field.name}", f"the store also holds {_short(row)}"))
    return sorted(found, key=lambda r: (r.where, r.code, r.text))


def _short(row: object) -> str:
    if isinstance(row, dict):
        named = [str(row[name]) for name in ("key", "tag", "name", "when", "said") if row.get(name)]
        return " ".join(named[:2]) or str(row)
    return str(row)
