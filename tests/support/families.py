"""Generated families of turbochargers: units that share an outside, in three layouts, with engines to suit.

Sizes and names come from a seed and are invented. Layouts, joints and rules are rows here as they are rows in
a shop's workbook; a test that wants one deciding fact less takes it away with `without`.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from graph.model.bundle import Bundle, PlanQuestion
from graph.model.claim import Claim, Rank
from graph.model.fits import FitsEvidence, FitsQuestion
from graph.model.record import (
    Build,
    Core,
    Demand,
    Engine,
    Feature,
    FoundPart,
    Joint,
    Kind,
    Layout,
    Operation,
    Part,
    Price,
    Rate,
    Rule,
    Seat,
    ServiceDue,
    Snapshot,
    Source,
    Unit,
)
from graph.model.statement import subject
from graph.model.value import Amount, Code, CodeSet, Value

MM = 10_000_000
MINUTE = 60_000
SNAPSHOT = Snapshot("generated", 0)
DRAWING = Source("drawing", "drawing", "a drawing")
BENCH = Source("bench", "measured", "a bench sheet")
PATTERNS = ("four-stud a", "four-stud b", "six-stud a")
ACCEPTED = (
    ("coolant-supply", (("m14x1.5", "m14x1.5"), ("none", "none"))),
    ("signals", (("bus-a", "bus-a"), ("pressure", "pressure"), ("vacuum", "vacuum"))),
)

KINDS = tuple(
    Kind(name, name.replace("_", " "), rotating=name in ("compressor_wheel", "turbine_rotor"))
    for name in (
        "compressor_cover",
        "compressor_wheel",
        "backplate",
        "bearing_housing",
        "turbine_rotor",
        "turbine_housing",
        "actuator",
        "wastegate_valve",
        "vane_ring",
        "unison_ring",
        "nozzle_ring",
    )
)

FEATURES = (
    Feature("foot", "foot pattern", "code", look="outside"),
    Feature("outlet", "outlet pattern", "code", look="outside"),
    Feature("outlet_angle", "outlet face angle", "code", look="outside"),
    Feature("coolant", "coolant port", "code", look="outside"),
    Feature("oil_feed", "oil feed thread", "code", look="outside"),
    Feature("sensor", "speed sensor boss", "code", look="outside"),
    Feature("signal", "control signal", "set", look="outside"),
    Feature("rotation", "rotation hand", "code", look="outside"),
    Feature("envelope", "overall length", "length", "mm", look="outside"),
    Feature("contour", "contour bore", "length", "mm", wears=True, look="gauge"),
    Feature("recess", "wheel recess", "length", "mm", look="gauge"),
    Feature("exducer", "exducer", "length", "mm", duty=True, better="larger", look="stripped"),
    Feature("inlet", "inlet diameter", "length", "mm", duty=True, better="larger", look="stripped"),
    Feature("bore", "bore", "length", "mm", look="gauge"),
    Feature("nose", "shaft nose", "length", "mm", look="gauge"),
    Feature("journal", "journal", "length", "mm", look="gauge"),
    Feature("pilot", "pilot", "length", "mm", look="gauge"),
    Feature("inner", "inner diameter", "length", "mm", look="gauge"),
    Feature("pins", "pin pattern", "code", look="stripped"),
    Feature("gate", "gate bore", "length", "mm", look="gauge"),
    Feature("blades", "blade count", "count", duty=True, look="outside"),
    Feature("speed_limit", "speed limit", "speed", "rpm", duty=True, better="larger"),
    Feature("flow", "flow", "flow", duty=True, better="larger"),
    Feature("vibration", "vibration", "velocity", duty=True, better="smaller"),
)
FEATURE = {f.name: f for f in FEATURES}

INSIDE = ("cover", "wheel", "backplate", "bearing_housing", "rotor", "turbine_housing", "actuator")
KIND_OF = {
    "cover": "compressor_cover",
    "wheel": "compressor_wheel",
    "rotor": "turbine_rotor",
    "wastegate": "wastegate_valve",
}
CONTROLLED = {"wastegate": "pressure", "swing-vane": "bus-a", "sliding-nozzle": "vacuum"}
MORE_SEATS = {
    "wastegate": ("wastegate",),
    "swing-vane": ("vane_ring", "unison_ring"),
    "sliding-nozzle": ("nozzle_ring",),
}
NAMES = tuple(CONTROLLED)


def mm(size: float) -> int:
    return round(size * MM)


def _rules() -> dict[str, tuple[Rule, ...]]:
    def same(joint: str, left: tuple[str, str], right: tuple[str, str], type_: str = "same", **more: str) -> Rule:
        return Rule(joint, f"{joint}-{left[1]}", type_, left, (right,), **more)

    def gap(joint: str, left: tuple[str, str], right: tuple[str, str], low: float, high: float) -> Rule:
        return Rule(joint, f"{joint}-gap", "clearance", left, (right,), mm(low), mm(high), "mm")

    common = (
        same("foot", ("turbine_housing", "foot"), ("engine", "foot")),
        same("outlet", ("turbine_housing", "outlet"), ("engine", "outlet")),
        same("outlet", ("turbine_housing", "outlet_angle"), ("engine", "outlet_angle")),
        same("coolant", ("bearing_housing", "coolant"), ("engine", "coolant"), "accepted", set="coolant-supply"),
        same("oil", ("bearing_housing", "oil_feed"), ("engine", "oil_feed"), "thread"),
        same("sensor", ("bearing_housing", "sensor"), ("engine", "sensor")),
        same("control", ("actuator", "signal"), ("engine", "signal"), "control", set="signals"),
        Rule("envelope", "envelope-length", "at_most", ("cover", "envelope"), (("engine", "envelope"),), mm(10)),
        same("rotation", ("wheel", "rotation"), ("cover", "rotation")),
        same("rotation-hot", ("rotor", "rotation"), ("turbine_housing", "rotation")),
        gap("contour", ("cover", "contour"), ("wheel", "exducer"), 0.4, 1.0),
        Rule("recess", "recess-room", "at_least", ("backplate", "recess"), (("wheel", "exducer"),), mm(0.5)),
        gap("wheel-shaft", ("wheel", "bore"), ("rotor", "nose"), 0.0, 0.02),
        gap("journal", ("bearing_housing", "bore"), ("rotor", "journal"), 0.03, 0.12),
        gap("contour-hot", ("turbine_housing", "contour"), ("rotor", "exducer"), 0.6, 1.2),
    )
    return {
        "wastegate": (*common, gap("gate", ("turbine_housing", "gate"), ("wastegate", "gate"), 0.0, 0.1)),
        "swing-vane": (
            *common,
            gap("ring", ("turbine_housing", "pilot"), ("vane_ring", "pilot"), 0.05, 0.15),
            Rule("vanes", "vanes-clear", "at_least", ("vane_ring", "inner"), (("rotor", "inlet"),), mm(1)),
            same("pins", ("vane_ring", "pins"), ("unison_ring", "pins")),
        ),
        "sliding-nozzle": (
            *common,
            gap("ring", ("turbine_housing", "pilot"), ("nozzle_ring", "pilot"), 0.05, 0.15),
            Rule("nozzle", "nozzle-clear", "at_least", ("nozzle_ring", "inner"), (("rotor", "inlet"),), mm(1)),
        ),
    }


def _layout(name: str, rules: Sequence[Rule]) -> Layout:
    seats = tuple(Seat(s, KIND_OF.get(s, s)) for s in (*INSIDE, *MORE_SEATS[name]))
    joints: dict[str, set[str]] = {}
    for rule in rules:
        joints.setdefault(rule.joint, set()).update(rule.seats)
    return Layout(
        name,
        seats,
        tuple(Joint(j, j.replace("-", " "), tuple(sorted(on))) for j, on in joints.items()),
        tuple(rules),
    )


LAYOUTS = {name: _layout(name, rules) for name, rules in _rules().items()}


def value(feature: str, said: object) -> Value:
    """A value of the feature's type: mm, a count, rpm, a code, or codes."""
    kind = FEATURE[feature].type
    if kind == "length":
        return Amount(mm(float(said)), "length", f"{said:g}", "mm")  # type: ignore[arg-type,str-format]
    if kind == "count":
        return Amount(int(said), "count", str(said))  # type: ignore[call-overload]
    if kind == "speed":
        return Amount(int(said) * 1000, "speed", str(said), "rpm")  # type: ignore[call-overload]
    if kind == "set":
        codes = tuple(sorted(said)) if isinstance(said, tuple) else (str(said),)
        return CodeSet(codes, "|".join(codes))
    return Code(str(said), str(said))


