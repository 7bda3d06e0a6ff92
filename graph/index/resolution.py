"""How finely a size is written: what its digits leave open where nobody says how sure it is."""

import re
import unicodedata
from math import ceil
from typing import Final

from graph.errors import BadQuantity
from graph.model.value import Amount
from ontology.quantities import read_measure, shown

_UNDER: Final = re.compile(r"/\s*(\d+)")


def resolution(value: Amount) -> int:
    """Half of the last digit, or of the parts that a fraction counts, in quanta; a count has none.

    >>> resolution(Amount(612_000_000, "length", "61.2", "mm")), resolution(Amount(7, "count", "7"))
    (500000, 0)
    >>> resolution(Amount(559_593_750, "length", "2 13/64", "in"))
    1984375
    """
    if value.quantity == "count":
        return 0
    try:
        return _of_text(value.text, value.unit, value.quantity)
    except BadQuantity:  # no text was kept, or one that is read otherwise today
        return _of_text(shown(value.amount, value.quantity), "", value.quantity)


def _of_text(text: str, unit: str, quantity: str) -> int:
    reading = read_measure(text, quantity, unit, comma="," in text)
    if reading.rounding:
        return ceil(reading.rounding)
    under = _UNDER.search(unicodedata.normalize("NFKC", text).replace("⁄", "/"))
    parts = int(under[1]) if under else 1
    return read_measure(f"1/{2 * parts}", quantity, reading.unit, difference=True).amount
