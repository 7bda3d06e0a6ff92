"""Checks of joints and fit rules: their seats, features, sets and limits."""

from typing import Final

from graph.sources.rows import CODES, Line
from graph.sources.things import Things, near

WINDOWS: Final = ("clearance", "interference", "stack")
PAIRS: Final = ("accepted", "control")
ALIKE: Final = ("same", "thread")
ENGINE: Final = "engine"
READS: Final = {
    "clearance": ("min", "max"),
    "interference": ("min", "max"),
    "stack": ("min", "max"),
    "same": ("max",),
    "at_most": ("max",),
    "at_least": ("min",),
    "accepted": ("set",),
    "control": ("set",),
}
"""The columns that a type of rule reads; `at_most` with a right side reads `min`, the gap that must remain."""


def is_quoted(feature: str) -> bool:
    """Whether a feature is a size as people quote it, without saying which diameter."""
    return feature == "quoted_size" or feature.endswith("_quoted_size")


def check_joint(line: Line, things: Things) -> None:
    """A joint's seats are those of its layout, or the engine."""
    layout = line.fields.get("layout", "")
    seats = things.layout(layout)
    if seats is None:
        if layout and "layout" not in line.bad:
            hint = near(layout, things.names("layouts"))
            line.report("unknown-name", "layout", name=layout, what="layout", hint=hint)
        return
    for seat in line.fields.get("seats", ()):
        if seat != ENGINE and seat not in seats.kinds:
            line.report("joint-unknown-seat", "seats", layout=layout, seat=seat, hint=near(seat, seats.kinds))


def check_rule(line: Line, things: Things) -> None:
    """A rule's joint, operands, quantities, set and limit."""
    fields = line.fields
    layout, type_ = fields.get("layout", ""), fields.get("type", "")
    joint = fields.get("joint")
    if things.layout(layout) is None:
        if layout and "layout" not in line.bad:
            hint = near(layout, things.names("layouts"))
            line.report("unknown-name", "layout", name=layout, what="layout", hint=hint)
        return
    if joint and (layout, joint) not in things.rows["joints"]:
        joints = [j for where, j in things.rows["joints"] if where == layout]
        line.report("rule-unknown-joint", "joint", layout=layout, joint=joint, hint=near(joint, joints))
    left = _operand(line, "left", fields.get("left", ""), things) if "left" in fields else ""
    right = [_operand(line, "right", text, things) for text in fields.get("right", ())]
    seats = {text.partition(".")[0] for text in (fields.get("left", ""), *fields.get("right", ()))}
    if seats == {ENGINE}:
        line.report("rule-without-seat", "left")
    if not type_:
        return
    if "right" not in line.texts and type_ not in ("at_most", "at_least"):
        line.report("rule-without-right", "right", type=type_)
    if left and all(right):
        _quantities(line, type_, [left, *right])
    if type_ in PAIRS:
        name = fields.get("set") or fields.get("rule", "")
        if name and name not in things.names("accepted"):
            line.report("rule-unknown-set", "set" if "set" in fields else "rule", set=name)
    reads = ("min",) if type_ == "at_most" and "right" in line.texts else READS.get(type_, ())
    for column in ("min", "max", "set"):
        if column in line.texts and column not in reads and column not in line.bad:
            sides = " with a right side" if type_ in ("at_most", "at_least") and "right" in line.texts else ""
            line.report("rule-passes-over", column, type=type_ + sides, passed=column)
    limits = {"min", "max"} & set(line.texts)
    if not limits and (type_ in WINDOWS or (type_ in ("at_most", "at_least") and "right" not in line.texts)):
        line.report("rule-without-limit", "rule")


def _operand(line: Line, column: str, text: str, things: Things) -> str:
    """The feature's type, or '' with a finding."""
    seat, dot, name = text.partition(".")
    if not (seat and dot and name):
        line.report("rule-bad-operand", column)
        return ""
    layout = line.fields["layout"]
    seats = things.layout(layout)
    if seats is not None and seat != ENGINE and seat not in seats.kinds:
        line.report("rule-unknown-seat", column, layout=layout, seat=seat, hint=near(seat, seats.kinds))
    feature = things.feature(name)
    if feature is None:
        hint = near(name, things.names("features"))
        line.report("rule-unknown-feature", column, feature=name, hint=hint)
        return ""
    if is_quoted(name):
        line.report("rule-uses-quoted-size", column)
        return ""
    return feature[1]


def _quantities(line: Line, type_: str, types: list[str]) -> None:
    codes = [t in CODES for t in types]
    if type_ in PAIRS or type_ == "thread":
        wrong = type_ == "thread" and not all(codes)
    elif type_ in ALIKE:
        wrong = any(codes) != all(codes) or (not any(codes) and len(set(types)) > 1)
    else:
        wrong = any(codes) or len(set(types)) > 1
    if wrong:
        line.report(
            "rule-mixes-quantities", "right" if len(types) > 1 else "left", type=type_, quantities=_and(types)
        )


def _and(types: list[str]) -> str:
    return " with ".join(dict.fromkeys(types))
