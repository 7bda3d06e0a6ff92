"""Small random bundles of the pump's domain, seeded: sizes of a few hundred quanta, so that all can be tried."""

import random
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pump

from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.record import Consume, Core, Demand, FoundPart, Limit, Operation, Part, Rate, Rule, Seat, ServiceDue
from graph.model.value import Amount, Code

QUANTUM = 10_000_000
"""Times `time_per_mm` of one quantum: the price of a cut then moves with every quantum."""

SIZES = {"bore": (200, 206), "diameter": (194, 200), "eye": (100, 106), "journal": (96, 104), "depth": (300, 308),
         "height": (148, 154), "inside": (104, 108), "max-bore": (206, 216)}  # fmt: skip
CODES = {"flange": ("four", "four", "four", "six", "six", "none"), "drain": ("none", "plug")}
OF_KIND = {
    "casing": ("bore", "depth", "flange", "drain", "max-bore"),
    "impeller": ("diameter", "eye", "height"),
    "shaft": ("journal",),
    "seal": ("inside", "height"),
}


def amount(size: int) -> Amount:
    return Amount(size, "length", str(size), "")


class Dice:
    def __init__(self, seed: int) -> None:
        self.r = random.Random(seed)
        self.count = 0

    def said(self) -> str:
        self.count += 1
        return f"c{self.count:03d}"

    def claim(self, subject: str, feature: str, **more: Any) -> Claim:
        if feature in CODES:
            code = self.r.choice(CODES[feature])
            return Claim(self.said(), subject, feature, Code(code, code), **more)
        low, high = SIZES[feature]
        more.setdefault("tolerance", self.r.choice((0, 0, 1, 2)))
        return Claim(self.said(), subject, feature, amount(self.r.randint(low, high)), **more)

    def claims(self, subject: str, feature: str) -> list[Claim]:
        luck = self.r.random()
        limits: dict[str, Any] = {}
        if feature == "diameter" and self.r.random() < 0.9:
            limits["limit_min"] = self.r.randint(184, 192)
        if feature in ("height", "journal") and self.r.random() < 0.9:
            limits["limit_min"] = SIZES[feature][0] - self.r.randint(0, 8)
        if feature == "eye" and self.r.random() < 0.9:
            limits["limit_max"] = self.r.randint(104, 110)
        if luck < 0.01:
            return []
        if luck < 0.02:
            return [self.claim(subject, feature, source="talk", rank=Rank.HEARD)]
        first = self.claim(subject, feature, source="drawing", rank=Rank.DRAWING, **limits)
        if luck < 0.08:
            return [first, self.claim(subject, feature, source="other drawing", rank=Rank.DRAWING)]
        if luck < 0.2:
            return [first, self.claim(subject, feature, source="a supplier", rank=Rank.SUPPLIER)]
        return [first]

    def part(self, kind: str, number: int) -> Part:
        key = f"part/Lindal/{kind}{number}"
        claims = tuple(c for f in OF_KIND[kind] for c in self.claims(key, f))
        limits = tuple(self.limits(kind))
        return Part(
            key, "Lindal", f"{kind}{number}", kind, kind, claims, limits,
            price_new=pump.price(self.r.randint(50, 400)) if self.r.random() < 0.93 else None,
            price_used=pump.price(self.r.randint(20, 200)) if self.r.random() < 0.93 else None,
        )  # fmt: skip

    def limits(self, kind: str) -> Iterator[Limit]:
        """The least wall, and what a used part may measure; seldom only heard, some of them for new parts alone."""
        if self.r.random() < 0.9:
            yield Limit("wall", "", self.r.randint(7, 11), None, 5, "shop")
        for feature in OF_KIND[kind]:
            if feature in CODES or feature == "max-bore":
                continue
            low, high = SIZES[feature]
            for _ in range(self.r.choice((0, 0, 0, 1, 1, 2))):
                condition, rank = self.r.choice(("used", "used", "", "new")), self.r.choice((3, 3, 5, 6))
                least = low - self.r.randint(-3, 4) if self.r.random() < 0.7 else None
                most = high + self.r.randint(-3, 4) if self.r.random() < 0.5 else None
                yield Limit(feature, condition, least, most, rank, "sheet", self.said())

    def found(self, seat: Seat, parts: list[Part]) -> FoundPart | None:
        mine = [p for p in parts if p.kind == seat.kind]
        if not mine or self.r.random() < 0.07:
            return None
        part = self.r.choice(mine)
        readings: list[Claim] = []
        wanted = ("journal",) if seat.kind == "shaft" else OF_KIND[seat.kind]
        for feature in wanted:
            if feature == "journal" and self.r.random() < 0.95:
                places = self.r.choice((("",), ("",), ("a", "b")))
                readings += [
                    self.claim(part.key, feature, source="bench", rank=Rank.MEASURED, position=p) for p in places
                ]
            elif feature in SIZES and feature != "max-bore" and self.r.random() < 0.12:
                readings.append(self.claim(part.key, feature, source="bench", rank=Rank.MEASURED))
        if seat.kind == "casing":
            for p in ("n", "s") if self.r.random() < 0.9 else ("n",):
                size = amount(self.r.randint(11, 20))
                readings.append(
                    Claim(self.said(), part.key, "wall", size, "bench", Rank.MEASURED, tolerance=1, position=p)
                )
        state = "present" if self.r.random() < 0.96 else "cracked"
        return FoundPart(seat.name, part.key, state, tuple(readings), said=f"found:{seat.name}")


