"""A gear pump of four seats with its bundle, and its five cheapest plans worked out by hand.

The sums (lengths in mm, money in minor units), each from docs/semantics.md:

Clearance bore - gear must be 0.10..0.20. The build wants a gear of at least 60.30: the new gear is 60.50 ± 0.01.
The kept housing is read 60.00 ± 0.01, so it is bored to T ± 0.01 with T - 0.01 - 60.51 >= 0.10, T >= 60.62, and
T + 0.01 - 60.49 <= 0.20, T <= 60.68; the middle is 60.65. The thinner wall is 6.00 ± 0.05, so from 59.99 there is
room for 2 × (5.95 - 0.30 core shift - 5.00 least wall) = 1.30: the limit is 61.29. The depth is 60.62 - 60.00.

bore: 20 + 30 + 0.62 × 10 = 56.2 min at 9000 an hour = 8430; tap the port: 12 min = 1800; wash 15 min = 2250;
test run 20 min = 3000; deburr (follows boring) 6 min = 900; strip a donor's housing 12 min = 1800.
o-rings: by the unit, 1 for the housing and 2 for the gear: 2 × 200; bolts for the boring: 3 × 50.

A  bore and tap the kept housing, new gear, seals at 450:
   5000 + 12000 + 900 + 8430 + 1800 + 2250 + 3000 + 900 + 400 + 150 = 34830
A' with seals at 600: 35130
C  donor's housing, read 60.64 ± 0.01 (clearance 0.12..0.16), tapped: 5000 + 10000 + 1800 + 12000 + 900 + 1800
   + 2250 + 3000 + 400 = 37150
C' with seals at 600: 37450
B  new housing 60.65 with its port: 5000 + 40000 + 12000 + 900 + 2250 + 3000 + 400 = 63550
"""

from dataclasses import replace

from graph.model.bundle import Bundle, PlanQuestion
from graph.model.claim import Claim, Rank
from graph.model.plan import ConsumedPart, CostLine, Plan, PlanAnswer, SeatChoice, Step
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
    Stock,
)
from graph.model.value import Amount, Code
from graph.model.verdict import Operand, Proof, RuleVerdict, Verdict

MINUTE = 60_000


def mm(text: str) -> int:
    """Quanta of 100 pm."""
    whole, _, rest = text.partition(".")
    return int(whole) * 10_000_000 + int(rest.ljust(7, "0") or 0)


def size(text: str) -> Amount:
    return Amount(mm(text), "length", text, "mm")


def rpm(number: int) -> Amount:
    return Amount(number * 1000, "speed", str(number), "rpm")


def claim(name: str, subject: str, feature: str, value: Amount | Code, rank: Rank, **more: object) -> Claim:
    source = {Rank.MEASURED: "bench", Rank.DRAWING: "drawings"}.get(rank, "talk")
    return Claim(name, subject, feature, value, source, rank, **more)  # type: ignore[arg-type]


def _drawn(part: str, number: int, feature: str, value: Amount | Code, tolerance: str = "") -> Claim:
    slack = mm(tolerance) if tolerance else None
    return claim(f"c-{part}-{number}", f"part/O/{part}", feature, value, Rank.DRAWING, tolerance=slack)


def _read(tag: str, number: int, feature: str, text: str, slack: str, position: str = "") -> Claim:
    name = f"r-{tag}-{number}"
    return claim(name, f"core/{tag}", feature, size(text), Rank.MEASURED, tolerance=mm(slack), position=position)


def _price(minor: int, name: str, deposit: int | None = None, lead: int | None = None) -> Price:
    return Price(minor, "EUR", "2026-01-05", deposit, lead, f"p-{name}")


def _part(number: str, kind: str, claims: tuple[Claim, ...], **more: object) -> Part:
    return Part(f"part/O/{number}", "O", number, kind, f"{kind} {number}", claims, said=f"s-{number}", **more)  # type: ignore[arg-type]


