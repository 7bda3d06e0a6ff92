"""Faults planted into a clean workbook: each says what reading must report of it.

Every fault stands in rows, columns or names of its own, so that any mix of them can be planted together.
"""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from datetime import date
from random import Random
from typing import Final

from small_workbook import Formula, Workbook


@dataclass(frozen=True, order=True)
class Planted:
    """What must be found: the code and its place as a spreadsheet shows it."""

    code: str
    sheet: str
    row: int
    column: str


@dataclass(frozen=True)
class Fault:
    """One kind of fault; `only` names the one kind of file that can hold it."""

    name: str
    plant: Callable[[Workbook, Random], list[Planted]]
    only: str = ""


FAULTS: Final[dict[str, Fault]] = {}


def fault(only: str = "") -> Callable[[Callable[[Workbook, Random], list[Planted]]], object]:
    def keep(plant: Callable[[Workbook, Random], list[Planted]]) -> object:
        name = plant.__name__.strip("_").replace("_", "-")
        FAULTS[name] = Fault(name, plant, only)
        return plant

    return keep


def plant(clean: Workbook, names: list[str], random: Random) -> tuple[Workbook, list[Planted]]:
    """A copy of the workbook with those faults, and all that must be reported, sorted."""
    book = deepcopy(clean)
    planted = [p for name in names for p in FAULTS[name].plant(book, random)]
    return book, sorted(planted)


# Building blocks.


def add(book: Workbook, sheet: str, **cells: object) -> int:
    """A new row, filled by column names; its number."""
    header = book[sheet][0]
    strangers = set(cells) - set(header)
    assert not strangers, strangers
    book[sheet].append([cells.get(str(name), "") for name in header])
    return len(book[sheet])


def new_part(book: Workbook, kind: str = "cover") -> str:
    number = f"NP-{len(book['parts']):04d}"
    add(book, "parts", maker="Ostrel", number=number, kind=kind)
    return number


def value(book: Workbook, code: str, column: str = "value", **cells: object) -> list[Planted]:
    """A row of `values` for a new part, with a fault in it."""
    filled = {"maker": "Ostrel", "number": new_part(book), "feature": "bore", "value": "50", "unit": "mm"} | cells
    return [Planted(code, "values", add(book, "values", **filled), column)]


def operation(book: Workbook, code: str, column: str, **cells: object) -> list[Planted]:
    name = f"operation {len(book['operations'])}"
    filled = {"operation": name, "label": name, "effect": "service", "setup_minutes": "1", "minutes": "1"} | cells
    return [Planted(code, "operations", add(book, "operations", **filled), column)]


def rule(book: Workbook, code: str, column: str, **cells: object) -> list[Planted]:
    filled = {
        "layout": "plain", "joint": "contour", "rule": f"rule {len(book['rules'])}", "type": "clearance",
        "left": "cover_seat.bore", "right": "wheel_seat.exducer", "min": "0.1", "unit": "mm",
    } | cells  # fmt: skip
    if column == "rule":
        filled["rule"] = f"rule {len(book['rules'])}"
    return [Planted(code, "rules", add(book, "rules", **filled), column)]


def price(book: Workbook, code: str, column: str, **cells: object) -> list[Planted]:
    filled = {"maker": "Ostrel", "number": new_part(book), "price": "5", "currency": "EUR", "as_of": "2026"} | cells
    return [Planted(code, "prices", add(book, "prices", **filled), column)]


def pick(random: Random, *texts: str) -> str:
    return random.choice(texts)


# The sheets themselves.


@fault()
def unknown_sheet(book: Workbook, random: Random) -> list[Planted]:
    book["widgets"] = [["widget"], ["1"]]
    return [Planted("unknown-sheet", "widgets", 0, "")]


@fault()
def unknown_column(book: Workbook, random: Random) -> list[Planted]:
    name = pick(random, "shelf life", "colour", "quantitty")
    for row, cell in zip(book["stock"], [name, *[""] * len(book["stock"])], strict=False):
        row.append(cell)
    return [Planted("unknown-column", "stock", 1, name)]


