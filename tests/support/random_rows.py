"""Rows of every sheet for tests: one good example each, and random ones of the right types."""

from typing import Any

from hypothesis import strategies as st

from graph.model.sheet import EVIDENCE, SHEETS, Column, Sheet
from graph.model.statement import Evidence, Statement
from graph.model.value import QUANTITIES

AMOUNT = {"amount": 523_875_000, "quantity": "length", "text": "2 1/16", "unit": "in"}
PLAIN = {"word": "Ostrel", "number": "007-1/2 A", "text": 'say "so"', "count": 3, "yesno": True, "date": "2026-11-20"}
QUANTITY = {
    "ratio": 100_000,
    "time": 600_000,
    "volume": 6_000_000,
    "power": 170_000_000,
    "speed": 2_200_000,
    "length": 1_000_000,
}


def good_cell(column: Column, sheet: str = "") -> Any:
    """A cell of the column that nobody objects to."""
    if column.name == "currency":
        return "EUR"
    if (sheet, column.name) == ("rules", "left"):
        return "compressor-wheel.bore"
    match column.type:
        case "choice":
            return column.of[0]
        case "list":
            return ["compressor-wheel", "engine"]
        case "value":
            return dict(AMOUNT)
        case "size":
            return dict(AMOUNT)
        case "amount":
            return {"amount": QUANTITY[column.of[0]], "quantity": column.of[0], "text": "10", "unit": column.of[1]}
        case "money":
            return {"minor": 12_050, "text": "120.50"}
        case plain:
            return PLAIN[plain]


def good_row(sheet: Sheet, *, full: bool = True) -> Statement:
    """A good row with every cell filled, or only the needed ones."""
    fields = {c.name: good_cell(c, sheet.name) for c in sheet.columns if full or c.needed}
    said = Evidence("drawing 12", "drawing", "2026-11-20", "second print") if full else Evidence()
    return Statement(sheet.name, fields, said)


# Texts that break writers: quotes, line ends, NUL, separators of other alphabets, what opens a triple term,
# what looks like an escape, a name of a folder above, leading zeros.
NASTY = st.sampled_from(
    ['"', '"""', "\\",
     "\\u0041", "a\nb\r\nc", "\x00", "\u2028", "\x85", "<<( a )>>", "<http://a b>", "..", ".", "007",
     "1e5", "true", "@id", "_:b0", "#", "'''", "\U0001f527", "é", "e\u0301", "\ufeff", " ", "a|b", "${x}", "%2F"]
)  # fmt: skip
TEXTS = st.one_of(st.text(st.characters(exclude_categories=["Cs"]), max_size=20), NASTY)
WHOLE = st.integers(-(2**62), 2**62)


def amounts(quantity: str | None = None) -> st.SearchStrategy[dict[str, Any]]:
    """Amounts of one quantity, or of any."""
    kinds = st.just(quantity) if quantity else st.sampled_from(QUANTITIES)
    return st.fixed_dictionaries({"amount": WHOLE, "quantity": kinds, "text": TEXTS, "unit": TEXTS})


CODES = st.fixed_dictionaries({"code": TEXTS, "text": TEXTS})
CODE_SETS = st.fixed_dictionaries({"codes": st.lists(TEXTS, unique=True, max_size=4).map(sorted), "text": TEXTS})
MONEY = st.fixed_dictionaries({"minor": WHOLE, "text": TEXTS})


def cells(column: Column) -> st.SearchStrategy[Any]:
    """Random cells of the column's type, good and bad words alike."""
    match column.type:
        case "yesno":
            return st.booleans()
        case "count":
            return st.integers(-3, 2**62)
        case "list":
            return st.lists(TEXTS, max_size=4)
        case "value":
            return st.one_of(amounts(), CODES, CODE_SETS)
        case "size":
            return amounts()
        case "amount":
            return st.one_of(amounts(column.of[0]), amounts())
        case "money":
            return MONEY
        case "choice":
            return st.one_of(st.sampled_from(column.of), TEXTS)
        case "date":
            return st.one_of(st.sampled_from(["2026", "2026-11", "2026-11-20", "2026-11-20T14:03:00Z"]), TEXTS)
        case _:
            return TEXTS


@st.composite
def rows_of(draw: st.DrawFn, sheet: Sheet) -> Statement:
    """A random row of one sheet: any of its cells, with or without evidence."""
    chosen = draw(st.lists(st.sampled_from(sheet.columns), unique_by=lambda c: c.name))
    fields = {c.name: draw(cells(c)) for c in chosen}
    said = {c.name: draw(st.one_of(st.just(""), cells(c))) for c in EVIDENCE}
    return Statement(sheet.name, fields, Evidence(**said))


ROWS = st.sampled_from(SHEETS).flatmap(rows_of)
"""A random row of any sheet."""
