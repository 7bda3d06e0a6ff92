"""One cell: from what stands in the file to what a statement holds, or the fault in it."""

import re
import unicodedata
from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

from graph.errors import BadPartNumber
from graph.identifiers import spelling
from graph.model.sheet import Column
from graph.model.value import spelled_code
from graph.sources.codes import Fault
from graph.sources.tables import Cell, Odd
from ontology.currencies import MINOR_DIGITS, read_money
from ontology.quantities import SIGNED, Reading, Unit, Unreadable, read_measure, units_named

_PLAIN: Final = re.compile(r"[ -~]*")
_ERROR: Final = re.compile(r"#(REF!|N/A|VALUE!|NAME\?|DIV/0!|NUM!|NULL!|SPILL!|CALC!)")
_DATE: Final = re.compile(r"\d{4}(-\d\d(-\d\d(T\d\d:\d\d(:\d\d)?)?)?)?", re.ASCII)
LOOK_LATIN: Final = frozenset("АВЕЅІЈКМНОРСТУХаеѕіјорсухΑΒΕΖΗΙΚΜΝΟΡΤΥΧο")
"""Cyrillic and Greek letters that look like Latin ones."""
ESCAPED: Final = re.compile(r"'['=+\-@\t\r]")
"""How a cell begins that an apostrophe keeps from being computed."""

_REASONS: Final = {
    "not-finite": "not-finite",
    "ambiguous": "ambiguous-number",
    "too-many-digits": "too-many-digits",
    "no-unit": "missing-unit",
    "unknown-unit": "unknown-unit",
    "other-quantity": "wrong-unit",
}
YES_NO: Final = {"yes": True, "no": False, "y": True, "n": False, "true": True, "false": False}


def text_in(cell: Cell, column: Column | None, escaped: bool = False) -> str:
    """The cell's text without outer space; the column is None for a wide feature column.

    Raises
    ------
    Fault
        A formula, an error, a date where none belongs, a number that is no part number, a hidden character.
    """
    if isinstance(cell, Odd):
        return _odd_text(cell, column)
    text = cell.strip(" \t\r\n")
    if escaped:
        if text.startswith("="):
            raise Fault("formula-cell")
        if ESCAPED.match(text):
            text = text[1:].strip(" \t\r\n")
    if _PLAIN.fullmatch(text):
        if text.startswith("#") and _ERROR.fullmatch(text):
            raise Fault("error-cell")
        return text
    return _look_closely(text, column)


def _odd_text(cell: Odd, column: Column | None) -> str:
    if cell.kind == "formula":
        raise Fault("formula-cell")
    if cell.kind == "error":
        raise Fault("error-cell")
    if cell.kind == "date" and (column is None or column.type != "date"):
        raise Fault("date-cell")
    if cell.kind == "number" and column is not None and is_name(column) and not re.fullmatch(r"\d{1,15}", cell.text):
        raise Fault("number-cell-broken")
    return cell.text


def is_name(column: Column) -> bool:
    """Whether leading zeros would matter: a part number, or a key."""
    return column.type == "number" or (column.type == "word" and column.key)


def _look_closely(text: str, column: Column | None) -> str:
    prose = column is not None and column.type == "text"
    scripts = set()
    for c in text:
        category = unicodedata.category(c)
        if category == "Cc" and not (prose and c in "\n\t\r"):
            raise Fault("control-character", point=f"U+{ord(c):04X}")
        if category in ("Cf", "Cs", "Co", "Zl", "Zp") and (not prose or category == "Cs" or _turns(c)):
            raise Fault("hidden-character", point=f"U+{ord(c):04X}")
        if category.startswith("L"):
            scripts.add(unicodedata.name(c, "?").split()[0])
    if not prose and scripts and not scripts - {"CYRILLIC", "GREEK"} and _only_looks_latin(text):
        stranger = next(c for c in text if c in LOOK_LATIN)
        raise Fault("look-alike-letter", detail=f"{text!r} holds U+{ord(stranger):04X}, {_name(stranger)}")
    if not prose and "LATIN" in scripts and scripts & {"CYRILLIC", "GREEK"}:
        stranger = next(c for c in text if unicodedata.name(c, "?").split()[0] in ("CYRILLIC", "GREEK"))
        if not (stranger == "μ" and text.endswith("μm")):  # the Greek letter is usual for micrometres
            raise Fault("look-alike-letter", detail=f"{text!r} mixes in U+{ord(stranger):04X}, {_name(stranger)}")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _only_looks_latin(text: str) -> bool:
    """Whether a text with digits in it has no letter that could not be taken for a Latin one: М12х1.5."""
    return any(c.isdecimal() for c in text) and all(c in LOOK_LATIN for c in text if c.isalpha())


def _turns(c: str) -> bool:
    return "\u202a" <= c <= "\u202e" or "\u2066" <= c <= "\u2069"


def _name(c: str) -> str:
    return unicodedata.name(c, "a character without a name").lower()