@fault()
def unknown_feature_column(book: Workbook, random: Random) -> list[Planted]:
    for i, row in enumerate(book["parts"]):
        row.append("" if i else "trim [mm]")
    return [Planted("unknown-column", "parts", 1, "trim [mm]")]


@fault()
def duplicate_header(book: Workbook, random: Random) -> list[Planted]:
    for i, row in enumerate(book["engines"]):
        row.append("" if i else "Label ")
    return [Planted("duplicate-header", "engines", 1, "Label")]


@fault()
def unknown_unit_in_header(book: Workbook, random: Random) -> list[Planted]:
    for i, row in enumerate(book["parts"]):
        row.append("" if i else "exducer [mmm]")
    return [Planted("unknown-unit", "parts", 1, "exducer [mmm]")]


@fault()
def wrong_unit_in_header(book: Workbook, random: Random) -> list[Planted]:
    for i, row in enumerate(book["parts"]):
        row.append("" if i else "weight [mm]")
    return [Planted("wrong-unit", "parts", 1, "weight [mm]")]


@fault()
def missing_column(book: Workbook, random: Random) -> list[Planted]:
    for row in book["services"]:
        del row[1]
    return [Planted("missing-column", "services", 1, "operation")]


@fault(only="csv")
def ragged_row(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "engine_values", maker="Brackmoor", engine="B5", feature="blades", value="5")
    if random.random() < 0.5:
        book["engine_values"][-1].append("one more")
    else:
        book["engine_values"][-1].pop()
    return [Planted("ragged-row", "engine_values", row, "")]


# Cells.


@fault()
def missing_cell(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "missing-cell", value="")


@fault()
def price_without_as_of(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "missing-cell", "as_of", as_of="")


@fault()
def formula_cell(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "formula-cell", value=Formula("=A1+1"))


@fault()
def error_cell(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "error-cell", value=pick(random, "#REF!", "#N/A", "#DIV/0!"))


@fault(only="xlsx")
def number_cell(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "parts", maker="Ostrel", number=random.randrange(10_000, 10**9), kind="cover")
    return [Planted("number-cell", "parts", row, "number")]


@fault(only="xlsx")
def number_cell_broken(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "parts", maker="Ostrel", number=random.choice([1.5, 1e19]), kind="cover")
    return [Planted("number-cell-broken", "parts", row, "number")]


@fault(only="xlsx")
def date_cell(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "date-cell", value=date(2026, 1, 16))


@fault()
def look_alike_letter(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "parts", maker="Ostrel", number=pick(random, "ОS-9", "OS-۹", "OΤ-9"), kind="cover")
    return [Planted("look-alike-letter", "parts", row, "number")]


@fault()
def look_alike_maker(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "parts", maker="Оstrel", number="NP-Z", kind="cover")
    return [Planted("look-alike-letter", "parts", row, "maker")]


@fault()
def hidden_character(book: Workbook, random: Random) -> list[Planted]:
    hidden = pick(random, "\u200b", "\u00ad", "\u202e")
    row = add(book, "parts", maker="Ostrel", number=f"NP{hidden}9", kind="cover")
    return [Planted("hidden-character", "parts", row, "number")]


@fault(only="csv")
def control_character(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "weaknesses", maker="Ostrel", unit_or_part="OT-1", text=f"rub{pick(random, chr(0), chr(7))}bed")
    return [Planted("control-character", "weaknesses", row, "text")]


@fault()
def bad_number(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "bad-number", value=pick(random, "about 50", "50±0.1", "50-52", "5 0", "50 mm (2 in)"))


@fault()
def not_finite(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "not-finite", value=pick(random, "NaN", "inf", "-Infinity"))


@fault()
def ambiguous_number(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "ambiguous-number", value=pick(random, "1,234", "1.234,5", "15,875"))


@fault()
def too_many_digits(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "too-many-digits", value="50.00000000001")


@fault()
def absurd_exponent(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "bad-number", value="1e400")


@fault()
def negative_size(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "negative-size", value="-50")


@fault()
def negative_wide_size(book: Workbook, random: Random) -> list[Planted]:
    number = new_part(book)
    row = add(book, "parts", maker="Ostrel", number=number + "-W", kind="cover", **{"bore [mm]": "-50"})
    return [Planted("negative-size", "parts", row, "bore [mm]")]


