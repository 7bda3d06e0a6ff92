"""A plan's choices, judged and priced from the evidence alone."""

from collections.abc import Mapping
from dataclasses import dataclass

from graph.planning.check.case import Case, Mode, Place
from graph.planning.check.choices import CUTS, Option, objections, set_objections
from graph.planning.check.emptied import needlessly_empty
from graph.planning.check.money import Sums, sums
from graph.planning.check.sizes import Setting, least_sizes, needless, settings
from graph.planning.check.undecided import off_record, silent_joints
from graph.planning.check.unfilled import missed
from graph.planning.check.work import Work
from graph.planning.check.worn import worn_out

Chosen = Mapping[str, tuple[Option, tuple[str, ...]]]


@dataclass(frozen=True, slots=True)
class Objection:
    """Why the choices make no plan."""

    code: str
    where: str
    text: str


@dataclass(frozen=True, slots=True)
class Derived:
    """What the evidence makes of the choices; `objections` empty: they are a plan."""

    work: Work
    objections: tuple[Objection, ...]
    settings: Mapping[Place, Setting]
    sums: Sums


def derived(case: Case, chosen: Chosen, mode: Mode) -> Derived:
    """All choices judged: what may not be chosen, what breaks, the sizes, the money and the time."""
    against: list[Objection] = []
    for seat, (option, names) in chosen.items():
        against += [Objection("option", seat, text) for text in objections(case, option)]
        against += [Objection("operation", seat, text) for text in set_objections(case, option, names, mode)]
        against += [Objection("worn", f"{seat}.{w.feature}", w.text) for w in worn_out(case, option, names, mode)]
        against += [
            Objection("option", seat, f"it stays empty, and the engine wants something there by rule {rule}")
            for rule in missed(case, option, mode)
        ]
    if mode == "certain":
        against += [
            Objection("rule", ".".join(sorted(seats)), "no rule speaks of this joint")
            for seats in silent_joints(case)
        ]
    work = Work(case, mode, chosen)
    altered = {seat for seat, _ in work.changes}
    for seat, (option, _) in chosen.items():
        if off_record(case, option, mode, altered=seat in altered):
            against.append(Objection("option", seat, "no rule speaks of this seat, and no such part sat there"))
    against += unreachable(work)
    least = None if against else least_sizes(work)
    if least is None:
        if not against:
            against.append(Objection("size", "", "a cut has no size that every rule, demand and limit allows"))
        sizes = {place: cut.start for place, cut in work.cuts.items()}
        return Derived(work, tuple(against), {}, sums(work, sizes))
    made = settings(work, least)
    targets = {place: setting.target for place, setting in made.items()}
    for rule in work.rules:
        if not work.stands(targets, [rule], []):
            said = work.verdict(rule, targets)[0].value
            where = f"{rule.rule.joint}.{rule.rule.name}"
            against.append(Objection("rule", where, f"after the work it says: {said}"))
    for demand in work.demands:
        if not work.stands(targets, [], [demand]):
            where = f"{demand.seat}.{demand.feature}"
            against.append(Objection("demand", where, f"{demand.type}: {work.demand(demand, targets).value}"))
    if not against:
        against += [
            Objection("needless", f"{place[0]}.{place[1]}", f"{work.changes[place].name} is not needed")
            for place in work.changes
            if needless(work, place)
        ]
        against += [
            Objection("needless", seat, "the core's own part could have stayed here")
            for seat in needlessly_empty(work)
        ]
    return Derived(work, tuple(against), made, sums(work, least))


def unreachable(work: Work) -> list[Objection]:
    """Cuts that the limit blocks, or whose limit is not known when it must be."""
    against = []
    for place, cut in work.cuts.items():
        where = f"{place[0]}.{place[1]}"
        if work.mode == "certain" and cut.limit.unknown:
            against.append(Objection("limit", where, "; ".join(cut.limit.unknown)))
        if not cut.reaches(cut.start):
            against.append(Objection("limit", where, "the part has no room for a cut"))
    for (seat, feature), operation in work.changes.items():
        known = (seat, feature) in work.cuts or operation.effect not in CUTS
        if not known and work.mode == "certain":
            against.append(Objection("limit", f"{seat}.{feature}", "the size before the cut is not known"))
    return against