def claims(
    key: str, facts: Mapping[str, object], rank: Rank = Rank.DRAWING, source: str = "drawing"
) -> tuple[Claim, ...]:
    return tuple(
        Claim(f"{key}#{name}#{source}", key, name, value(name, said), source, rank) for name, said in facts.items()
    )


@dataclass(frozen=True, slots=True)
class Made:
    """One generated unit with its parts' facts, seat by seat; `limits` are sizes to which a part may be cut."""

    maker: str
    name: str
    layout: str
    facts: Mapping[str, Mapping[str, object]]
    limits: Mapping[tuple[str, str], float] = field(default_factory=dict)

    @property
    def key(self) -> str:
        return subject("unit", self.maker, self.name)

    def part_key(self, seat: str) -> str:
        return subject("part", self.maker, f"{self.name}-{seat}")

    def part(self, seat: str) -> Part:
        key = self.part_key(seat)
        said = tuple(
            replace(c, limit_max=mm(self.limits[seat, c.feature])) if (seat, c.feature) in self.limits else c
            for c in claims(key, self.facts[seat])
        )
        return Part(key, self.maker, f"{self.name}-{seat}", KIND_OF.get(seat, seat), seat, said)

    @property
    def parts(self) -> tuple[Part, ...]:
        return tuple(sorted((self.part(seat) for seat in self.facts), key=lambda p: p.key))

    @property
    def unit(self) -> Unit:
        return Unit(
            self.key, self.maker, self.name, self.layout, parts=tuple((s, self.part_key(s)) for s in self.facts)
        )

    def having(self, seat: str, **facts: object) -> Made:
        """The same unit with some facts of one seat otherwise."""
        return replace(self, name=f"{self.name}x", facts={**self.facts, seat: {**self.facts[seat], **facts}})

    def without(self, seat: str, feature: str) -> Made:
        """The same unit with one fact taken away."""
        left = {name: said for name, said in self.facts[seat].items() if name != feature}
        return replace(self, facts={**self.facts, seat: left})


