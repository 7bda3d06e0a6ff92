"""Statements of a small invented shop, for tests of the ledger, the index and publishing."""

from typing import Any

from graph.model.finding import Origin
from graph.model.statement import Evidence, Statement


def mm(number: float) -> dict[str, Any]:
    """A length in mm as statements hold it (1 mm is 10 000 000 quanta of 100 pm)."""
    return {"amount": round(number * 10_000_000), "quantity": "length", "text": f"{number}", "unit": "mm"}


def minutes(number: int) -> dict[str, Any]:
    """A time as statements hold it, in ms."""
    return {"amount": number * 60_000, "quantity": "time", "text": f"{number}", "unit": "min"}


def money(minor: int) -> dict[str, Any]:
    """An amount of money as statements hold it."""
    return {"minor": minor, "text": f"{minor / 100:.2f}"}


def code(text: str) -> dict[str, Any]:
    """A code as statements hold it."""
    return {"code": text.casefold(), "text": text}


def row(sheet: str, by: str = "", rank: str = "", date: str = "", line: int = 0, **fields: Any) -> Statement:
    """One row of one sheet."""
    origin = Origin("shop.xlsx", sheet, line) if line else None
    return Statement(sheet, fields, Evidence(by, rank, date), origin)


def part(number: str, kind: str, **sizes: Any) -> list[Statement]:
    """A part by Ostrel with values."""
    return [
        row("parts", maker="Ostrel", number=number, kind=kind, label=f"{kind} {number}"),
        *(row("values", "drawing 7", maker="Ostrel", number=number, feature=f, value=v) for f, v in sizes.items()),
    ]