HOUSING = (
    _drawn("H1", 1, "bore", size("60.00"), "0.01"),
    _drawn("H1", 2, "face", Code("face-a")),
    _drawn("H1", 3, "port", Code("none")),
)
PARTS = (
    _part("BT", "bolt", (), price_new=_price(50, "BT", lead=5)),
    _part(
        "G1",
        "gear",
        (
            _drawn("G1", 1, "od", size("59.80"), "0.01"),
            _drawn("G1", 2, "eye", size("20.00"), "0.002"),
            _drawn("G1", 3, "speed", rpm(9000)),
        ),
        price_new=_price(9000, "G1"),
    ),
    _part(
        "G2",
        "gear",
        (
            _drawn("G2", 1, "od", size("60.50"), "0.01"),
            _drawn("G2", 2, "eye", size("20.00"), "0.002"),
            _drawn("G2", 3, "speed", rpm(10_000)),
        ),
        price_new=_price(12_000, "G2", deposit=1500, lead=9),
        stock=(Stock("shelf 1", 1, "k-G2"),),
    ),
    _part(
        "H1",
        "housing",
        HOUSING,
        limits=(Limit("wall", "", mm("5.00"), None, 2, "drawings", "l-H1"),),
        price_new=_price(30_000, "H1", lead=20),
        price_used=_price(10_000, "H1-used"),
    ),
    _part(
        "H2",
        "housing",
        (
            _drawn("H2", 1, "bore", size("60.65"), "0.01"),
            _drawn("H2", 2, "face", Code("face-a")),
            _drawn("H2", 3, "port", Code("tapped")),
        ),
        price_new=_price(40_000, "H2", lead=14),
    ),
    _part("OR", "o-ring", (), price_new=_price(200, "OR", lead=2), stock=(Stock("bin 3", 10, "k-OR"),)),
    _part(
        "S1",
        "shaft",
        (_drawn("S1", 1, "dia", size("20.04"), "0.002"), _drawn("S1", 2, "drive", Code("spline-8"))),
        price_new=_price(50_000, "S1", lead=30),
    ),
    _part("SL", "seal", (_drawn("SL", 1, "face", Code("face-a")),), price_new=_price(450, "SL", lead=3)),
    _part("SM", "seal", (_drawn("SM", 1, "face", Code("face-a")),), price_new=_price(600, "SM", lead=4)),
)
LAYOUT = Layout(
    "pump",
    (
        Seat("housing", "housing", strip_time=12 * MINUTE),
        Seat("gear", "gear"),
        Seat("shaft", "shaft"),
        Seat("seal", "seal", quantity=2),
    ),
    (
        Joint("mesh", "gear in housing", ("housing", "gear")),
        Joint("hub", "gear on shaft", ("gear", "shaft")),
        Joint("cap", "seal on housing", ("seal", "housing")),
        Joint("drive", "shaft on engine", ("shaft", "gear", "engine")),
    ),
    (
        Rule(
            "mesh", "gap", "clearance", ("housing", "bore"), (("gear", "od"),), mm("0.10"), mm("0.20"), said="u-gap"
        ),
        Rule(
            "hub", "grip", "interference", ("gear", "eye"), (("shaft", "dia"),), mm("0.01"), mm("0.05"), said="u-grip"
        ),
        Rule("cap", "face", "same", ("seal", "face"), (("housing", "face"),), said="u-face"),
        Rule(
            "drive", "spline", "accepted", ("shaft", "drive"), (("engine", "drive"),), set="splines", said="u-spline"
        ),
        Rule("drive", "speed", "at_least", ("gear", "speed"), (("engine", "speed"),), safety=True, said="u-speed"),
    ),
)
OPERATIONS = (
    Operation(
        "bore",
        "bore the housing",
        "housing",
        "bore",
        "widen_to_suit",
        20 * MINUTE,
        30 * MINUTE,
        10 * MINUTE,
        tolerance=mm("0.01"),
        wall_feature="wall",
        wall_positions=("A", "B"),
        wall_share="half",
        core_shift=mm("0.30"),
        follows=("deburr",),
        equipment="mill",
        caution="check the wall",
        said="o-bore",
    ),
    Operation("deburr", "deburr", "", "", "service", 0, 6 * MINUTE, said="o-deburr"),
    Operation(
        "grind",
        "grind the gear",
        "gear",
        "od",
        "reduce_to_suit",
        10 * MINUTE,
        10 * MINUTE,
        20 * MINUTE,
        tolerance=mm("0.01"),
        limit_feature="least-od",
        said="o-grind",
    ),
    Operation(
        "tap",
        "tap the port",
        "housing",
        "port",
        "add_feature",
        6 * MINUTE,
        6 * MINUTE,
        to_value=Code("tapped"),
        needs=("wash",),
        said="o-tap",
    ),
    Operation("test", "test run", "", "", "service", 0, 20 * MINUTE, needs=("wash",), said="o-test"),
    Operation("wash", "wash", "", "", "service", 5 * MINUTE, 10 * MINUTE, said="o-wash"),
)
CORE = Core(
    "core/P-1",
    "P-1",
    "pump",
    book_value=5000,
    currency="EUR",
    found=(
        FoundPart(
            "housing",
            "part/O/H1",
            readings=(
                _read("P-1", 1, "bore", "60.00", "0.01"),
                _read("P-1", 2, "wall", "6.20", "0.05", "A"),
                _read("P-1", 3, "wall", "6.00", "0.05", "B"),
            ),
            said="f-housing",
        ),
        FoundPart("gear", "part/O/G1", readings=(_read("P-1", 4, "od", "59.60", "0.01"),), said="f-gear"),
        FoundPart("shaft", "part/O/S1", readings=(_read("P-1", 5, "dia", "20.03", "0.002"),), said="f-shaft"),
        FoundPart("seal", "part/O/SL", said="f-seal"),
    ),
    said="s-core",
)
DONOR = Core(
    "core/P-2",
    "P-2",
    "pump",
    may_donate=True,
    found=(
        FoundPart("housing", "part/O/H1", readings=(_read("P-2", 1, "bore", "60.64", "0.01"),), said="f-donor"),
        FoundPart("shaft", "part/O/S1", "cracked", said="f-cracked"),
    ),
)


