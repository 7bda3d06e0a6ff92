"""The answer in a sentence or two that can be read to a customer."""

from collections.abc import Mapping, Sequence

from graph.model.fits import FitsEvidence, JointVerdict
from graph.model.plan import Plan
from graph.model.verdict import Missing, Verdict
from graph.swap.match import LARGER, NOT_KNOWN, SMALLER, Compared

SHOWN = 3  # more than three measurements in one sentence are not listened to


def sentence(
    evidence: FitsEvidence,
    joints: Sequence[JointVerdict],
    verdict: Verdict,
    *,
    compared: Sequence[Compared],
    open_facts: Sequence[Missing],
    plan: Plan | None,
    words: Mapping[str, str],
) -> str:
    """What the verdict is, why, what is needed, how it compares to original, and with whom to check."""
    what, onto = _names(evidence, words)
    failing = ", ".join(j.label for j in joints if j.verdict is Verdict.NO)
    if verdict is Verdict.NO:
        return f"{what} does not fit {onto}: {failing}; no operation on record here mends that."
    if verdict is Verdict.UNKNOWN:
        return f"It is not known whether {what} fits {onto}{_because(failing, evidence, open_facts)}."
    if verdict is Verdict.YES:
        opening = f"{what} fits {onto} as it stands"
    else:
        opening = f"{what} fits {onto} with work: {_work(evidence, plan, words)}"
    told = "" if evidence.engine is None and not evidence.question.seat else f" {_original(compared, words)}"
    return f"{opening}.{told} Check control and emissions with the engine maker's data and local law."


def _names(evidence: FitsEvidence, words: Mapping[str, str]) -> tuple[str, str]:
    asked, unit = evidence.question, evidence.unit
    name = f"{unit.maker} {unit.name}"
    engine = f"{evidence.engine.maker} {evidence.engine.name}" if evidence.engine is not None else ""
    if asked.seat:
        part = next(p for p in evidence.parts if p.key == asked.part)
        on = f" on {engine}" if engine else ""
        return f"{part.maker} {part.number}", f"the {words.get(asked.seat, asked.seat)} seat of {name}{on}"
    return (name, engine) if engine else (name, "together in itself")


def _because(failing: str, evidence: FitsEvidence, open_facts: Sequence[Missing]) -> str:
    said = []
    if failing:
        why = "whether work mends that was not asked" if evidence.mend is None else "whether work mends that is open"
        said.append(f"as it stands it does not ({failing}), and {why}")
    measures = list(dict.fromkeys(m.measure for m in open_facts))
    if measures:
        more = f", and {len(measures) - SHOWN} more" if len(measures) > SHOWN else ""
        said.append("; ".join(measures[:SHOWN]) + more)
    return ": " + ". To settle it: ".join(said) if len(said) > 1 else f": {said[0]}" if said else ""


def _work(evidence: FitsEvidence, plan: Plan | None, words: Mapping[str, str]) -> str:
    if plan is None:
        return "as planned"
    steps = [f"{s.label or s.operation}{f' ({words.get(s.seat, s.seat)})' if s.seat else ''}" for s in plan.steps]
    renewed = [words.get(c.seat, c.seat) for c in plan.seats if c.source in ("new", "donor")]
    filled = {seat for seat, part in evidence.unit.parts if part} | {evidence.question.seat}
    taken_out = [words.get(c.seat, c.seat) for c in plan.seats if c.source == "empty" and c.seat in filled]
    said = [*dict.fromkeys(steps), *(f"renew the {seat}" for seat in renewed)]
    said += [f"leave out the {seat}" for seat in taken_out]
    return "; ".join(said) or "nothing but what is always renewed"


def _original(compared: Sequence[Compared], words: Mapping[str, str]) -> str:
    def named(which: str) -> list[str]:
        return list(
            dict.fromkeys(
                f"{words.get(one.line.seat, one.line.seat)} {one.feature.label}".strip()
                for one in compared
                if one.feature is not None and one.line.compared == which
            )
        )

    said = [f"{', '.join(names)} {which} than original" for which in (LARGER, SMALLER) if (names := named(which))]
    if open_names := named(NOT_KNOWN):
        said.append(f"against original not known: {', '.join(open_names)}")
    if not said:
        return "Against original: same." if compared else "Against original: not known."
    text = "; ".join(said)
    return text[0].upper() + text[1:] + "."
