"""Tiny bundles by a seed, with everything in them that makes a plan hard: see `random_bundle`."""

from dataclasses import replace
from random import Random

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
)
from graph.model.value import Amount, Code

DEEP = 10_000_000  # ms per mm that make one quantum of depth cost one ms


class Maker:
    """Draws one bundle."""

    def __init__(self, seed: int) -> None:
        self.r = Random(seed)
        self.worn = Random(seed + 10_000)
        self.readers = Random(seed + 20_000)
        self.count = 0

    def claims(self, subject: str, feature: str, *, reading: bool = False) -> list[Claim]:
        """One claim, seldom two that may dispute, seldom heard, seldom none."""
        r = self.r
        if r.random() < 0.04:
            return []
        made = []
        for _ in range(2 if r.random() < 0.1 else 1):
            self.count += 1
            value = Code(r.choice(["a", "b", "none"])) if feature == "p" else Amount(r.randint(10, 16), "length")
            rank = Rank.MEASURED if reading else r.choice([Rank.DRAWING] * 8 + [Rank.MEASURED, Rank.MAKER])
            rank = Rank.HEARD if r.random() < 0.04 else rank
            low = high = None
            if isinstance(value, Amount) and not reading:
                low = value.amount - r.randint(0, 8) if r.random() < 0.8 else None
                high = value.amount + r.randint(0, 8) if r.random() < 0.8 else None
            source = r.choice(["one", "two"])
            tolerance = r.choice([None, 0, 0, 1])
            date = r.choice(["", "2020", "2024-02-01"])
            name = f"c{self.count}"
            said = Claim(name, subject, feature, value, source, rank, date, tolerance, low, high)
            made.append(self.read(said) if reading else said)
        if reading and len(made) == 1 and self.readers.random() < 0.15:  # somebody reads it again, nearby
            made.append(self.again(made[0]))
        return made

    def read(self, claim: Claim) -> Claim:
        """A reading, mostly with who took it, seldom without its uncertainty."""
        r = self.readers
        who, tool = r.choice(["", "ann", "ann", "bo"]), r.choice(["", "gauge", "gauge", "rule"])
        digits = r.choice([0, 1]) if isinstance(claim.value, Amount) and claim.tolerance is None else 0
        return replace(claim, who=who, instrument=tool, resolution=digits)

    def again(self, claim: Claim) -> Claim:
        self.count += 1
        r = self.readers
        value = claim.value
        if isinstance(value, Amount):
            value = replace(value, amount=value.amount + r.choice([-1, 0, 0, 1, 2]))
        date, slack = r.choice(["", "2020", "2024-02-01"]), r.choice([None, 0, 1, 2, 3])
        return self.read(replace(claim, id=f"c{self.count}", value=value, date=date, tolerance=slack))

    def wall(self, subject: str) -> list[Claim]:
        made = []
        for position in ("A", "B"):
            if self.r.random() < 0.8:
                self.count += 1
                value = Amount(self.r.randint(4, 12), "length")
                made.append(
                    Claim(f"c{self.count}", subject, "wall", value, "one", Rank.MEASURED, "", 1, position=position)
                )
        return made

    def part(self, kind: str, number: int) -> Part:
        r = self.r
        key = f"part/{kind}-{number}"
        claims = tuple(c for f in ("x", "y", "p", "stop") for c in self.claims(key, f))
        limits = [Limit("wall", "", r.randint(2, 4), None, 2, "one")] if r.random() < 0.8 else []
        limits += self.worn_limits()
        new = Price(r.randint(0, 60), "EUR", "2026-01-01") if r.random() < 0.9 else None
        used = Price(r.randint(0, 30), "EUR", "2026-01-01") if r.random() < 0.9 else None
        return Part(key, "O", f"{kind}-{number}", kind, "", claims, tuple(limits), new, used)

    def worn_limits(self) -> list[Limit]:
        """Seldom one or two rows for what a used part may measure; some of them new parts' or hearsay."""
        r = self.worn
        rows = []
        for _ in range(r.choice([0, 0, 0, 1, 2])):
            low = r.choice([None, r.randint(9, 13)])
            high = r.randint(12, 17) if low is None else r.choice([None, low + r.randint(0, 5)])
            condition, rank = r.choice(["used", "used", "", "new"]), r.choice([2, 2, 2, 5, 6])
            rows.append(Limit(r.choice("xy"), condition, low, high, rank, "one"))
        return rows

    def core(self, tag: str, parts: dict[str, list[Part]]) -> Core:
        r = self.r
        found = []
        for seat, mine in parts.items():
            readings: list[Claim] = []
            for feature in ("x", "y"):
                if r.random() < 0.5:
                    readings += self.claims(tag, feature, reading=True)
            readings += self.wall(tag) if r.random() < 0.7 else []
            state = r.choice(["present"] * 6 + ["missing", "cracked"])
            found.append(FoundPart(seat, r.choice(mine).key, state, tuple(readings)))
        value = r.choice([None, 0, 25])
        return Core(
            f"core/{tag}", tag, "l", book_value=value, own=r.random() < 0.3, may_donate=True, found=tuple(found)
        )

    def rules(self, seats: list[str], cut: dict[str, Operation]) -> list[Rule]:
        """Rules that look at the features that can be cut (`cut`, by seat) more often than not."""
        r = self.r
        made = []

        def pick(seat: str) -> str:
            return cut[seat].feature if seat in cut and r.random() < 0.8 else r.choice("xy")

        for number in range(r.randint(1, 3)):
            left, right = r.sample([*seats, "engine"], 2)
            if left == "engine":
                left, right = right, left
            kind = r.choice(
                ["clearance"] * 3 + ["interference", "at_most", "at_least", "same", "accepted", "stack", "code"]
            )
            low = r.choice([None, *range(-2, 3)])
            high = r.choice([None, (low or 0) + r.randint(0, 5), (low or 0) + r.randint(2, 6)])
            one, two = pick(left), pick(right)
            name = f"r{number}"
            if kind in ("accepted", "code"):
                word = "same" if kind == "code" else kind
                made.append(Rule("j", name, word, (left, "p"), ((right, "p"),), set="pairs"))
            elif kind == "stack":
                third = r.choice([s for s in seats if s != left])
                ends = (-14 + (low or 0), -10 + (high or 2))
                made.append(Rule("j", name, kind, (left, one), ((right, two), (third, pick(third))), *ends))
            elif kind in ("at_most", "at_least") and r.random() < 0.4:
                made.append(Rule("j", name, kind, (left, one), (), r.randint(10, 13), r.randint(12, 16)))
            else:
                made.append(Rule("j", name, kind, (left, one), ((right, two),), low, high))
        named = {seat for rule in made for seat in rule.seats}
        loose = [s for s in seats if s not in named and r.random() < 0.6]
        if "engine" not in named and r.random() < 0.8:
            loose = loose or [r.choice(seats)]
        made += [Rule("j", f"{s}-onto", "at_least", (s, "x"), (("engine", "x"),), -40) for s in loose]
        return made

    def rule_for(self, name: str, left: str, right: str, cut: dict[str, Operation], other: str) -> Rule:
        """A rule that the left seat's cut may mend."""
        r = self.r
        widen = cut[left].effect == "widen_to_suit"
        kind = r.choice(
            ["clearance", "clearance", "at_least"] if widen else ["interference", "interference", "at_most"]
        )
        low = r.randint(1, 6)
        high = r.choice([None, low + r.randint(0, 4)])
        return Rule("j", name, kind, (left, cut[left].feature), ((right, other),), low, high)

    def operations(self, kinds: list[str]) -> list[Operation]:
        r = self.r
        made = [
            Operation("v1", "", "", "", "service", 3, 4, follows=("v3",) if r.random() < 0.5 else ()),
            Operation("v2", "", "", "", "service", 0, 5, needs=("v3",) if r.random() < 0.5 else ()),
            Operation("v3", "", "", "", "service", 1, 1),
        ]
        for kind in kinds:
            if r.random() < 0.8:
                made.append(self.cut(f"{kind}-cut", kind, r.choice("xy")))
            if r.random() < 0.5:
                effect = r.choice(["set_code", "add_feature", "remove_feature"])
                code = None if effect == "remove_feature" else Code(r.choice("ab"))
                made.append(Operation(f"{kind}-code", "", kind, "p", effect, 2, 5, to_value=code))
            if r.random() < 0.2:
                made.append(Operation(f"{kind}-wash", "", kind, "", "service", 2, 2))
        names = [o.name for o in made if o.kind]
        final = []
        for o in made:
            if o.kind and o.effect != "service":
                mates = [n for n in names if n.startswith(o.kind) and n != o.name]
                needs = tuple(n for n in mates if r.random() < 0.3 and (n < o.name or n.endswith("wash"))) + (
                    ("v2",) if r.random() < 0.15 else ()
                )
                excludes = tuple(n for n in mates if n not in needs and r.random() < 0.15)
                follows = ("v1",) if r.random() < 0.3 else ()
                final.append(replace(o, needs=needs, excludes=excludes, follows=follows))
            else:
                final.append(o)
        return sorted(final, key=lambda o: o.name)

    def cut(self, name: str, kind: str, feature: str) -> Operation:
        r = self.r
        wall = r.random() < 0.2
        return Operation(
            name,
            "",
            kind,
            feature,
            r.choice(["widen_to_suit", "reduce_to_suit"]),
            r.randint(0, 5),
            r.randint(0, 9),
            DEEP * r.randint(0, 3),
            tolerance=r.choice([0] * 6 + [1, 1, None]),
            limit_feature="stop" if r.random() < 0.15 else "",
            wall_feature="wall" if wall else "",
            wall_positions=("A", "B") if wall else (),
            wall_share=r.choice(["half", "full"]),
            core_shift=r.choice([None, 0, 1, 1]),
        )

    def demands(self, seats: list[str]) -> list[Demand]:
        r = self.r
        made = []
        for _ in range(r.choice([0, 0, 1, 1, 2])):
            seat = r.choice(seats)
            kind = r.choice(["same", "code", "at_least", "at_most", "between", "keep", "stay"])
            size = Amount(r.randint(11, 15), "length")
            if kind == "code":
                made.append(Demand("b", seat, "p", "same", Code(r.choice("ab"))))
            elif kind in ("keep", "stay"):
                made.append(Demand("b", seat, "" if kind == "keep" else "x", "keep"))
            else:
                made.append(
                    Demand("b", seat, r.choice("xy"), kind, size, size.amount + 3 if kind == "between" else None)
                )
        return made