def bundle(best: int = 5) -> Bundle:
    """The pump's question with all its facts."""
    return Bundle(
        PlanQuestion("core/P-1", "build/big", "engine/B/E1", best, "2026-02-01"),
        Snapshot("catalogue-1", 7),
        LAYOUT,
        Build(
            "build/big",
            "big",
            "pump",
            "engine/B/E1",
            demands=(
                Demand("big", "gear", "od", "at_least", size("60.30"), said="d-1"),
                Demand("big", "housing", "port", "same", Code("tapped"), said="d-2"),
            ),
        ),
        Engine(
            "engine/B/E1",
            "B",
            "E1",
            claims=(
                claim("e-1", "engine/B/E1", "drive", Code("spline-8f"), Rank.DRAWING),
                claim("e-2", "engine/B/E1", "speed", rpm(8000), Rank.DRAWING),
            ),
        ),
        CORE,
        (DONOR,),
        PARTS,
        (
            Kind("bolt", "bolt", one_time=True),
            Kind("gear", "gear", rotating=True),
            Kind("housing", "housing"),
            Kind("o-ring", "o-ring", one_time=True),
            Kind("seal", "seal", one_time=True),
            Kind("shaft", "shaft", rotating=True),
        ),
        (
            Feature("bore", "bore", "length", wears=True),
            Feature("dia", "diameter", "length", wears=True),
            Feature("drive", "drive", "code"),
            Feature("eye", "eye", "length"),
            Feature("face", "face", "code"),
            Feature("least-od", "least outside", "length"),
            Feature("od", "outside", "length", wears=True),
            Feature("port", "port", "code"),
            Feature("speed", "speed", "speed"),
            Feature("wall", "wall", "length", wears=True),
        ),
        (("splines", (("spline-8", "spline-8f"),)),),
        OPERATIONS,
        (
            Consume("bore", "part/O/BT", 3, "seat", "n-1"),
            Consume("gear", "part/O/OR", 2, "unit", "n-2"),
            Consume("housing", "part/O/OR", 1, "unit", "n-3"),
        ),
        (ServiceDue("always", "wash", "v-1"), ServiceDue("gear", "test", "v-2")),
        (Rate("shop", 9000, "EUR", "t-shop"),),
        (),
    )


def _operand(
    seat: str, feature: str, part: str, low: int, high: int, claims: tuple[str, ...], **more: object
) -> Operand:
    status = more.pop("status", "known")
    quantity = more.pop("quantity", "length")
    return Operand(seat, feature, part, status, low, high, quantity, claims=claims)  # type: ignore[arg-type]


def _coded(seat: str, feature: str, part: str, code: str, claims: tuple[str, ...]) -> Operand:
    return Operand(seat, feature, part, "known", codes=(code,), claims=claims)


