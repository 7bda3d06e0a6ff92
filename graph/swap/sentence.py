"""The answer in a sentence or two that can be read to a customer."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from graph.model.fits import FitsEvidence, JointVerdict
from graph.model.plan import Plan
from graph.model.verdict import Missing, Verdict
from graph.swap.match import DIFFERENT, LARGER, LAYOUT, NOT_KNOWN, SAME, SMALLER, Compared

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
    """How it compares with what the engine left the factory with; each of several originals by name."""
    if not compared:
        return "Against original: not known."
    by_original: dict[str, list[Compared]] = {}
    for one in compared:
        by_original.setdefault(one.named, []).append(one)
    if len(by_original) > 1:
        told = (
            f"Against {name}: {'; '.join(f'{which} {names}' for which, names in _differing(lines, words)) or SAME}."
            for name, lines in by_original.items()
        )
        return " ".join(told)
    said = [
        f"against original not known: {names}" if which == NOT_KNOWN else f"{names} {which} {_THAN[which]} original"
        for which, names in _differing(compared, words)
    ]
    text = "; ".join(said)
    return f"{text[0].upper()}{text[1:]}." if text else "Against original: same."


_THAN = {LARGER: "than", SMALLER: "than", DIFFERENT: "from"}


def _differing(compared: Iterable[Compared], words: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """What is not the same, with the names of what is so: larger, smaller, different, not known."""
    lines = list(compared)
    for which in (LARGER, SMALLER, DIFFERENT, NOT_KNOWN):
        names = [
            f"{words.get(one.line.seat, one.line.seat)} {one.feature.label if one.feature else LAYOUT}".strip()
            for one in lines
            if one.line.compared == which
        ]
        if names:
            yield which, ", ".join(dict.fromkeys(names))