def random_bundle(seed: int) -> Bundle:
    """Two to four seats with kept, donor and new parts, empty seats, cuts on both sides of a joint, walls, limits
    of all origins, disputed, heard, worn and missing facts, services, used-up parts and missing prices."""
    m = Maker(seed)
    r = m.r
    seats = [f"s{i}" for i in range(r.choice([2, 2, 3, 3, 3, 4]))]
    kinds = {s: f"k{s[1:]}" for s in seats}
    parts = {s: [m.part(kinds[s], i) for i in range(r.randint(1, 2))] for s in seats}
    spare = [m.part("spare", i) for i in range(2)]
    operations = m.operations(list(kinds.values()))
    cut = {f"s{o.kind[1:]}": o for o in operations if o.effect.endswith("to_suit")}
    layout = Layout(
        "l",
        tuple(
            Seat(s, kinds[s], r.choice([1, 1, 2]), r.random() < 0.3, strip_time=r.choice([None, 6])) for s in seats
        ),
        (Joint("j", "", tuple(seats)),),
        tuple(m.rules(seats, cut)),
    )
    whens = ["always", *seats, *(o.name for o in operations)]
    consumes = [
        Consume(r.choice(whens), r.choice(spare).key, r.randint(1, 3), r.choice(["seat", "unit"]))
        for _ in range(r.randint(0, 3))
    ]
    services = [
        ServiceDue(r.choice(["always", *seats]), r.choice(["v1", "v2", "v3"])) for _ in range(r.randint(0, 2))
    ]
    everything = sorted([*(p for mine in parts.values() for p in mine), *spare], key=lambda p: p.key)
    return Bundle(
        PlanQuestion("core/c", "build/b", "engine/e", 3, "2026-01-01"),
        Snapshot("c", 1),
        layout,
        Build("build/b", "b", "l", demands=tuple(m.demands(seats))),
        Engine("engine/e", "B", "e", claims=tuple(c for f in ("x", "y", "p") for c in m.claims("engine/e", f))),
        m.core("c", parts),
        tuple(m.core(f"d{i}", parts) for i in range(r.randint(0, 2))),
        tuple(everything),
        tuple(Kind(k, k) for k in sorted({*kinds.values(), "spare"})),
        tuple(
            Feature(f, f, "code" if f == "p" else "length", wears=f == "y" and r.random() < 0.5)
            for f in ("p", "stop", "wall", "x", "y")
        ),
        (("pairs", tuple(sorted({(r.choice("ab"), r.choice("ab")) for _ in range(r.randint(0, 3))}))),),
        tuple(operations),
        tuple(consumes),
        tuple(services),
        (Rate("shop", r.choice([3_600_000, 1_000_000, 5_000_000]), "EUR"),),
        (),
    )


