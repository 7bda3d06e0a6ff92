"""Seats and joints of which no rule speaks (docs/semantics.md, section 2)."""

from graph.planning.check.case import ENGINE, Case, Mode
from graph.planning.check.choices import Option


def off_record(case: Case, option: Option, mode: Mode, *, altered: bool) -> bool:
    """Whether a plan may not put this there, since neither a rule nor the core says that it goes there."""
    return mode == "certain" and hangs_on_record(case, option, altered=altered)


def hangs_on_record(case: Case, option: Option, *, altered: bool) -> bool:
    """Whether an altered part, or another than the core's, comes into a seat that no rule names."""
    if any(seat == option.seat for seat, _ in case.naming):
        return False
    if altered or option.source not in ("new", "donor"):
        return altered
    before = case.found("kept", "", option.seat)
    return before is None or not before.part or before.part != option.part


def silent_joints(case: Case) -> list[frozenset[str]]:
    """The seats of each joint without a rule; the engine's side alone, where no rule names it."""
    spoken_of = [ruled.rule.joint for ruled in case.rules]
    silent = [frozenset(joint.seats) for joint in case.bundle.layout.joints if joint.name not in spoken_of]
    if all(seat != ENGINE for seat, _ in case.naming):
        silent.append(frozenset({ENGINE}))
    return silent
