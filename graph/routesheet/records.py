"""What must be written down before a unit goes out, and whether it has been.

Rule 1: nothing here is filled in by the program. Rule 2: no entry lifts a block.
"""

from collections.abc import Iterable, Mapping
from typing import Final

from graph.errors import BadQuantity
from graph.model.routing import FinishRecord, RecordField, RouteSheet, SheetBlock, SheetStep
from graph.routesheet import rotor
from graph.routesheet.ground import Ground
from graph.rules.spoken import number
from ontology.quantities import read_amount

BY: Final = (RecordField("by", "by"), RecordField("date", "date"))


def records_of(ground: Ground, steps: Iterable[SheetStep]) -> tuple[FinishRecord, ...]:
    """What to look at first, the work itself, then balance, vanes, actuator and leak test as the unit has them.

    Balance is asked for as soon as something rotates and the unit is opened, whether or not the plan names a service.
    """
    steps = tuple(steps)
    out = [
        FinishRecord(f"confirm-{at}", text, "nobody has looked at it yet", _under(f"confirm-{at}", BY))
        for at, text in enumerate(ground.plan.confirm, 1)
    ]
    out += [_work(step) for step in steps]
    done = {step.number: f"step {step.number}" for step in steps}
    turning = [seat for seat in ground.seats if seat in ground.choices and ground.rotates(seat)]
    if turning:
        out += [_component(ground, seat) for seat in rotor.balanced(ground)]
        out.append(_core(_because(steps, done, ("balance", "core"), "whatever was opened is balanced as a core")))
    for seat in ground.seats:
        words = ground.words(seat)
        if not ground.choices.get(seat) or not ground.choices[seat].part:
            continue
        if "actuator" in words:
            why = "the actuator goes out with its end stops set"
            out.append(_actuator(_because(steps, done, ("calibrat", "actuator"), why)))
    if any({"vane", "nozzle"} & ground.words(seat) for seat in ground.seats if ground.choices[seat].part):
        out.append(_vanes(_because(steps, done, ("flow", "vane"), "the unit has movable vanes or a sliding nozzle")))
    out.append(_leak(_because(steps, done, ("leak",), "no unit goes out without it")))
    return tuple(out)


def _because(steps: tuple[SheetStep, ...], done: Mapping[int, str], words: tuple[str, ...], else_: str) -> str:
    for step in steps:
        if not step.seat and all(word in f"{step.operation} {step.label}".casefold() for word in words):
            return done[step.number]
    return else_


def _work(step: SheetStep) -> FinishRecord:
    code = f"step-{step.number}"
    fields: tuple[RecordField, ...] = BY
    if step.cut is not None:
        cut = step.cut
        places = [place.position for place in cut.places]
        after = tuple(
            RecordField(
                f"after-{index}" if len(places) > 1 else "after",
                f"{cut.label} after" + (f", {place}" if place else ""),
                cut.quantity,
                cut.low,
                cut.high,
            )
            for index, place in enumerate(dict.fromkeys(places), 1)
        )
        fields = (*after, *BY)
    return FinishRecord(code, f"{step.number}. {step.label}", "it is a step of the route", _under(code, fields))


def _component(ground: Ground, seat: str) -> FinishRecord:
    code = f"component-balance-{seat}"
    part = ground.parts.get(ground.choices[seat].part)
    fields = (
        RecordField("limit", "permitted in each plane, g·mm", "unbalance"),
        RecordField("limit-from", "who set it"),
        RecordField("plane-1", "left in plane 1", "unbalance", 0, None, f"{code}.limit"),
        RecordField("plane-2", "left in plane 2", "unbalance", 0, None, f"{code}.limit"),
        RecordField("speed", "balancing speed", "speed"),
        *BY,
    )
    title = f"Balance of the {part.label if part and part.label else seat.replace('-', ' ')} by itself, two planes"
    return FinishRecord(code, title, "it rotates", _under(code, fields))


