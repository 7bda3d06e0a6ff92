"""What no rule on record decides: a joint without a rule, a seat that no rule looks at (docs/semantics.md, 2)."""

from collections.abc import Mapping

from graph.model.record import Layout
from graph.model.said import say
from graph.model.verdict import Missing
from graph.rules.spoken import ENGINE, in_words

NO_RULE = "no fit rule is on record for"
"""How both of these begin."""
NO_RULE_FOR_SEAT = say("no fit rule is on record for this seat")
NO_RULE_FOR_JOINT = say("no fit rule is on record for this joint")


def seats_undecided(layout: Layout) -> frozenset[str]:
    """The seats that no rule of the layout looks at."""
    return frozenset(s.name for s in layout.seats) - {seat for rule in layout.rules for seat in rule.seats}


def joints_undecided(layout: Layout) -> list[tuple[str, tuple[str, ...]]]:
    """The joints without a rule, each with its seats; `engine`, where no rule at all looks at the engine's side."""
    ruled = {rule.joint for rule in layout.rules}
    out = [(joint.name, joint.seats) for joint in layout.joints if joint.name not in ruled]
    if not any(ENGINE in rule.seats for rule in layout.rules):
        out.append((ENGINE, (ENGINE,)))
    return out


def seat_lacks_rule(seat: str, part: str, words: Mapping[str, str]) -> Missing:
    """What is missing where a part goes into a seat that no rule looks at."""
    where = words.get(seat, in_words(seat))
    settles = say("put on record what decides the seat {seat}", seat=where)
    return Missing(seat, "", part, NO_RULE_FOR_SEAT, settles)


def joint_lacks_rule(joint: str, seats: tuple[str, ...], words: Mapping[str, str]) -> Missing:
    """What is missing where no rule decides a joint; it stands at the first of its seats."""
    where = words.get(joint, in_words(joint))
    first = next((s for s in seats if s != ENGINE), ENGINE)
    settles = say("put on record what decides the joint {joint}", joint=where)
    return Missing(first, "", "", NO_RULE_FOR_JOINT, settles)
