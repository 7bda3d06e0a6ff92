"""An invented catalogue of any size: the same rows for the same seed, about nine statements a part."""

import random
from collections.abc import Iterator
from typing import Any

from graph.model.statement import Evidence, Statement

KINDS = ("compressor cover", "compressor wheel", "bearing housing", "shaft", "turbine housing", "vane ring")
FEATURES = ("bore", "inducer", "exducer", "length", "pilot", "wall")
FLANGES = ("a4", "b4", "c5", "d6")
SOURCES = ("drawing 7", "maker sheet", "bench")
MAKER = "Ostrel"


def _row(sheet: str, source: str = "", **fields: Any) -> Statement:
    return Statement(sheet, fields, Evidence(source))


def size(hundredths: int) -> dict[str, Any]:
    """A length given in hundredths of a millimetre."""
    return {"amount": hundredths * 100_000, "quantity": "length", "text": f"{hundredths / 100:.2f}", "unit": "mm"}


def number(i: int) -> str:
    """The number of the i-th part."""
    return f"OS-{i // 1000:03d} {i % 1000:03d}"


def catalogue(parts: int, seed: int = 7) -> Iterator[Statement]:
    """Parts with sizes, one unit a twentieth of them, supersessions."""
    dice = random.Random(seed)
    for source, kind in zip(SOURCES, ("drawing", "maker", "shop"), strict=True):
        yield _row("sources", source=source, kind=kind)
    for kind in KINDS:
        yield _row("kinds", kind=kind, label=kind)
        yield _row("layouts", layout="plain", seat=kind, kind=kind)
    for feature in FEATURES:
        yield _row("features", feature=feature, label=feature, type="length", unit="mm")
    yield _row("features", feature="flange", label="flange", type="code")
    for i in range(parts):
        name = number(i)
        yield _row(
            "parts", maker=MAKER, number=name, kind=KINDS[i % len(KINDS)], label=f"{KINDS[i % len(KINDS)]} {i}"
        )
        for feature in FEATURES:
            value = size(dice.randint(2_000, 12_000))
            yield _row("values", dice.choice(SOURCES), maker=MAKER, number=name, feature=feature, value=value)
        code = dice.choice(FLANGES)
        yield _row(
            "values", "drawing 7", maker=MAKER, number=name, feature="flange", value={"code": code, "text": code}
        )
        if i % 10 == 9:
            yield _row("supersession", maker=MAKER, old=number(i - 1), new=name)
    for u in range(parts // 20):
        unit = f"OU {u}"
        yield _row("units", maker=MAKER, unit=unit, layout="plain", label=f"unit {u}")
        for s, seat in enumerate(KINDS):
            fits = dice.randrange(parts // len(KINDS)) * len(KINDS) + s
            yield _row("unit_seats", maker=MAKER, unit=unit, seat=seat, part_maker=MAKER, part_number=number(fits))