@dataclass(frozen=True, slots=True)
class MadeEngine:
    """A generated engine: its side of the outside joints."""

    name: str
    facts: Mapping[str, object]

    @property
    def engine(self) -> Engine:
        key = subject("engine", "Brackmoor", self.name)
        return Engine(key, "Brackmoor", self.name, claims=claims(key, self.facts))

    def having(self, **facts: object) -> MadeEngine:
        return replace(self, name=f"{self.name}x", facts={**self.facts, **facts})

    def without(self, feature: str) -> MadeEngine:
        return replace(self, facts={n: v for n, v in self.facts.items() if n != feature})


@dataclass(frozen=True, slots=True)
class Family:
    """Units with one outside in rising order of turbine wheel, the engine they suit, and the step between wheels."""

    layout: str
    engine: MadeEngine
    units: tuple[Made, ...]
    exducers: tuple[float, ...]  # each unit's turbine wheel exducer. [mm]

    @property
    def large(self) -> Made:
        return self.units[-1]


def family(seed: int, layout: str | None = None, members: int = 3) -> Family:
    """A family from a seed; its members differ in wheels and in the housings and covers bored for them."""
    draw = random.Random(seed)
    layout = layout or draw.choice(NAMES)
    maker = draw.choice(["Ostrel", "Quenby"])
    outside = {
        "foot": draw.choice(PATTERNS),
        "outlet": draw.choice(PATTERNS),
        "outlet_angle": draw.choice(["flat", "angled"]),
        "coolant": draw.choice(["m14x1.5", "none"]),
        "oil_feed": draw.choice(["M12 x 1.5", "M10x1"]),
        "sensor": draw.choice(["m8x1", "none"]),
    }
    hand = draw.choice(["left", "right"])
    signal = CONTROLLED[layout]
    envelope = draw.randrange(200, 300)
    bore, journal, pilot = (
        draw.randrange(60, 120) / 10,
        draw.randrange(120, 180) / 10,
        draw.randrange(1200, 1400) / 10,
    )
    exducers = [draw.randrange(500, 560) / 10]
    wheels = [draw.randrange(600, 680) / 10]
    while len(exducers) < members:
        exducers.append(round(exducers[-1] + draw.randrange(15, 40) / 10, 1))
        wheels.append(round(wheels[-1] + draw.randrange(15, 40) / 10, 1))
    units = []
    for i, (exducer, wheel) in enumerate(zip(exducers, wheels, strict=True)):
        facts: dict[str, dict[str, object]] = {
            "cover": {"contour": round(wheel + 0.7, 3), "rotation": hand, "envelope": envelope},
            "wheel": {
                "exducer": wheel,
                "bore": bore,
                "rotation": hand,
                "blades": draw.choice([6, 7, 8]),
                "speed_limit": 150_000 - 1000 * i,
            },
            "backplate": {"recess": round(wheel + 1, 3)},
            "bearing_housing": {
                "bore": round(journal + 0.06, 3),
                **{k: outside[k] for k in ("coolant", "oil_feed", "sensor")},
            },
            "rotor": {
                "exducer": exducer,
                "inlet": 70,
                "nose": round(bore - 0.01, 3),
                "journal": journal,
                "rotation": hand,
                "blades": draw.choice([10, 11, 12]),
            },
            "turbine_housing": {
                "contour": round(exducer + 0.9, 3),
                "rotation": hand,
                "pilot": round(pilot + 0.1, 3),
                "gate": 28.05,
                **{k: outside[k] for k in ("foot", "outlet", "outlet_angle")},
            },
            "actuator": {"signal": signal},
            "wastegate": {"gate": 28},
            "vane_ring": {"pilot": pilot, "inner": 72, "pins": "eleven"},
            "unison_ring": {"pins": "eleven"},
            "nozzle_ring": {"pilot": pilot, "inner": 72},
        }
        seats = (*INSIDE, *MORE_SEATS[layout])
        roomy = {
            ("cover", "contour"): wheels[-1] + 8,
            ("backplate", "recess"): wheels[-1] + 9,
            ("turbine_housing", "contour"): exducers[-1] + 4,
        }
        number = f"{draw.randrange(10, 99)}{i}"
        units.append(Made(maker, f"{maker[0]}{seed}-{number}", layout, {s: facts[s] for s in seats}, roomy))
    asked = {**outside, "signal": (signal,), "envelope": envelope + draw.randrange(10, 40)}
    return Family(layout, MadeEngine(f"B{seed}", asked), tuple(units), tuple(exducers))