def _joints(bore: Operand, gap_margin: int, face: Operand, seal: str) -> tuple[RuleVerdict, ...]:
    gear, shaft, engine = "part/O/G2", "part/O/S1", "engine/B/E1"
    od = _operand("gear", "od", gear, mm("60.49"), mm("60.51"), ("c-G2-1",))
    eye = _operand("gear", "eye", gear, mm("19.998"), mm("20.002"), ("c-G2-2",))
    dia = _operand("shaft", "dia", shaft, mm("20.028"), mm("20.032"), ("r-P-1-5",))
    speed = _operand("gear", "speed", gear, 10_000_000, 10_000_000, ("c-G2-3",), quantity="speed")
    limit = _operand("engine", "speed", engine, 8_000_000, 8_000_000, ("e-2",), quantity="speed")
    seals = _coded("seal", "face", f"part/O/{seal}", "face-a", (f"c-{seal}-1",))
    drive = _coded("shaft", "drive", shaft, "spline-8", ("c-S1-2",))
    taker = _coded("engine", "drive", engine, "spline-8f", ("e-1",))
    yes = Verdict.YES
    gap = (mm("0.10"), mm("0.20"), "length", gap_margin, "the gap suits", False, (), "u-gap")
    # dia - eye lies in 20.028 - 20.002 = 0.026 .. 20.032 - 19.998 = 0.034; nearest end: 0.016 from 0.01 and from 0.05
    grip = (mm("0.01"), mm("0.05"), "length", mm("0.016"), "the grip suits", False, (), "u-grip")
    return (
        RuleVerdict("mesh", "gap", "clearance", yes, (bore, od), *gap),
        RuleVerdict("hub", "grip", "interference", yes, (eye, dia), *grip),
        RuleVerdict("cap", "face", "same", yes, (seals, face), None, None, "", None, "alike", False, (), "u-face"),
        RuleVerdict(
            "drive", "spline", "accepted", yes, (drive, taker), None, None, "", None, "a pair", False, (), "u-spline"
        ),
        RuleVerdict(
            "drive",
            "speed",
            "at_least",
            yes,
            (speed, limit),
            None,
            None,
            "speed",
            2_000_000,
            "slower",
            True,
            (),
            "u-speed",
        ),
    )


def _service(name: str, label: str, minutes: int, cost: int) -> Step:
    return Step(name, label, "", "", time=minutes * MINUTE, cost=cost, claims=(f"o-{name}",))


WASH = _service("wash", "wash", 15, 2250)
TEST = _service("test", "test run", 20, 3000)
DEBURR = _service("deburr", "deburr", 6, 900)
TAP = Step(
    "tap", "tap the port", "housing", "part/O/H1", "port",
    to_code="tapped", time=12 * MINUTE, cost=1800, claims=("c-H1-3", "o-tap"),
)  # fmt: skip
BORE = Step(
    "bore",
    "bore the housing",
    "housing",
    "part/O/H1",
    "bore",
    "length",
    before=mm("60.00"),
    least=mm("60.62"),
    target=mm("60.65"),
    low=mm("60.62"),
    high=mm("60.68"),
    tolerance=mm("0.01"),
    limit=mm("61.29"),
    limit_basis="the wall at B",
    time=3_372_000,
    cost=8430,
    equipment="mill",
    caution="check the wall",
    claims=("l-H1", "o-bore", "r-P-1-1", "r-P-1-2", "r-P-1-3"),
)


def _line(what: str, kind: str, seat: str, amount: int, quantity: int, said: str) -> CostLine:
    return CostLine(what, kind, seat, amount, quantity, "2026-01-05" if said.startswith("p-") else "", said)


COMMON = (
    _line("core P-1", "core", "", 5000, 1, "s-core"),
    _line("gear G2", "part", "gear", 12_000, 1, "p-G2"),
    _line("wash", "service", "", 2250, 1, "t-shop"),
    _line("test", "service", "", 3000, 1, "t-shop"),
    _line("o-ring OR", "consumed", "", 400, 2, "p-OR"),
)
SEALS = {
    "SL": _line("seal SL", "part", "seal", 900, 2, "p-SL"),
    "SM": _line("seal SM", "part", "seal", 1200, 2, "p-SM"),
}
ORINGS = ConsumedPart("part/O/OR", 2, ("gear", "housing"), ("n-2", "n-3"))