@fault()
def unknown_unit(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "unknown-unit", "unit", unit="furlong")


@fault()
def unknown_unit_in_the_cell(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "unknown-unit", value="50 furlong")


@fault()
def unit_of_another_quantity(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "wrong-unit", "unit", unit=pick(random, "kg", "kPa", "rpm"))


@fault()
def missing_unit(book: Workbook, random: Random) -> list[Planted]:
    name = f"feature_{len(book['features'])}"
    add(book, "features", feature=name, label=name, type="length")
    return value(book, "missing-unit", feature=name, unit="")


@fault()
def unit_of_a_code(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "unit-not-wanted", "unit", feature="inlet", value="bead 70")


@fault()
def feature_with_a_wrong_unit(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "features", feature=f"f{len(book['features'])}", label="x", type="mass", unit="mm")
    return [Planted("wrong-unit", "features", row, "unit")]


@fault()
def size_unit_unclear(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "size-unit-unclear", "tolerance", value="2.0625 in", unit="", tolerance="0.001")


@fault()
def code_says_nothing(book: Workbook, random: Random) -> list[Planted]:
    said = pick(random, "?", "-", "n/a", "unknown", "Not known", "TBD", "k. A.", "—")
    return value(book, "code-says-nothing", feature="inlet", value=said, unit="")


@fault()
def several_codes(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "several-codes", feature="inlet", value="bead 60|bead 70", unit="")


@fault()
def code_of_look_alikes(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "look-alike-letter", feature="inlet", value=pick(random, "М12х1.5", "ВА 70"), unit="")


@fault()
def bad_date(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "bad-date", "date", date=pick(random, "31/04/2026", "2026-02-30", "4.3.26", "yesterday"))


@fault()
def bad_yes_no(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "kits", kit_maker="Quenby", kit="K 7", maker="Ostrel", number=new_part(book), quantity="1",
              one_time=pick(random, "maybe", "1", "ja"))  # fmt: skip
    return [Planted("bad-yes-no", "kits", row, "one_time")]


@fault()
def bad_choice(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "sources", source=f"source {len(book['sources'])}", kind="gossip")
    return [Planted("bad-choice", "sources", row, "kind")]


@fault()
def bad_count(book: Workbook, random: Random) -> list[Planted]:
    cells = {
        "maker": "Ostrel",
        "number": new_part(book),
        "place": "bin",
        "quantity": pick(random, "-1", "2.5", "many"),
    }
    return [Planted("bad-count", "stock", add(book, "stock", **cells), "quantity")]


@fault()
def bad_list(book: Workbook, random: Random) -> list[Planted]:
    seats = pick(random, "wheel_seat||cover_seat", "wheel_seat|wheel_seat", "|wheel_seat")
    row = add(book, "joints", layout="plain", joint=f"joint {len(book['joints'])}", seats=seats)
    return [Planted("bad-list", "joints", row, "seats")]


@fault()
def bad_money(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "bad-money", "price", price=pick(random, "1.005", "five"))


@fault()
def money_with_thousands_or_decimals(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "ambiguous-number", "price", price=pick(random, "1.400", "12.500", "1,400"))


@fault()
def price_of_zero(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "price-of-zero", "price", price="0")


@fault()
def customers_core_donates(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "cores", tag=f"C-{len(book['cores'])}d", own="yes", may_donate="yes")
    return [Planted("customers-core-donates", "cores", row, "may_donate")]


@fault()
def negative_price(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "negative-price", "price", price="-5")


@fault()
def unknown_currency(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "unknown-currency", "currency", currency="QQQ")


@fault()
def missing_currency(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "cores", tag=f"C-{len(book['cores'])}x", book_value="5")
    return [Planted("missing-currency", "cores", row, "book_value")]


@fault()
def mixed_currency(book: Workbook, random: Random) -> list[Planted]:
    return price(book, "mixed-currency", "currency", currency="SEK")


