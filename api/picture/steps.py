"""The way from the core to the build as a staircase: a tread for each step, as high as the money spent by then."""

from typing import Final

from api.pages.wording import _
from api.picture.draw import line, picture, text
from api.words import money, spoken
from graph.model.plan import Plan

LEFT, RIGHT, TOP, FOOT = 96, 20, 30, 46
WIDE: Final = 780
HIGH: Final = 300


def running(plan: Plan) -> list[tuple[str, int]]:
    """What is spent by each point of the way: the core and parts first, then after every step; last: the whole cost.

    Addends that belong to no step (what the work uses up, a donor's stripping) stand between parts and work.
    """
    steps = sum(step.cost for step in plan.steps)
    spent = plan.cost - steps
    points = [(_("core, parts and small things"), spent)]
    for step in plan.steps:
        spent += step.cost
        points.append((step.label + (f" ({spoken(step.seat)})" if step.seat else ""), spent))
    return points


def steps_svg(plan: Plan, name: str) -> str:
    """The staircase; a filled square marks a step that cannot be undone, an open ring one that can."""
    points = running(plan)
    most = max((spent for _label, spent in points), default=0) or 1
    wide = (WIDE - LEFT - RIGHT) / len(points)

    def y(spent: int) -> float:
        return HIGH - FOOT - (HIGH - TOP - FOOT) * spent / most

    drawn = [line(LEFT, HIGH - FOOT, WIDE - RIGHT, HIGH - FOOT, "axis")]
    for share in (0, most // 2, most):
        drawn.append(line(LEFT, y(share), WIDE - RIGHT, y(share)))
        drawn.append(text(LEFT - 8, y(share) + 4, money(share, plan.currency), kind="small", anchor="end"))
    path = f"M{LEFT} {HIGH - FOOT}"
    for at, (_label, spent) in enumerate(points):
        path += f"V{y(spent):.1f}H{LEFT + (at + 1) * wide:.1f}"
    drawn.append(f'<path class="stairs" d="{path}"/>')
    for at, (_label, spent) in enumerate(points):
        x = LEFT + (at + 0.5) * wide
        lasting = at > 0 and plan.steps[at - 1].target is not None and not plan.steps[at - 1].reversible
        shape = (
            f'<rect class="lasting" x="{x - 6:.1f}" y="{y(spent) - 6:.1f}" width="12" height="12"/>'
            if lasting
            else f'<circle class="undone" cx="{x:.1f}" cy="{y(spent):.1f}" r="6"/>'
        )
        drawn += [shape, text(round(x, 1), HIGH - FOOT + 18, str(at), kind="small", anchor="middle")]
    drawn.append(
        text(
            LEFT, HIGH - 8, _("number of the step; 0: core and parts; filled square: cannot be undone"), kind="small"
        )
    )
    told = (
        "; ".join(f"{at}. {label}: {money(spent, plan.currency)}" for at, (label, spent) in enumerate(points)) + "."
    )
    return picture(
        drawn,
        name=name,
        wide=WIDE,
        high=HIGH,
        title=_("The way from the core to the build, with the money spent after each step"),
        told=told,
        kind="steps",
    )
