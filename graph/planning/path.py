"""The plan as a path from the core to the build: the state after each move, with the running cost and time."""

from dataclasses import dataclass

from graph.model.plan import Plan, SeatChoice


@dataclass(frozen=True, slots=True)
class PathState:
    """What has just been done, where, and what it has come to by then. Money in minor units, time in ms."""

    move: str  # core, take, renew, donor, leave, work, service, consume
    text: str
    seat: str
    part: str
    cost: int
    time: int
    at_least: bool = False


MOVES = {"kept": "take", "new": "renew", "donor": "donor", "empty": "leave"}
SAYS = {"kept": "keep", "new": "fit new", "donor": "take from a donor", "empty": "leave empty"}


def path(plan: Plan) -> tuple[PathState, ...]:
    """The core, then each seat's part, each step of work in order, and at last what is used up."""
    out: list[PathState] = []
    cost = time = 0
    unsure = False

    def say(move: str, text: str, seat: str = "", part: str = "") -> None:
        out.append(PathState(move, text, seat, part, cost, time, unsure))

    for line in plan.costs:
        if line.kind == "core":
            cost += line.amount or 0
            unsure = unsure or line.amount is None
            say("core", line.what)
    labour = {(line.seat, line.what): line for line in plan.costs if line.kind in ("labour", "service")}
    steps = {(s.seat, work_text(s.label, s.seat)) for s in plan.steps}
    for choice in plan.seats:
        for line in plan.costs:
            if line.seat == choice.seat and line.kind in ("part", "donor"):
                cost += line.amount or 0
                unsure = unsure or line.amount is None
        for key, line in labour.items():
            if key not in steps and line.seat == choice.seat:
                cost += line.amount or 0
                unsure = unsure or line.amount is None
        say(MOVES[choice.source], _taken(choice), choice.seat, choice.part)
    time = plan.time - sum(s.time for s in plan.steps)
    for step in plan.steps:
        cost += step.cost
        time += step.time
        found = labour.get((step.seat, work_text(step.label, step.seat)))
        unsure = unsure or (found is not None and found.amount is None)
        say("work" if step.seat else "service", work_text(step.label, step.seat), step.seat, step.part)
    for line in plan.costs:
        if line.kind == "consumed":
            cost += line.amount or 0
            unsure = unsure or line.amount is None
            say("consume", line.what)
    return tuple(out)


def work_text(label: str, seat: str) -> str:
    """How a step is called, alike in the cost lines and on the path."""
    return f"{label} ({seat})" if seat else label


def _taken(choice: SeatChoice) -> str:
    part = f" {choice.part}" if choice.part else ""
    lot = f" of {choice.lot}" if choice.lot else ""
    return f"{choice.seat}: {SAYS[choice.source]}{part}{lot}"