@fault()
def deposits_of_two_currencies(book: Workbook, random: Random) -> list[Planted]:
    book.setdefault("jobs", [["job", "tag"]])
    book.setdefault("job_deposits", [["job", "step", "what", "amount", "currency", "date"]])
    job = f"J-{random.randrange(10**6)}"
    add(book, "jobs", job=job, tag=str(book["cores"][1][0]))
    taken = {"job": job, "what": "taken", "amount": "50", "date": "2026-02-01"}
    add(book, "job_deposits", **taken, step="1", currency="EUR")
    row = add(book, "job_deposits", **taken, step="2", currency="SEK")
    return [Planted("deposit-currency", "job_deposits", row, "currency")]


# Rows.


@fault()
def size_of_zero(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "size-of-zero", value="0")


@fault()
def reading_out_of_place(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "readings", tag="C-01", seat="seal_seat", feature="exducer", value="50", unit="mm", who="M. Rao")
    return [Planted("reading-out-of-place", "readings", row, "seat")]


@fault()
def limit_of_a_unit(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "limits", maker="Ostrel", unit_or_part="OT-1", feature="exducer", condition="used", min="50",
              unit="mm")  # fmt: skip
    return [Planted("limit-of-a-unit", "limits", row, "unit_or_part")]


@fault()
def quantity_not_of_the_seat(book: Workbook, random: Random) -> list[Planted]:
    unit = f"OT-{len(book['units'])}q"
    add(book, "units", maker="Ostrel", unit=unit, layout="plain")
    for seat, part in (("wheel_seat", "OS-100-1"), ("cover_seat", "OS-100-2")):
        add(book, "unit_seats", maker="Ostrel", unit=unit, seat=seat, part_maker="Ostrel", part_number=part)
    row = add(book, "unit_seats", maker="Ostrel", unit=unit, seat="seal_seat", part_maker="Ostrel",
              part_number="OS-100-3", quantity=pick(random, "1", "3"))  # fmt: skip
    return [Planted("quantity-not-of-the-seat", "unit_seats", row, "quantity")]


@fault()
def duplicate_key(book: Workbook, random: Random) -> list[Planted]:
    book["rates"].append(["shop", "70", "EUR"])
    return [Planted("duplicate-key", "rates", len(book["rates"]), "name")]


@fault()
def duplicate_row(book: Workbook, random: Random) -> list[Planted]:
    value(book, "")
    book["values"].append(list(book["values"][-1]))
    return [Planted("duplicate-row", "values", len(book["values"]), "value")]


@fault()
def tag_taken(book: Workbook, random: Random) -> list[Planted]:
    tag = f"Z{len(book['cores'])}-taken"
    add(book, "cores", tag=tag)
    return [Planted("tag-taken", "cores", add(book, "cores", tag=tag.lower().replace("-", "_")), "tag")]


@fault()
def tag_misread(book: Workbook, random: Random) -> list[Planted]:
    tag = f"Y{len(book['cores'])}-00"
    add(book, "cores", tag=tag)
    return [Planted("tag-misread", "cores", add(book, "cores", tag=tag.replace("00", "O0")), "tag")]


@fault()
def duplicate_spelling(book: Workbook, random: Random) -> list[Planted]:
    rows = [add(book, "parts", maker="Quenby", number=n, kind="cover") for n in ("ZZ-77-1", "ZZ 771")]
    return [Planted("duplicate-spelling", "parts", row, "number") for row in rows]


@fault()
def unknown_source(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "unknown-source", "source", source="cover drawign")


@fault()
def dangling_part(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "dangling-reference", "number", number="OS-999-9")


@fault()
def dangling_feature(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "dangling-reference", "feature", feature="inducer")


@fault()
def dangling_kind(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "parts", maker="Ostrel", number=f"NP-{len(book['parts'])}k", kind="gasket")
    return [Planted("dangling-reference", "parts", row, "kind")]


@fault()
def part_of_another_maker(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "dangling-reference", "number", number="0044")


@fault()
def ambiguous_reference(book: Workbook, random: Random) -> list[Planted]:
    for maker in ("Brackmoor", "Ostrel"):
        add(book, "engines", maker=maker, engine="TWIN-1")
    row = add(
        book, "fitments", machine_maker="Skerrow", machine="S1", engine="TWIN-1", unit_maker="Ostrel", unit="OT-1"
    )
    return [Planted("ambiguous-reference", "fitments", row, "engine")]


