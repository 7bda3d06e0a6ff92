"""A pump of four seats, as bundles: a second domain, to show that nothing in the planner knows one trade.

Lengths are in mm in the arguments and in quanta of 100 pm in the records. All names are invented.
"""

from dataclasses import replace
from typing import Any

from graph.model.bundle import Bundle, PlanQuestion
from graph.model.claim import Claim, Rank
from graph.model.record import (
    Build,
    Consume,
    Core,
    Demand,
    Engine,
    Feature,
    FoundPart,
    Joint,
    Kind,
    Layout,
    Limit,
    Operation,
    Part,
    Price,
    Rate,
    Rule,
    Seat,
    ServiceDue,
    Snapshot,
    Source,
)
from graph.model.value import Amount, Code, Value

MM = 10_000_000
MINUTE = 60_000
DAY = "2026-03-01"


def mm(size: float) -> int:
    return round(size * MM)


def length(size: float) -> Amount:
    return Amount(mm(size), "length", f"{size:g}", "mm")


def claim(subject: str, feature: str, value: Value | float, tolerance: float = 0.0, **more: Any) -> Claim:
    said = more.pop("id", f"{subject}:{feature}:{more.get('source', 'drawing')}:{more.get('position', '')}")
    rank = more.pop("rank", Rank.DRAWING)
    source = more.pop("source", "drawing")
    worth = length(value) if isinstance(value, int | float) else value
    for name in ("limit_min", "limit_max"):
        if name in more:
            more[name] = mm(more[name])
    return Claim(said, subject, feature, worth, source, rank, tolerance=mm(tolerance), **more)


def reading(subject: str, feature: str, value: Value | float, uncertainty: float = 0.0, **more: Any) -> Claim:
    source = more.pop("source", "bench")
    return claim(subject, feature, value, uncertainty, rank=Rank.MEASURED, source=source, **more)


def price(minor: int | None, **more: Any) -> Price | None:
    if minor is None:
        return None
    return Price(minor, "EUR", "2026-02-01", said=more.pop("said", f"price:{minor}"), **more)


def part(
    name: str,
    kind: str,
    features: dict[str, Any],
    new: int | None = None,
    used: int | None = None,
    **more: Any,
) -> Part:
    """A part whose claims are given as feature: size in mm, (size, tolerance), code, or a ready claim without id."""
    key = f"part/Lindal/{name}"
    claims = []
    for feature, worth in features.items():
        if isinstance(worth, Claim):
            claims.append(replace(worth, subject=key))
        elif isinstance(worth, tuple):
            claims.append(claim(key, feature, worth[0], worth[1], **(worth[2] if len(worth) > 2 else {})))
        else:
            claims.append(claim(key, feature, Code(worth) if isinstance(worth, str) else worth))
    return Part(
        key,
        "Lindal",
        name,
        kind,
        kind,
        tuple(claims),
        price_new=price(new, said=f"new:{name}", lead_days=more.pop("lead_days", 3)),
        price_used=price(used, said=f"used:{name}"),
        said=f"part:{name}",
        **more,
    )


FEATURES = (
    Feature("bore", "bore", "length", "mm", said="f:bore"),
    Feature("depth", "depth", "length", "mm"),
    Feature("diameter", "diameter", "length", "mm", duty=True, better="larger"),
    Feature("drain", "drain", "code"),
    Feature("eye", "eye", "length", "mm"),
    Feature("flange", "flange", "code"),
    Feature("height", "height", "length", "mm"),
    Feature("inside", "inside diameter", "length", "mm"),
    Feature("journal", "journal", "length", "mm", wears=True, look="gauge"),
    Feature("max-bore", "largest bore", "length", "mm"),
    Feature("wall", "wall", "length", "mm"),
)

KINDS = (
    Kind("casing", "casing"),
    Kind("impeller", "impeller", rotating=True),
    Kind("seal", "seal", one_time=True),
    Kind("shaft", "shaft", rotating=True),
    Kind("gasket", "gasket", one_time=True),
)

SEATS = (
    Seat("casing", "casing", strip_time=10 * MINUTE),
    Seat("impeller", "impeller", strip_time=5 * MINUTE),
    Seat("shaft", "shaft", strip_time=15 * MINUTE),
    Seat("seal", "seal"),
)

JOINTS = (
    Joint("gap", "impeller in its casing", ("casing", "impeller")),
    Joint("fit", "impeller on the shaft", ("impeller", "shaft")),
    Joint("sealing", "seal on the shaft", ("seal", "shaft")),
    Joint("outlet", "outlet flange", ("casing", "engine")),
)

RULES = (
    Rule(
        "gap", "tip-gap", "clearance", ("casing", "bore"), (("impeller", "diameter"),), mm(0.3), mm(0.5), said="r:gap"
    ),
    Rule(
        "fit", "eye-fit", "clearance", ("impeller", "eye"), (("shaft", "journal"),), mm(0.0), mm(0.05), said="r:fit"
    ),
    Rule("sealing", "lip", "clearance", ("seal", "inside"), (("shaft", "journal"),), mm(0.0), mm(0.3), said="r:lip"),
    Rule("outlet", "flange", "same", ("casing", "flange"), (("engine", "flange"),), said="r:flange"),
)


def operation(name: str, kind: str, feature: str, effect: str, **more: Any) -> Operation:
    more.setdefault("tolerance", mm(0.01) if effect.endswith("to_suit") else None)
    return Operation(
        name, name, kind, feature, effect, more.pop("setup", 10 * MINUTE), more.pop("time", 5 * MINUTE),
        said=f"o:{name}", **more,
    )  # fmt: skip