def shop() -> list[Statement]:
    """Four seats, two units, two engines, three cores, a build, prices; everything that a bundle may hold."""
    return [
        row("sources", source="drawing 7", kind="drawing", title="cover drawing"),
        row("sources", source="bench", kind="shop"),
        row("kinds", kind="cover", label="compressor cover"),
        row("kinds", kind="wheel", label="wheel"),
        row("kinds", kind="compressor wheel", label="compressor wheel", parent="wheel", rotating=True),
        row("kinds", kind="gasket", label="gasket", one_time=True),
        row("kinds", kind="engine bolt", label="bolt"),
        row("features", feature="bore", label="contour bore", type="length", unit="mm", wears=True),
        row("features", feature="exducer", label="exducer", type="length", unit="mm", duty=True, better="larger"),
        row("features", feature="flange", label="flange", type="code", look="outside"),
        row("layouts", layout="plain", seat="cover", kind="cover", strip_minutes=minutes(10)),
        row("layouts", layout="plain", seat="wheel", kind="wheel"),
        row("layouts", layout="plain", seat="gasket", kind="gasket", quantity=2, may_be_empty=True),
        row("joints", layout="plain", joint="contour", seats=["cover", "wheel"], label="contour gap"),
        row("joints", layout="plain", joint="outlet", seats=["cover", "engine"], label="outlet"),
        row("rules", layout="plain", joint="contour", rule="gap", type="clearance", left="cover.bore",
            right=["wheel.exducer"], min=mm(0.4), max=mm(0.8), safety=True, measure="measure the bore"),
        row("rules", layout="plain", joint="outlet", rule="outlet", type="accepted", left="cover.flange",
            right=["engine.flange"], set="flanges"),
        row("accepted", set="flanges", left_value="a4", right_value="a4"),
        row("accepted", set="flanges", left_value="a4", right_value="a4 long"),
        row("accepted", set="other", left_value="x", right_value="y"),
        *part("OS-100", "cover", bore=mm(52.6), flange=code("A4")),
        *part("OS-101", "cover", bore=mm(58.0), flange=code("A4")),
        *part("OS-200", "compressor wheel", exducer=mm(52.0)),
        *part("OS-201", "compressor wheel", exducer=mm(57.5)),
        *part("OS-300", "gasket"),
        *part("OS-900", "engine bolt"),
        *part("OS-950", "engine bolt"),
        row("values", "bench", maker="Ostrel", number="OS-201", feature="exducer", value=mm(57.4), tolerance=mm(0.05),
            date="2024-03-01"),
        row("limits", "drawing 7", maker="Ostrel", unit_or_part="OS-100", feature="bore", condition="used",
            max=mm(60.0)),
        row("weaknesses", maker="Ostrel", unit_or_part="OS-100", text="cracks at the outlet", seen=3, of=20),
        row("supersession", maker="Ostrel", old="OS-200", new="OS-201", from_date="2023-01-01"),
        row("interchange", "bench", maker="Ostrel", number="OS-101", other_maker="Ostrel", other_number="OS-100",
            seat="cover"),
        row("units", maker="Ostrel", unit="OU 10", layout="plain", label="small"),
        row("unit_seats", maker="Ostrel", unit="OU 10", seat="wheel", part_maker="Ostrel", part_number="OS-200"),
        row("unit_seats", maker="Ostrel", unit="OU 10", seat="cover", part_maker="Ostrel", part_number="OS-100"),
        row("unit_seats", maker="Ostrel", unit="OU 10", seat="gasket", part_maker="Ostrel", part_number="OS-300"),
        row("unit_values", maker="Ostrel", unit="OU 10", feature="flange", value=code("a4")),
        row("units", maker="Ostrel", unit="OU 11", layout="plain", label="large"),
        row("unit_seats", maker="Ostrel", unit="OU 11", seat="cover", part_maker="Ostrel", part_number="OS-101"),
        row("unit_seats", maker="Ostrel", unit="OU 11", seat="wheel", part_maker="Ostrel", part_number="OS-201"),
        row("engines", maker="Brackmoor", engine="B5", label="five cylinders", cylinders=5),
        row("engines", maker="Brackmoor", engine="B6", label="six cylinders", cylinders=6),
        row("engine_values", "drawing 7", maker="Brackmoor", engine="B5", feature="flange", value=code("a4")),
        row("fitments", machine_maker="Tarnholt", machine="F1", engine_maker="Brackmoor", engine="B5",
            unit_maker="Ostrel", unit="OU 10", year_from="2009", year_to="2012.5"),
        row("fitments", machine_maker="Tarnholt", machine="F2", engine_maker="Brackmoor", engine="B6",
            unit_maker="Ostrel", unit="OU 11"),
        row("operations", operation="bore cover", label="bore the contour", kind="cover", feature="bore",
            effect="widen_to_suit", tolerance=mm(0.02), setup_minutes=minutes(30), minutes=minutes(20),
            minutes_per_mm=minutes(5), follows=["balance"]),
        row("operations", operation="balance", label="balance", effect="service", setup_minutes=minutes(5),
            minutes=minutes(40)),
        row("operations", operation="cut bolt", label="cut a bolt", kind="engine bolt", effect="service",
            setup_minutes=minutes(1), minutes=minutes(1)),
        row("builds", build="stage 1", layout="plain", engine_maker="Brackmoor", engine="B5", label="larger wheel"),
        row("demands", build="stage 1", seat="wheel", feature="exducer", type="at_least", value=mm(57)),
        row("demands", build="stage 1", seat="cover", type="keep"),
        row("kits", kit_maker="Ostrel", kit="OS-950", maker="Ostrel", number="OS-300", quantity=2, one_time=True),
        row("consumes", when="bore cover", maker="Ostrel", number="OS-900", quantity=4, per="unit"),
        row("services", when="wheel", operation="balance"),
        row("cores", tag="C-1", as_built_maker="Ostrel", as_built_unit="OU 10", serial="77", book_value=money(8000),
            currency="EUR"),
        row("found_parts", tag="C-1", seat="wheel", part_maker="Ostrel", part_number="OS-200", state="scrap"),
        row("readings", tag="C-1", seat="cover", feature="bore", value=mm(52.62), uncertainty=mm(0.01),
            date="2025-02-01"),
        row("cores", tag="C-2", as_built_maker="Ostrel", as_built_unit="OU 11", may_donate=True, book_value=money(1),
            currency="EUR"),
        row("cores", tag="C-3", as_built_maker="Ostrel", as_built_unit="OU 11", own=True),
        row("stock", maker="Ostrel", number="OS-201", place="A3", quantity=1),
        row("prices", maker="Ostrel", number="OS-201", price=money(12050), currency="EUR", as_of="2025-01-01",
            lead_days=4),
        row("prices", maker="Ostrel", number="OS-201", condition="used", price=money(6000), currency="EUR",
            as_of="2025-01-01"),
        row("rates", name="shop", per_hour=money(6000), currency="EUR"),
    ]  # fmt: skip