def _plan(
    housing: SeatChoice, seal: str, steps: tuple[Step, ...], bore: Operand, margin: int, **more: object
) -> Plan:
    face = _coded("housing", "face", housing.part, "face-a", (f"c-{housing.part[-2:]}-2",))
    return Plan(
        (
            housing,
            SeatChoice("gear", "part/O/G2", "new"),
            SeatChoice("shaft", "part/O/S1", "kept", lot="P-1"),
            SeatChoice("seal", f"part/O/{seal}", "new", 2),
        ),
        steps,
        _joints(bore, margin, face, seal),
        at_least=False,
        deposits=1500,
        currency="EUR",
        cautions=(),
        confirm=(),
        **more,  # type: ignore[arg-type]
    )


def plan_a(seal: str = "SL") -> Plan:
    """Bore and tap the kept housing. bore 60.64..60.66 less 60.49..60.51 is 0.13..0.17: margin 0.03."""
    housing = SeatChoice("housing", "part/O/H1", "kept", lot="P-1", operations=("bore", "tap"))
    bore = _operand(
        "housing", "bore", "part/O/H1", mm("60.64"), mm("60.66"), ("r-P-1-1", "o-bore"), status="machined"
    )
    costs = (
        *COMMON,
        SEALS[seal],
        _line("bore", "labour", "housing", 8430, 1, "o-bore"),
        _line("tap", "labour", "housing", 1800, 1, "o-tap"),
        _line("deburr", "service", "", 900, 1, "t-shop"),
        _line("bolt BT", "consumed", "", 150, 3, "p-BT"),
    )
    return _plan(
        housing,
        seal,
        (WASH, BORE, TAP, DEBURR, TEST),
        bore,
        mm("0.03"),
        consumed=(ConsumedPart("part/O/BT", 3, ("bore",), ("n-1",)), ORINGS),
        costs=costs,
        cost={"SL": 34_830, "SM": 35_130}[seal],
        time=(15 + 12 + 6 + 20) * MINUTE + 3_372_000,
        lead_days=5,
    )


def plan_c(seal: str = "SL") -> Plan:
    """The donor's housing, tapped. bore 60.63..60.65 less 60.49..60.51 is 0.12..0.16: margin 0.02."""
    housing = SeatChoice("housing", "part/O/H1", "donor", lot="P-2", operations=("tap",))
    bore = _operand("housing", "bore", "part/O/H1", mm("60.63"), mm("60.65"), ("r-P-2-1",))
    costs = (
        *COMMON,
        SEALS[seal],
        _line("housing H1", "donor", "housing", 10_000, 1, "p-H1-used"),
        _line("strip", "labour", "housing", 1800, 1, "t-shop"),
        _line("tap", "labour", "housing", 1800, 1, "o-tap"),
    )
    return _plan(
        housing,
        seal,
        (WASH, TAP, TEST),
        bore,
        mm("0.02"),
        consumed=(ORINGS,),
        costs=costs,
        cost={"SL": 37_150, "SM": 37_450}[seal],
        time=(15 + 12 + 20 + 12) * MINUTE,
        lead_days={"SL": 3, "SM": 4}[seal],
    )


def plan_b() -> Plan:
    """A new housing. bore 60.64..60.66 less 60.49..60.51: margin 0.03."""
    bore = _operand("housing", "bore", "part/O/H2", mm("60.64"), mm("60.66"), ("c-H2-1",))
    return _plan(
        SeatChoice("housing", "part/O/H2", "new"),
        "SL",
        (WASH, TEST),
        bore,
        mm("0.03"),
        consumed=(ORINGS,),
        costs=(*COMMON, SEALS["SL"], _line("housing H2", "part", "housing", 40_000, 1, "p-H2")),
        cost=63_550,
        time=35 * MINUTE,
        lead_days=14,
    )


def answer(best: int = 5) -> PlanAnswer:
    """The right answer to the pump's question."""
    asked = bundle(best)
    plans = (plan_a(), plan_a("SM"), plan_c(), plan_c("SM"), plan_b())[:best]
    return PlanAnswer(
        asked.question,
        asked.snapshot,
        Verdict.WITH_WORK,
        Proof.CHEAPEST,
        "It can be built.",
        plans,
        plans[0].cost,
        (),
        (),
        asked,
    )


def asked_with(made: PlanAnswer, **facts: object) -> PlanAnswer:
    """The same answer over evidence that differs in these fields."""
    assert made.bundle is not None
    return replace(made, bundle=replace(made.bundle, **facts))  # type: ignore[arg-type]