def evidence(
    unit: Made,
    engine: MadeEngine | None,
    *,
    originals: Sequence[Made] = (),
    layouts: Mapping[str, Layout] = LAYOUTS,
    accepted: Sequence[tuple[str, tuple[tuple[str, str], ...]]] = ACCEPTED,
    seat: str = "",
    part: Part | None = None,
    mend: Bundle | None = None,
    **more: object,
) -> FitsEvidence:
    """Everything for one direction of one question."""
    parts = {p.key: p for made in (unit, *originals) for p in made.parts}
    if part is not None:
        parts[part.key] = part
    return FitsEvidence(
        question=FitsQuestion(
            unit.key, engine.engine.key if engine else "", seat, part.key if part else "", day="2024-05-01"
        ),
        snapshot=SNAPSHOT,
        layout=layouts[unit.layout],
        unit=unit.unit,
        engine=engine.engine if engine else None,
        originals=tuple(o.unit for o in originals),
        original_layouts=tuple(layouts[o] for o in sorted({o.layout for o in originals})),
        fitments=more.pop("fitments", ()),  # type: ignore[arg-type]
        parts=tuple(sorted(parts.values(), key=lambda p: p.key)),
        kinds=KINDS,
        features=FEATURES,
        accepted=tuple(accepted),
        supersessions=more.pop("supersessions", ()),  # type: ignore[arg-type]
        sources=(DRAWING,),
        mend=mend,
        **more,  # type: ignore[arg-type]
    )