def random_bundle(seed: int, best: int = 10) -> Bundle:
    """One small question; about half of them have a certain plan."""
    d = Dice(seed)
    r = d.r
    seats = (
        Seat("casing", "casing", strip_time=r.choice((None, 61_000))),
        Seat("impeller", "impeller", strip_time=123_456),
        Seat("shaft", "shaft"),
        Seat("seal", "seal", quantity=r.choice((1, 2)), may_be_empty=r.random() < 0.4),
    )
    counts = {"casing": r.choice((1, 2)), "impeller": r.choice((1, 2, 2)), "shaft": r.choice((1, 2)), "seal": 1}
    parts = [d.part(kind, n) for kind, count in counts.items() for n in range(count)]
    extra = [
        Part(f"part/Lindal/{n}", "Lindal", n, "gasket", n, price_new=pump.price(r.randint(1, 30)))
        for n in ("ga", "gb")
    ]
    core = Core(
        "core/K", "K", "pump", book_value=r.choice((10, 50, None)), currency="EUR", own=r.random() < 0.2,
        found=tuple(f for s in seats if (f := d.found(s, parts))), said="k",
    )  # fmt: skip
    donors = tuple(
        Core(f"core/D{n}", f"D{n}", "pump", may_donate=True, said="d",
             found=tuple(f for s in seats if r.random() < 0.5 and (f := d.found(s, parts))))
        for n in range(r.choice((0, 0, 1, 2)))
    )  # fmt: skip
    return pump.pump(
        parts=tuple(parts + extra),
        core=core,
        donors=donors,
        demands=_demands(d),
        operations=_operations(d),
        rules=_rules(d),
        joints=pump.JOINTS if r.random() < 0.05 else None,
        seats=seats,
        consumes=_consumes(r),
        services=tuple(
            ServiceDue(when, what)
            for when, what in (("impeller", "balance"), ("shaft", "balance"), ("seal", "test"), ("always", "wash"))
            if r.random() < 0.5
        ),
        rates=tuple(Rate(n, r.choice((5_999, 3_600, 7_001)), "EUR") for n in ("shop", "mill") if r.random() < 0.93),
        engine=replace(
            pump.ENGINE,
            claims=tuple(c for f in ("flange",) for c in d.claims(pump.ENGINE.key, f)),
        ),
        best=best,
        wishes=tuple(w for w in ("no-new", "no-donor", "no-machining", "keep:impeller") if r.random() < 0.05),
    )


def _rules(d: Dice) -> tuple[Rule, ...]:
    r = d.r
    gap = r.choice((3, 5))
    rules = [
        Rule("gap", "gap", "clearance", ("casing", "bore"), (("impeller", "diameter"),), gap, gap + r.choice((4, 8))),
        Rule("fit", "fit", r.choice(("clearance", "interference")), ("impeller", "eye"), (("shaft", "journal"),)),
        Rule("sealing", "lip", "at_least", ("seal", "inside"), (("shaft", "journal"),), r.choice((None, 2))),
        Rule("outlet", "flange", "same", ("casing", "flange"), (("engine", "flange"),)),
        Rule("gap", "room", "stack", ("casing", "depth"), (("impeller", "height"), ("seal", "height")), -6, 14),
        Rule(
            "gap",
            "twice",
            "stack",
            ("casing", "depth"),
            (("impeller", "diameter"), ("impeller", "diameter")),
            -101,
            -76,
        ),
        Rule("gap", "eye-below-bore", "at_most", ("impeller", "eye"), (("casing", "bore"),), 80),
        Rule("gap", "tall", "at_most", ("impeller", "height"), (), None, r.choice((152, 154, 155))),
        Rule("fit", "like", "same", ("seal", "inside"), (("impeller", "eye"),), None, 9),
    ]
    low, high = r.choice(((1, 6), (0, 5), (-2, 8)))
    rules[1] = replace(rules[1], min=low, max=high)
    surely = ("gap", "fit", "flange") if r.random() < 0.95 else ("gap", "fit")
    return tuple(rule for rule in rules if rule.name in surely or r.random() < 0.4)


