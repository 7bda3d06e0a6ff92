"""The second witness of an allocation: from the plans alone, that nothing is used twice and the sum is right."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from graph.model.record import Core
from graph.model.yard import Promise, ShelfAnswer


def objections(
    answer: ShelfAnswer, cores: Mapping[str, Core], stock: Mapping[str, int], promised: Iterable[Promise]
) -> Iterator[str]:
    """What in the allocation cannot stand: `cores` by tag, `stock` on hand by part, `promised` to other jobs."""
    asked = {job.name for job in answer.question.jobs}
    others = [p for p in promised if p.job not in asked]
    held_cores = {p.tag for p in others if p.tag}
    held_parts = {(p.tag, p.seat) for p in others if p.seat}
    left = dict(stock)
    for p in others:
        if not p.tag:
            left[p.part] = left.get(p.part, 0) - p.quantity
    starts: dict[str, str] = {}
    taken: dict[tuple[str, str], str] = {}
    labour: dict[str, list[int]] = defaultdict(list)
    for one in answer.jobs:
        name, plan = one.job.name, one.answer.plans[0]
        core = cores.get(one.tag)
        if core is None or core.key != one.answer.question.core:
            yield f"{name}: its core {one.tag} is not that of its plan"
            continue
        if one.job.core and core.key != one.job.core:
            yield f"{name}: it is to be done on its own core"
        if not one.job.core and (core.own or one.tag in held_cores):
            yield f"{name}: core {one.tag} is somebody else's"
        if one.tag in starts:
            yield f"{name} and {starts[one.tag]} both start from core {one.tag}"
        starts[one.tag] = name
        for choice in plan.seats:
            if choice.source != "donor":
                continue
            place = choice.lot, choice.seat
            if place in taken:
                yield f"{name} and {taken[place]} both take the {choice.seat} of core {choice.lot}"
            if place in held_parts:
                yield f"{name}: the {choice.seat} of core {choice.lot} is promised"
            taken[place] = name
            labour[choice.lot] += [
                line.amount or 0
                for line in plan.costs
                if line.kind == "labour" and line.seat == choice.seat and line.what.endswith(f"out of {choice.lot}")
            ]
        for promise in one.promises:
            if not promise.tag:
                left[promise.part] = left.get(promise.part, 0) - promise.quantity
    for (tag, seat), name in taken.items():
        if tag in starts:
            yield f"core {tag} starts {starts[tag]} and gives {name} its {seat}"
        if not (tag in cores and cores[tag].may_donate):
            yield f"{name}: core {tag} may not donate"
    for part, rest in left.items():
        if rest < 0 and any(p.part == part and not p.tag for one in answer.jobs for p in one.promises):
            yield f"{part}: {-rest} more are promised than there are"
    saved = sum(sum(each) - max(each) for each in labour.values() if each) if answer.question.torn_down_once else 0
    if answer.saved != saved or answer.cost != sum(one.answer.plans[0].cost for one in answer.jobs) - saved:
        yield "the sum of the plans is not what is stated"
    named = {one.job.name for one in answer.jobs} | {one.job.name for one in answer.left_out}
    if named != asked or len(answer.jobs) + len(answer.left_out) != len(answer.question.jobs):
        yield "not every job is accounted for once"