def meeting_bundle(seed: int) -> Bundle:
    """Two or three parts cut against one another, each with too little room to do it alone more often than not."""
    r = Random(seed)
    seats = [f"s{i}" for i in range(r.choice([2, 2, 3]))]
    parts, operations, found = [], [], []
    for i, seat in enumerate(seats):
        key, size, room = f"part/{i}", r.randint(10, 13), r.randint(1, 5)
        sign = 1 if i == 0 else -1
        ends = (None, size + room) if sign > 0 else (size - room, None)
        slack = r.choice([0, 0, 1])
        claim = Claim(f"c{i}", key, "x", Amount(size, "length"), "one", Rank.DRAWING, "", slack, *ends)
        parts.append(Part(key, "O", str(i), f"k{i}", "", (claim,), price_new=Price(r.randint(5, 20), "EUR", "2026")))
        effect = "widen_to_suit" if sign > 0 else "reduce_to_suit"
        deep = DEEP * r.randint(0, 3)
        operations.append(Operation(f"cut{i}", "", f"k{i}", "x", effect, 1, 2, deep, tolerance=r.choice([0, 0, 1])))
        found.append(FoundPart(seat, key))
    low = r.randint(2, 7)
    rules = [Rule("j", "r0", "clearance", ("s0", "x"), (("s1", "x"),), low, low + r.randint(1, 5))]
    if len(seats) == 3:
        low = r.randint(1, 6)
        third = ("clearance", ("s0", "x")) if r.random() < 0.5 else ("at_least", ("s1", "x"))
        rules.append(Rule("j", "r1", third[0], third[1], (("s2", "x"),), low, low + r.randint(2, 6)))
    demands = ()
    rules.append(Rule("j", "onto", "at_least", ("s0", "x"), (("engine", "x"),), -40))
    if r.random() < 0.4:
        demands = (Demand("b", "s1", "x", r.choice(["at_least", "at_most"]), Amount(r.randint(9, 12), "length")),)
    return Bundle(
        PlanQuestion("core/c", "build/b", "engine/e", 3),
        Snapshot("c", 1),
        Layout("l", tuple(Seat(s, f"k{s[1:]}") for s in seats), (Joint("j", "", tuple(seats)),), tuple(rules)),
        Build("build/b", "b", "l", demands=demands),
        Engine("engine/e", "B", "e", claims=(Claim("e", "engine/e", "x", Amount(1, "length"), "one", Rank.DRAWING),)),
        Core("core/c", "c", "l", own=True, found=tuple(found)),
        (),
        tuple(parts),
        tuple(Kind(f"k{i}", "") for i in range(len(seats))),
        (Feature("x", "x", "length"),),
        (),
        tuple(operations),
        (),
        (),
        (Rate("shop", 3_600_000, "EUR"),),
        (),
    )