@fault()
def limit_of_a_part_or_a_unit(book: Workbook, random: Random) -> list[Planted]:
    add(book, "parts", maker="Quenby", number="SAME-1", kind="cover")
    add(book, "units", maker="Ostrel", unit="SAME-1", layout="loose")
    lacking = ruleless(book, "loose", "cover")
    cells = {"unit_or_part": "SAME-1", "feature": "bore", "max": "55", "unit": "mm"}
    return [*lacking, Planted("ambiguous-reference", "limits", add(book, "limits", **cells), "unit_or_part")]


@fault()
def weakness_of_two_parts(book: Workbook, random: Random) -> list[Planted]:
    for maker in ("Quenby", "Ostrel"):
        add(book, "parts", maker=maker, number="SAME-2", kind="cover")
    add(book, "units", maker="Ostrel", unit=pick(random, "SAME-2", "same 2", "OTHER-2"), layout="lone")
    lacking = ruleless(book, "lone", "cover")
    row = add(book, "weaknesses", unit_or_part="SAME-2", text="cracks")
    return [*lacking, Planted("ambiguous-reference", "weaknesses", row, "unit_or_part")]


@fault()
def limit_below_size(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "limit-below-size", "limit_max", limit_max="49.9")


@fault()
def lower_limit_above_size(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "limit-below-size", "limit_min", limit_min="50.1")


@fault()
def limits_crossed(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "limits-crossed", "limit_min", limit_min="51", limit_max="49")


@fault()
def min_above_max(book: Workbook, random: Random) -> list[Planted]:
    cells = {"maker": "Ostrel", "unit_or_part": "OT-1", "feature": "bore", "min": "54", "max": "53", "unit": "mm"}
    return [Planted("min-above-max", "limits", add(book, "limits", **cells), "min")]


@fault()
def between_crossed(book: Workbook, random: Random) -> list[Planted]:
    cells = {"build": "larger wheel", "seat": "cover_seat", "feature": "bore", "type": "between"}
    row = add(book, "demands", **cells, value="54", value_to="53", unit="mm")
    return [Planted("min-above-max", "demands", row, "value")]


@fault()
def tolerance_negative(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "tolerance-negative", "tolerance", tolerance="-0.1")


@fault()
def tolerance_too_large(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "tolerance-too-large", "tolerance", tolerance="51")


@fault()
def inch_disagrees(book: Workbook, random: Random) -> list[Planted]:
    # TRADE section 9.2: printed errors of two manuals.
    mm, inch = random.choice([("32.38", "1.278"), ("0.102", "0.040"), ("0.026", "0.0001")])
    cells = {"bore [mm]": mm, "bore [in]": inch}
    row = add(book, "parts", maker="Ostrel", number=f"NP-{len(book['parts'])}in", kind="cover", **cells)
    return [Planted("inch-disagrees", "parts", row, "bore [in]")]


@fault()
def same_source_disagrees(book: Workbook, random: Random) -> list[Planted]:
    number = new_part(book)
    value(book, "", number=number)
    return value(book, "same-source-disagrees", number=number, value="50.4")


@fault()
def claims_disagree(book: Workbook, random: Random) -> list[Planted]:
    number = new_part(book)
    value(book, "", number=number, source="cover drawing", tolerance="0.1")
    return value(book, "claims-disagree", number=number, value="50.11", source="bench book")


@fault()
def quoted_size(book: Workbook, random: Random) -> list[Planted]:
    return value(book, "quoted-size", feature="quoted_size", value="58")


@fault()
def consumed_by_nothing(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "consumes", when="whel_seat", maker="Ostrel", number="OS-100-3", quantity="1")
    return [Planted("unknown-name", "consumes", row, "when")]


@fault()
def interchange_in_an_unknown_seat(book: Workbook, random: Random) -> list[Planted]:
    cells = {"maker": "Ostrel", "number": new_part(book), "other_maker": "Quenby", "other_number": "0044"}
    return [Planted("unknown-name", "interchange", add(book, "interchange", **cells, seat="foot"), "seat")]