def _cut(name: str, kind: str, feature: str) -> Operation:
    return Operation(
        name,
        name.replace("_", " "),
        kind,
        feature,
        "widen_to_suit",
        setup=20 * MINUTE,
        time=30 * MINUTE,
        time_per_mm=10 * MINUTE,
        tolerance=mm(0.02),
    )


OPERATIONS = (
    Operation("balance", "balance the core", "", "", "service", setup=10 * MINUTE, time=45 * MINUTE),
    _cut("bore_cover", "compressor_cover", "contour"),
    _cut("bore_turbine", "turbine_housing", "contour"),
    _cut("open_recess", "backplate", "recess"),
)
NEW = Price(500_000, "EUR", "2024-01-01", lead_days=3)  # dearer than any cut
SERVICES = (ServiceDue("rotor", "balance"), ServiceDue("wheel", "balance"))


def bundle(
    start: Made,
    engine: MadeEngine,
    *,
    new: Sequence[Part] = (),
    demands: Sequence[tuple[str, str, str, object]] = (),
    wishes: tuple[str, ...] = (),
    layouts: Mapping[str, Layout] = LAYOUTS,
    best: int = 1,
) -> Bundle:
    """From a core of `start`, read on the bench where it wears, to a build on `engine`; its own numbers and the `new`
    parts are for sale.
    """
    parts = {p.key: replace(p, price_new=NEW) for p in (*start.parts, *new)}
    build = Build("build/wanted", "wanted", start.layout, engine.engine.key)
    asked = tuple(Demand(build.key, seat, name, type_, value(name, said)) for seat, name, type_, said in demands)
    core_key = subject("core", start.name)

    def read(seat: str, part: Part) -> tuple[Claim, ...]:
        worn = {c.feature: c for c in part.claims if FEATURE[c.feature].wears}
        return tuple(
            replace(
                c,
                id=f"{core_key}#{seat}#{name}",
                subject=core_key,
                source="bench",
                rank=Rank.MEASURED,
                limit_max=None,
            )
            for name, c in worn.items()
        )

    return Bundle(
        question=PlanQuestion(core_key, build.key, engine.engine.key, best=best, day="2024-05-01", wishes=wishes),
        snapshot=SNAPSHOT,
        layout=layouts[start.layout],
        build=replace(build, demands=asked),
        engine=engine.engine,
        core=Core(
            core_key,
            start.name,
            start.layout,
            start.key,
            book_value=10_000,
            currency="EUR",
            found=tuple(
                FoundPart(seat, start.part_key(seat), readings=read(seat, start.part(seat))) for seat in start.facts
            ),
        ),
        donors=(),
        parts=tuple(sorted(parts.values(), key=lambda p: p.key)),
        kinds=KINDS,
        features=FEATURES,
        accepted=ACCEPTED,
        operations=OPERATIONS,
        consumes=(),
        services=SERVICES,
        rates=(Rate("shop", 9_000, "EUR"),),
        sources=(BENCH, DRAWING),
    )