def _operations(d: Dice) -> tuple[Operation, ...]:
    r = d.r

    def cut(name: str, kind: str, feature: str, effect: str, **more: Any) -> Operation:
        return Operation(
            name, name, kind, feature, effect, r.choice((0, 60_000)), r.randint(0, 90_000),
            time_per_mm=r.choice((0, 1_234, 9_000, 30_000)) * QUANTUM, tolerance=r.choice((0, 1, 1)),
            rate=r.choice(("shop", "shop", "mill")), reversible=r.random() < 0.3, **more,
        )  # fmt: skip

    def code(name: str, feature: str, effect: str, to: str, **more: Any) -> Operation:
        worth = Code(to, to) if to else None
        return Operation(name, name, "casing", feature, effect, 0, r.randint(1, 90_000), to_value=worth, **more)

    wall = {"wall_feature": "wall", "wall_positions": ("n", "s"), "wall_share": r.choice(("half", "full"))}
    services = [
        Operation(
            name, name, "", "", "service", 0, r.randint(1, 200_000), follows=("test",) if name == "wash" else ()
        )
        for name in ("balance", "test", "wash")
    ]
    dye = Operation("dye", "dye", "impeller", "", "service", 0, 50_000, follows=("wash",) if r.random() < 0.5 else ())
    optional = [
        cut("bore", "casing", "bore", "widen_to_suit", limit_feature="max-bore", follows=("balance",),
            needs=r.choice(((), ("redrill",), ("plug",))), core_shift=r.choice((None, 0, 1, 1)),
            **(wall if r.random() < 0.4 else {})),
        cut("trim", "impeller", "diameter", "reduce_to_suit", follows=("balance",), needs=r.choice(((), ("dye",)))),
        cut("ream", "impeller", "eye", "widen_to_suit", excludes=r.choice(((), ("face",)))),
        cut("grind", "shaft", "journal", "reduce_to_suit", limit_feature=""),
        cut("face", "impeller", "height", "reduce_to_suit", needs=r.choice(((), ("trim",), ("wash",)))),
        code("redrill", "flange", "set_code", "four", follows=("test",)),
        code("redrill-six", "flange", "set_code", "six", excludes=r.choice(((), ("bore",)))),
        code("plug", "drain", "add_feature", "plug"),
        code("unplug", "drain", "remove_feature", ""),
    ]  # fmt: skip
    return (*services, dye, *(o for o in optional if r.random() < 0.8))


def _demands(d: Dice) -> tuple[Demand, ...]:
    r = d.r

    def one(seat: str, feature: str, kind: str, value: Any = None, to: int | None = None) -> Demand:
        return Demand("build/B1", seat, feature, kind, value, to)

    size = r.randint(194, 201)
    offered = [
        one("impeller", "diameter", "at_least", amount(size)),
        one("impeller", "diameter", "between", amount(size), size + r.choice((0, 4))),
        one("impeller", "diameter", "same", amount(size)),
        one("casing", "drain", "same", Code(r.choice(("plug", "none")))),
        one("casing", "bore", "at_most", amount(r.randint(203, 214))),
        one("shaft", "", "keep"),
        one("casing", "bore", "keep"),
        one("seal", "height", "at_least", amount(148)),
    ]
    chances = (0.25, 0.1, 0.06, 0.2, 0.15, 0.05, 0.05, 0.1)
    return tuple(x for x, chance in zip(offered, chances, strict=True) if r.random() < chance)


def _consumes(r: random.Random) -> tuple[Consume, ...]:
    whens = ("casing", "impeller", "shaft", "bore", "trim", "dye", "balance", "wash", "always")
    rows = []
    for when in whens:
        for name in ("ga", "gb"):
            if r.random() < 0.25:
                per = r.choice(("seat", "unit"))
                rows.append(Consume(when, f"part/Lindal/{name}", r.randint(1, 3), per, f"use:{when}:{name}"))
    return tuple(rows)