@fault()
def years_crossed(book: Workbook, random: Random) -> list[Planted]:
    cells = {"machine_maker": "Skerrow", "machine": "S2", "engine_maker": "Brackmoor", "engine": "B5"}
    row = add(book, "fitments", **cells, unit_maker="Ostrel", unit="OT-1", year_from="2012", year_to="2011.5")
    return [Planted("years-crossed", "fitments", row, "year_from")]


@fault()
def serials_crossed(book: Workbook, random: Random) -> list[Planted]:
    header, *rows = book["fitments"]
    header += ["serial_from", "serial_to"]
    for one in rows:
        one += ["", ""]
    cells = {"machine_maker": "Skerrow", "machine": "S4", "engine_maker": "Brackmoor", "engine": "B5"}
    row = add(book, "fitments", **cells, unit_maker="Ostrel", unit="OT-1", serial_from="T4-0900", serial_to="T4-0100")
    return [Planted("years-crossed", "fitments", row, "serial_from")]


@fault()
def bad_year(book: Workbook, random: Random) -> list[Planted]:
    cells = {"machine_maker": "Skerrow", "machine": "S3", "engine_maker": "Brackmoor", "engine": "B5"}
    row = add(book, "fitments", **cells, unit_maker="Ostrel", unit="OT-1", year_from="late 2012")
    return [Planted("bad-date", "fitments", row, "year_from")]


@fault()
def seen_above_of(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "weaknesses", maker="Ostrel", unit_or_part="OT-1", text="shaft bent", seen="5", of="4")
    return [Planted("seen-above-of", "weaknesses", row, "seen")]


@fault()
def figures_unfit(book: Workbook, random: Random) -> list[Planted]:
    wrong: tuple[tuple[dict[str, str], str], ...] = (
        ({"figure": "credit", "percent": "50"}, "of"),
        ({"figure": "credit", "of": "B", "percent": "120"}, "percent"),
        ({"figure": "tax", "of": "", "days": "19"}, "days"),
        ({"figure": "validity", "of": "quote", "days": "14"}, "of"),
        ({"figure": "warranty", "days": "0"}, "days"),
    )
    return [
        Planted("figure-unfit", "figures", add(book, "figures", **cells, as_of="2026-02-01"), column)
        for cells, column in wrong
    ]


@fault()
def figure_of_unknown_work(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "figures", figure="sublet", of="lap by hand", price="9", currency="EUR", as_of="2026-01-01")
    return [Planted("unknown-name", "figures", row, "of")]


@fault()
def identity_reliability(book: Workbook, random: Random) -> list[Planted]:
    header, *rows = book["features"]
    book["features"] = [[*header, "identity_reliability"], *([*row, ""] for row in rows)]
    row = add(book, "features", feature="paint", label="paint", type="code", identity_reliability="80 %")
    return [Planted("identity-reliability", "features", row, "identity_reliability")]


# The graph.


@fault()
def kind_cycle(book: Workbook, random: Random) -> list[Planted]:
    add(book, "kinds", kind="upper", label="upper", parent="lower")
    return [Planted("kind-cycle", "kinds", add(book, "kinds", kind="lower", label="lower", parent="upper"), "parent")]


@fault()
def supersession_self(book: Workbook, random: Random) -> list[Planted]:
    number = new_part(book)
    row = add(book, "supersession", maker="Ostrel", old=number, new=number.lower())
    return [Planted("supersession-self", "supersession", row, "new")]


@fault()
def supersession_cycle(book: Workbook, random: Random) -> list[Planted]:
    numbers = [new_part(book) for _ in range(random.randint(2, 5))]
    rows = [
        add(book, "supersession", maker="Ostrel", old=old, new=new)
        for old, new in zip(numbers, [*numbers[1:], numbers[0]], strict=True)
    ]
    return [Planted("supersession-cycle", "supersession", rows[-1], "new")]


