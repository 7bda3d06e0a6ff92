"""Seats that stay empty though the engine wants something of them (docs/semantics.md, section 2)."""

from collections.abc import Iterator

from graph.model.fact import Alternative, Fact
from graph.model.value import spelled_code
from graph.model.verdict import Verdict
from graph.planning.check.case import ENGINE, Case, Mode, Place, Ruled, allowed
from graph.planning.check.choices import ENGINE_SIDE, Option, as_is
from graph.planning.check.rules import judged

_CODE_RULES = ("same", "thread", "accepted", "control")
_NONE = Fact("", "", "known", alternatives=(Alternative(codes=("none",)),))


def missed(case: Case, option: Option, mode: Mode) -> list[str]:
    """The rules by which the engine wants a part in this seat that stays empty; none for a seat that is filled."""
    return [ruled.rule.name for ruled, said in _said(case, option) if not allowed(said, mode)]


def unsure(case: Case, option: Option) -> list[frozenset[Place]]:
    """The engine's side of each rule by which nobody knows whether this seat may stay empty."""
    return [
        frozenset(place for place in ruled.operands if place[0] == ENGINE)
        for ruled, said in _said(case, option)
        if said is Verdict.UNKNOWN
    ]


def _said(case: Case, option: Option) -> Iterator[tuple[Ruled, Verdict]]:
    """What each rule that holds this seat alone against the engine says of nothing sitting there."""
    if option.source != "empty":
        return
    for ruled in case.rules_of.get(option.seat, ()):
        if ruled.rule.type not in _CODE_RULES:
            continue
        facts = [as_is(case, ENGINE_SIDE, feature) if seat == ENGINE else _NONE for seat, feature in ruled.operands]
        theirs = [fact for fact in facts if fact is not _NONE]
        if not theirs or any(not one.codes for fact in theirs for one in fact.alternatives):
            continue
        wants = [{any(spelled_code(c) != "none" for c in one.codes) for one in fact.alternatives} for fact in theirs]
        if any(said != {False} for said in wants) or any(not fact.settles for fact in theirs):
            split = any(len(said) != 1 for said in wants)
            yield ruled, Verdict.UNKNOWN if split else judged(case, ruled.rule, facts)[0]
