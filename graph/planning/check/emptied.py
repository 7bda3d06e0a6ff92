"""Seats left empty that the core's own part could have filled."""

from graph.planning.check.case import allowed
from graph.planning.check.choices import CUTS, Option, objections
from graph.planning.check.work import Work
from graph.planning.check.worn import worn_out


def left_out(work: Work, seat: str) -> bool:
    """Whether this empty seat's own part, kept as it is, would break no rule; sizes that are cut do not count.

    All seats that a rule on this one touches must be decided in `work`.
    """
    found = work.case.found("kept", "", seat)
    if found is None:
        return False
    option = Option(seat, found.part, "kept")
    if objections(work.case, option) or worn_out(work.case, option, (), work.mode):
        return False
    back = Work(work.case, work.mode, {**work.chosen, seat: (option, ())})
    cut = {place for place, operation in work.changes.items() if operation.effect in CUTS}
    mine = [rule for rule in back.rules if seat in rule.seats and not cut & set(rule.operands)]
    return all(allowed(back.verdict(rule, {})[0], work.mode) for rule in mine)


def needlessly_empty(work: Work) -> list[str]:
    """The seats that stay empty without need, in their order."""
    return [seat for seat, (option, _) in work.chosen.items() if option.source == "empty" and left_out(work, seat)]