@fault()
def kit_contains_itself(book: Workbook, random: Random) -> list[Planted]:
    number = new_part(book)
    row = add(book, "kits", kit_maker="Ostrel", kit=number, maker="Ostrel", number=number, quantity="1")
    return [Planted("kit-cycle", "kits", row, "number")]


@fault()
def kits_contain_each_other(book: Workbook, random: Random) -> list[Planted]:
    one, two = new_part(book), new_part(book)
    add(book, "kits", kit_maker="Ostrel", kit=one, maker="Ostrel", number=two, quantity="1")
    row = add(book, "kits", kit_maker="Ostrel", kit=two, maker="Ostrel", number=one, quantity="1")
    return [Planted("kit-cycle", "kits", row, "number")]


@fault()
def operation_needs_itself(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "operation-needs-itself", "needs", operation="polish", needs="polish|wash")


@fault()
def operation_needs_cycle(book: Workbook, random: Random) -> list[Planted]:
    operation(book, "", "", operation="plug", needs="tap")
    return operation(book, "operation-needs-cycle", "needs", operation="tap", needs="wash|plug")


@fault()
def operation_follows_what_it_waits_for(book: Workbook, random: Random) -> list[Planted]:
    # The case of a shop: it needs a crack test, that needs a wash, and the wash is to follow it.
    operation(book, "", "", operation="dye test", needs=pick(random, "rinse", "wash|rinse"))
    planted = operation(book, "operation-order-cycle", "follows", operation="mill", needs="dye test", follows="rinse")
    operation(book, "", "", operation="rinse")
    return planted


@fault()
def operation_follows_itself(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "operation-order-cycle", "follows", operation="brush", follows="wash|brush")


@fault()
def wall_without_core_shift(book: Workbook, random: Random) -> list[Planted]:
    cells = {"effect": pick(random, "widen_to_suit", "reduce_to_suit"), "feature": "bore", "kind": "cover"}
    return operation(book, "wall-without-core-shift", "core_shift", **cells, wall_feature="bore_max")


@fault()
def operation_needs_unknown(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "unknown-name", "needs", needs="ponder")


@fault()
def operation_excludes_needed(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "operation-excludes-needed", "excludes", needs="bore cover", excludes="wash")


@fault()
def operation_without_feature(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "operation-without-feature", "feature", effect="set_code", to_value="x")


@fault()
def operation_wrong_effect(book: Workbook, random: Random) -> list[Planted]:
    effect, feature = random.choice([("widen_to_suit", "inlet"), ("set_code", "bore")])
    return operation(book, "operation-wrong-effect", "effect", effect=effect, feature=feature, kind="cover")


@fault()
def cut_without_limit(book: Workbook, random: Random) -> list[Planted]:
    effect = pick(random, "widen_to_suit", "reduce to suit")
    return operation(book, "cut-without-limit", "limit_feature", effect=effect, feature="bore", kind="cover")


@fault()
def code_without_value(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "code-without-value", "to_value", effect="set_code", feature="inlet", kind="cover")


@fault()
def operation_with_an_unknown_limit(book: Workbook, random: Random) -> list[Planted]:
    cells = {"effect": "widen_to_suit", "feature": "bore", "kind": "cover"}
    return operation(book, "unknown-name", "limit_feature", **cells, limit_feature="bore_mx")


@fault()
def unknown_rate(book: Workbook, random: Random) -> list[Planted]:
    return operation(book, "unknown-rate", "rate", rate="night")