BORE = operation(
    "bore-casing", "casing", "bore", "widen_to_suit", time_per_mm=10 * MINUTE, limit_feature="max-bore",
    follows=("balance",),
)  # fmt: skip
TRIM = operation(
    "trim-impeller", "impeller", "diameter", "reduce_to_suit", time_per_mm=20 * MINUTE, follows=("balance",)
)
REDRILL = operation("redrill", "casing", "flange", "set_code", to_value=Code("four"), reversible=True)
BALANCE = operation("balance", "", "", "service", setup=0, time=30 * MINUTE)
OPERATIONS = (BALANCE, BORE, REDRILL, TRIM)

CASING = part("C1", "casing", {"bore": (80.0, 0.02), "flange": "four", "max-bore": 84.0}, 40_000, 15_000)
IMPELLER = part(
    "I1", "impeller", {"diameter": (79.6, 0.02, {"limit_min": 76.0}), "eye": (20.02, 0.005)}, 12_000, 5_000
)
LARGE = part("I2", "impeller", {"diameter": (81.6, 0.02, {"limit_min": 78.0}), "eye": (20.02, 0.005)}, 14_000, 6_000)
SHAFT = part("S1", "shaft", {"journal": (20.0, 0.005)}, 9_000, 4_000)
SEAL = part("L1", "seal", {"inside": (20.1, 0.02)}, 500)
GASKET = part("G1", "gasket", {}, 300)
PARTS = (CASING, GASKET, IMPELLER, LARGE, SEAL, SHAFT)

JOURNAL_READ = (reading(SHAFT.key, "journal", 19.998, 0.002),)


def found(*parts: Part | None, readings: dict[str, tuple[Claim, ...]] | None = None) -> tuple[FoundPart, ...]:
    """What sits in the seats, in the order of SEATS; the shaft's journal is read unless other readings are given."""
    read = {"shaft": JOURNAL_READ} | (readings or {})
    return tuple(
        FoundPart(seat.name, p.key, readings=read.get(seat.name, ()), said=f"found:{seat.name}")
        for seat, p in zip(SEATS, parts, strict=True)
        if p is not None
    )


CORE = Core(
    "core/K-1",
    "K-1",
    "pump",
    book_value=2_000,
    currency="EUR",
    found=found(CASING, IMPELLER, SHAFT, SEAL),
    said="k:1",
)
ENGINE = Engine("engine/Marl/E1", "Marl", "E1", claims=(claim("engine/Marl/E1", "flange", Code("four")),), said="e:1")


def demand(seat: str, feature: str, kind: str, value: Value | float | None = None, to: float | None = None) -> Demand:
    worth = length(value) if isinstance(value, int | float) else value
    end = None if to is None else mm(to)
    return Demand("build/B1", seat, feature, kind, worth, end, said=f"d:{seat}.{feature}.{kind}")


def pump(
    *,
    parts: tuple[Part, ...] = PARTS,
    core: Core = CORE,
    donors: tuple[Core, ...] = (),
    demands: tuple[Demand, ...] = (),
    operations: tuple[Operation, ...] = OPERATIONS,
    rules: tuple[Rule, ...] = RULES,
    joints: tuple[Joint, ...] | None = None,
    seats: tuple[Seat, ...] = SEATS,
    consumes: tuple[Consume, ...] = (),
    services: tuple[ServiceDue, ...] = (ServiceDue("impeller", "balance", "sd:impeller"),),
    rates: tuple[Rate, ...] = (Rate("shop", 6_000, "EUR", "rate:shop"),),
    engine: Engine = ENGINE,
    kinds: tuple[Kind, ...] = KINDS,
    features: tuple[Feature, ...] = FEATURES,
    accepted: tuple[tuple[str, tuple[tuple[str, str], ...]], ...] = (),
    best: int = 1,
    wishes: tuple[str, ...] = (),
    day: str = DAY,
) -> Bundle:
    """The pump's bundle; by default the core is the build already, but for the seal, and joints have a rule."""
    ruled = {rule.joint for rule in rules}
    layout = Layout("pump", seats, tuple(j for j in JOINTS if j.name in ruled) if joints is None else joints, rules)
    build = Build("build/B1", "B1", "pump", ENGINE.key, "the pump", demands)
    question = PlanQuestion(core.key, build.key, engine.key, best, day, wishes)
    return Bundle(
        question,
        Snapshot("catalogue", 1),
        layout,
        build,
        engine,
        core,
        donors,
        tuple(sorted(parts, key=lambda p: p.key)),
        kinds,
        features,
        accepted,
        tuple(sorted(operations, key=lambda o: o.name)),
        consumes,
        services,
        rates,
        (Source("drawing", "drawing"), Source("bench", "measured")),
    )


def donor(tag: str, **seats: Any) -> Core:
    """A core that may donate: seat = part, or (part, readings)."""
    out = []
    for seat, what in seats.items():
        p, readings = what if isinstance(what, tuple) else (what, ())
        out.append(FoundPart(seat, p.key, readings=readings, said=f"found:{tag}:{seat}"))
    return Core(f"core/{tag}", tag, "pump", may_donate=True, found=tuple(out), said=f"k:{tag}")


def wall_limit(least: float) -> Limit:
    return Limit("wall", "", mm(least), None, int(Rank.SHOP), "shop", said="lim:wall")
