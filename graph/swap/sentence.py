"""The answer in a sentence or two that can be read to a customer."""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from graph.model.fits import FitsEvidence, JointVerdict
from graph.model.plan import Plan
from graph.model.said import joined, say
from graph.model.verdict import Missing, Verdict
from graph.swap.match import DIFFERENT, LARGER, LAYOUT, NOT_KNOWN, SMALLER, Compared

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
        return say(
            "{unit} does not fit {onto}: {joints}; no operation on record here mends that.",
            unit=what, onto=onto, joints=failing,
        )  # fmt: skip
    if verdict is Verdict.UNKNOWN:
        why = _because(failing, evidence, open_facts)
        if not why:
            return say("It is not known whether {unit} fits {onto}.", unit=what, onto=onto)
        return say("It is not known whether {unit} fits {onto}: {why}.", unit=what, onto=onto, why=why)
    if verdict is Verdict.YES:
        opening = say("{unit} fits {onto} as it stands.", unit=what, onto=onto)
    else:
        opening = say(
            "{unit} fits {onto} with work: {work}.", unit=what, onto=onto, work=_work(evidence, plan, words)
        )
    told = [] if evidence.engine is None and not evidence.question.seat else [_original(compared, words)]
    check = say("Check control and emissions with the engine maker's data and local law.")
    return joined(" ", (opening, *told, check))


def _names(evidence: FitsEvidence, words: Mapping[str, str]) -> tuple[str, str]:
    asked, unit = evidence.question, evidence.unit
    name = f"{unit.maker} {unit.name}"
    engine = f"{evidence.engine.maker} {evidence.engine.name}" if evidence.engine is not None else ""
    if asked.seat:
        part = next(p for p in evidence.parts if p.key == asked.part)
        seat = say("the {seat} seat of {unit}", seat=words.get(asked.seat, asked.seat), unit=name)
        onto = say("{seat} on {engine}", seat=seat, engine=engine) if engine else seat
        return f"{part.maker} {part.number}", onto
    return (name, engine) if engine else (name, say("together in itself"))


def _because(failing: str, evidence: FitsEvidence, open_facts: Sequence[Missing]) -> str:
    said: list[str] = []
    if failing:
        asked = say("as it stands it does not ({joints}), and whether work mends that was not asked", joints=failing)
        left = say("as it stands it does not ({joints}), and whether work mends that is open", joints=failing)
        said.append(asked if evidence.mend is None else left)
    measures = list(dict.fromkeys(m.measure for m in open_facts))
    if measures:
        first = joined("; ", measures[:SHOWN])
        more = len(measures) - SHOWN
        said.append(say("{measures}, and {n} more", measures=first, n=more) if more > 0 else first)
    if len(said) > 1:
        return say("{why}. To settle it: {measures}", why=said[0], measures=said[1])
    return said[0] if said else ""


def _work(evidence: FitsEvidence, plan: Plan | None, words: Mapping[str, str]) -> str:
    if plan is None:
        return say("as planned")
    steps = [f"{s.label or s.operation}{f' ({words.get(s.seat, s.seat)})' if s.seat else ''}" for s in plan.steps]
    renewed = [words.get(c.seat, c.seat) for c in plan.seats if c.source in ("new", "donor")]
    filled = {seat for seat, part in evidence.unit.parts if part} | {evidence.question.seat}
    taken_out = [words.get(c.seat, c.seat) for c in plan.seats if c.source == "empty" and c.seat in filled]
    said = [*dict.fromkeys(steps), *(say("renew the {seat}", seat=seat) for seat in renewed)]
    said += [say("leave out the {seat}", seat=seat) for seat in taken_out]
    return joined("; ", said) or say("nothing but what is always renewed")


def _original(compared: Sequence[Compared], words: Mapping[str, str]) -> str:
    """How it compares with what the engine left the factory with; each of several originals by name."""
    if not compared:
        return say("Against original: not known.")
    by_original: dict[str, list[Compared]] = {}
    for one in compared:
        by_original.setdefault(one.named, []).append(one)
    if len(by_original) > 1:
        return joined(" ", (_against(name, lines, words) for name, lines in by_original.items()))
    said = [_than(which, names, first=not at) for at, (which, names) in enumerate(_differing(compared, words))]
    return say("{comparison}.", comparison=joined("; ", said)) if said else say("Against original: same.")


_HOW = {LARGER: say("larger"), SMALLER: say("smaller"), DIFFERENT: say("different"), NOT_KNOWN: say("not known")}


def _against(original: str, lines: Iterable[Compared], words: Mapping[str, str]) -> str:
    said = [say("{how} {features}", how=_HOW[which], features=names) for which, names in _differing(lines, words)]
    return say("Against {original}: {comparison}.", original=original, comparison=joined("; ", said) or say("same"))


def _than(which: str, names: str, *, first: bool) -> str:
    """One way in which it differs from its only original; `first`: the sentence begins with it."""
    if which == NOT_KNOWN:
        if first:
            return say("Against original not known: {features}", features=names)
        return say("against original not known: {features}", features=names)
    named = names[0].upper() + names[1:] if first else names
    if which == DIFFERENT:
        return say("{features} different from original", features=named)
    if which == LARGER:
        return say("{features} larger than original", features=named)
    return say("{features} smaller than original", features=named)


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