@fault()
def rule_without_limit(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-without-limit", "rule", min="")


@fault()
def rule_without_seat(book: Workbook, random: Random) -> list[Planted]:
    cells = {"left": "engine.inlet", "right": "engine.inlet", "type": "same", "min": "", "unit": ""}
    return rule(book, "rule-without-seat", "left", **cells)


def ruleless(book: Workbook, layout: str, kind: str) -> list[Planted]:
    """A layout of one seat without any rule."""
    row = add(book, "layouts", layout=layout, seat="only", kind=kind, may_be_empty="yes")
    return [
        Planted("layout-without-engine", "layouts", row, "layout"),
        Planted("seat-without-rule", "layouts", row, "seat"),
    ]


@fault()
def layout_without_rules(book: Workbook, random: Random) -> list[Planted]:
    lacking = ruleless(book, "bare", "wheel")
    joint = add(book, "joints", layout="bare", joint="only", seats="only|engine")
    return [*lacking, Planted("joint-without-rule", "joints", joint, "joint")]


@fault()
def rule_passes_over(book: Workbook, random: Random) -> list[Planted]:
    column, cells = random.choice(
        [
            ("max", {"type": "at_most", "max": "0.8"}),
            ("max", {"type": "at_least", "max": "0.8"}),
            ("min", {"type": "same", "max": "0.8"}),
            ("min", {"type": "at_most", "right": "", "max": "60"}),
            ("set", {"set": "hoses"}),
        ]
    )
    return rule(book, "rule-passes-over", column, **cells)


@fault()
def rule_bad_operand(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-bad-operand", "right", right=pick(random, "exducer", "wheel_seat.", "wheel_seat exducer"))


@fault()
def rule_unknown_seat(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-unknown-seat", "right", right="wheel.exducer")


@fault()
def rule_unknown_feature(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-unknown-feature", "right", right="wheel_seat.exducr")


@fault()
def stack_of_different_quantities(book: Workbook, random: Random) -> list[Planted]:
    right = "wheel_seat.exducer|wheel_seat.weight"
    return rule(book, "rule-mixes-quantities", "right", type="stack", right=right)


@fault()
def code_against_size(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-mixes-quantities", "right", type="same", right="engine.inlet", min="")


@fault()
def rule_without_right(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-without-right", "right", right="")


@fault()
def rule_unknown_set(book: Workbook, random: Random) -> list[Planted]:
    cells = {"type": "accepted", "left": "cover_seat.inlet", "right": "engine.inlet", "min": "", "unit": ""}
    return rule(book, "rule-unknown-set", "set", set="clamps", **cells)


@fault()
def rule_unknown_joint(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-unknown-joint", "joint", joint="contuor")


@fault()
def rule_uses_quoted_size(book: Workbook, random: Random) -> list[Planted]:
    return rule(book, "rule-uses-quoted-size", "right", right="wheel_seat.quoted_size")


@fault()
def joint_unknown_seat(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "joints", layout="plain", joint=f"joint {len(book['joints'])}", seats="wheel_seat|nozzle")
    return [Planted("joint-unknown-seat", "joints", row, "seats")]


@fault()
def unit_seat_not_in_layout(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "unit_seats", maker="Ostrel", unit="OT-1", seat="nozzle", part_maker="Quenby", part_number="0044")
    return [Planted("seat-not-in-layout", "unit_seats", row, "seat")]


@fault()
def reading_on_an_unknown_seat(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "readings", tag="C-01", seat="nozzle", feature="bore", value="5", unit="mm")
    return [Planted("seat-not-in-layout", "readings", row, "seat")]


@fault()
def demand_on_an_unknown_seat(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "demands", build="larger wheel", seat="nozzle", type="keep")
    return [Planted("seat-not-in-layout", "demands", row, "seat")]


@fault()
def reading_of_an_unknown_core(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "readings", tag="C-99", seat="cover_seat", feature="bore", value="5", unit="mm")
    return [Planted("dangling-reference", "readings", row, "tag")]


@fault()
def unit_lacks_a_seat(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "units", maker="Quenby", unit="QU-1", layout="plain")
    add(book, "unit_seats", maker="Quenby", unit="QU-1", seat="cover_seat", part_maker="Quenby", part_number="0044")
    return [Planted("unit-lacks-seat", "units", row, "unit")]


@fault()
def wrong_kind_in_seat(book: Workbook, random: Random) -> list[Planted]:
    cells = {"maker": "Ostrel", "unit": "OT-1", "seat": "seal_seat", "part_maker": "Quenby", "part_number": "0044"}
    return [Planted("wrong-kind-in-seat", "unit_seats", add(book, "unit_seats", **cells), "part_number")]


@fault()
def demand_without_value(book: Workbook, random: Random) -> list[Planted]:
    row = add(book, "demands", build="larger wheel", seat="cover_seat", feature="bore", type="at_least")
    return [Planted("demand-incomplete", "demands", row, "value")]