def _core(because: str) -> FinishRecord:
    fields = (
        RecordField("limit", "permitted in each plane, g·mm", "unbalance"),
        RecordField("limit-from", "who set it"),
        RecordField("plane-1", "left in plane 1", "unbalance", 0, None, "core-balance.limit"),
        RecordField("plane-2", "left in plane 2", "unbalance", 0, None, "core-balance.limit"),
        RecordField("speed", "balancing speed", "speed"),
        *BY,
    )
    return FinishRecord("core-balance", "Balance of the core at speed", because, _under("core-balance", fields))


def _vanes(because: str) -> FinishRecord:
    fields = (
        RecordField("flow", "least flow, and at which pressure difference"),
        RecordField("maker", "the maker's figure"),
        RecordField("sealed", "stop screw locked and sealed"),
        *BY,
    )
    return FinishRecord("vane-stop", "Minimum-flow stop of the vanes", because, _under("vane-stop", fields))


def _actuator(because: str) -> FinishRecord:
    fields = (
        RecordField("closed", "end stop closed: signal and position"),
        RecordField("open", "end stop open: signal and position"),
        RecordField("sheet", "the maker's setting sheet"),
        *BY,
    )
    return FinishRecord("actuator", "End stops of the actuator", because, _under("actuator", fields))


def _leak(because: str) -> FinishRecord:
    fields = (
        RecordField("oil", "oil side: pressure, time, loss"),
        RecordField("air", "air side: pressure, time, loss"),
        *BY,
    )
    return FinishRecord("leak-test", "Leak test", because, _under("leak-test", fields))


def _under(code: str, fields: tuple[RecordField, ...]) -> tuple[RecordField, ...]:
    return tuple(RecordField(f"{code}.{f.name}", f.label, f.quantity, f.low, f.high, f.not_over) for f in fields)


def refusals(sheet: RouteSheet, filled: Mapping[str, str]) -> tuple[str, ...]:
    """Why the unit may not go out: blocks, holds, blanks, entries that cannot be read or lie outside; empty: it may.

    `filled` has what was written into each field, by the field's name. All refusals are told at once.
    """
    out = [_blocked(block) for block in sheet.blocks]
    out += [f"not settled: {hold}" for hold in sheet.holds]
    known = {field.name for record in sheet.records for field in record.fields}
    out += [f"{name}: this sheet has no such field" for name in sorted(set(filled) - known)]
    read: dict[str, int] = {}
    for record in sheet.records:
        for field in record.fields:
            text = filled.get(field.name, "").strip()
            where = f"{record.title}: {field.label}"
            if not text:
                out.append(f"{where} is blank ({field.name})")
                continue
            if not field.quantity:
                continue
            try:
                value, _ = read_amount(text, field.quantity, _unit(field.quantity))
            except BadQuantity as error:
                out.append(f"{where}: {error.message} ({field.name})")
                continue
            read[field.name] = value
            out += [f"{where}: {why} ({field.name})" for why in _outside(field, value, read)]
    return tuple(out)


def _unit(quantity: str) -> str:
    return {"length": "mm", "unbalance": "g·mm", "speed": "rpm"}.get(quantity, "")


def _outside(field: RecordField, value: int, read: Mapping[str, int]) -> list[str]:
    out = []
    if field.low is not None and value < field.low:
        out.append(f"{number(value, field.quantity)} is below {number(field.low, field.quantity)}")
    if field.high is not None and value > field.high:
        out.append(f"{number(value, field.quantity)} is above {number(field.high, field.quantity)}")
    if field.not_over and field.not_over in read and value > read[field.not_over]:
        out.append(
            f"{number(value, field.quantity)} is over the limit {number(read[field.not_over], field.quantity)}"
        )
    return out


def _blocked(block: SheetBlock) -> str:
    return f"blocked: {block.text} " + (f"Lifted only by {block.lifted_by}." if block.lifted_by else "")