def plain_field(text: str, column: Column) -> Any:
    """What a statement holds for a cell that needs nothing but its own column.

    Raises
    ------
    Fault
        What stands there is not of the column's type.
    """
    return _READERS[column.type](text, column)


def _word(text: str, column: Column) -> str:
    return text


def _number(text: str, column: Column) -> str:
    try:
        spelling(text)
    except BadPartNumber as error:
        raise Fault("look-alike-letter", detail=error.message) from None
    return text


def _yesno(text: str, column: Column) -> bool:
    if text.casefold() not in YES_NO:
        raise Fault("bad-yes-no")
    return YES_NO[text.casefold()]


def _count(text: str, column: Column) -> int:
    if not re.fullmatch(r"\d{1,9}", text, re.ASCII):
        raise Fault("bad-count")
    return int(text)


def _date(text: str, column: Column) -> str:
    if not _DATE.fullmatch(text):
        raise Fault("bad-date")
    try:
        datetime.fromisoformat(text + {4: "-01-01", 7: "-01"}.get(len(text), ""))
    except ValueError:
        raise Fault("bad-date") from None
    return text


def _list(text: str, column: Column) -> list[str]:
    entries = [entry.strip() for entry in text.split("|")]
    if not all(entries) or len(set(entries)) < len(entries):
        raise Fault("bad-list")
    return entries


def _choice(text: str, column: Column) -> str:
    word = re.sub(r"[\s-]+", "_", text.casefold())
    if word not in column.of:
        raise Fault("bad-choice", choices=", ".join(column.of))
    return word


_READERS: Final = {
    "word": _word,
    "text": _word,
    "number": _number,
    "yesno": _yesno,
    "count": _count,
    "date": _date,
    "list": _list,
    "choice": _choice,
}
CONTEXT_FREE: Final = frozenset(_READERS)
"""The column types that `plain_field` reads; amounts, sizes, values and money need more."""


def measure(text: str, quantity: str, unit: str, *, comma: bool, difference: bool = False) -> Reading:
    """A number with its unit.

    Raises
    ------
    Fault
        What `ontology.quantities` refuses.
    """
    try:
        reading = read_measure(text, quantity, unit, comma=comma, difference=difference)
    except Unreadable as error:
        raise _fault(error) from None
    # Outside its file nobody knows that 15,875 had a decimal comma.
    return replace(reading, text=reading.text.replace(",", ".")) if comma else reading


def _fault(error: Unreadable, code: str = "bad-number") -> Fault:
    return Fault(_REASONS.get(error.reason, code), detail=error.message, fix=error.fix)


def amount_json(reading: Reading) -> dict[str, Any]:
    """The reading as a statement holds it."""
    return {"amount": reading.amount, "quantity": reading.quantity, "text": reading.text, "unit": reading.unit}


def money(text: str, currency: str, *, comma: bool) -> dict[str, Any]:
    """A sum, not negative, in minor units of a known currency."""
    if not currency:
        raise Fault("missing-currency")
    try:
        minor = read_money(text, currency, comma=comma)
    except Unreadable as error:
        code = "ambiguous-number" if error.reason == "ambiguous" else "bad-money"
        code = "not-finite" if error.reason == "not-finite" else code
        raise Fault(code, detail=error.message, fix=error.fix) from None
    if minor < 0:
        raise Fault("negative-price")
    return {"minor": minor, "text": text.replace(",", ".") if comma else text}


def is_currency(word: str) -> bool:
    """Whether it is a currency known here."""
    return word in MINOR_DIGITS


@lru_cache(maxsize=1024)
def unit_for(text: str, type_: str, feature: str) -> Unit:
    """The unit of that name for a feature of that type.

    Raises
    ------
    Fault
        An unknown unit, one of another quantity, or any unit for a code.
    """
    if type_ in ("code", "set", "text"):
        raise Fault("unit-not-wanted", feature=feature, type=type_)
    named = units_named(text)
    for unit in named:
        if unit.quantity == type_:
            return unit
    if not named:
        raise Fault("unknown-unit", detail=f"{text!r} is no unit known here", fix=f"use a unit of {type_}")
    raise Fault(
        "wrong-unit",
        detail=f"{text!r} is a unit of {named[0].quantity}, and {feature} is a {type_}",
        fix=f"use a unit of {type_}",
    )


def code_json(text: str, several: bool) -> dict[str, Any]:
    """A code, or a set of codes separated by `|`, as a statement holds it."""
    if not several:
        return {"code": spelled_code(text), "text": text}
    codes = [spelled_code(entry) for entry in text.split("|")]
    if not all(codes) or len(set(codes)) < len(codes):
        raise Fault("bad-list")
    return {"codes": sorted(codes), "text": text}


def refuse_negative(reading: Reading, column: Column) -> None:
    """A size below zero is a fault, except where a sign makes sense."""
    if reading.amount >= 0:
        return
    if column.name in ("tolerance", "uncertainty", "core_shift"):
        raise Fault("tolerance-negative")
    if reading.quantity not in SIGNED:
        raise Fault("negative-size", quantity=reading.quantity)
