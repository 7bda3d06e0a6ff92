"""How facts are said in a reason: values with units, seats and features by their labels."""

from collections.abc import Mapping

from graph.model.fact import Alternative, Fact
from graph.model.value import Amount, Code, Value

ENGINE = "engine"

# The unit in which a quantity is shown, and how many quanta it has (graph/model/value.py).
_SHOWN_IN = {
    "length": ("mm", 10_000_000),
    "area": ("mm²", 1_000_000),
    "angle": ("°", 3_600_000_000),
    "mass": ("g", 1_000_000_000),
    "speed": ("rpm", 1_000),
    "velocity": ("m/s", 1_000_000),
    "pressure": ("kPa", 1_000_000),
    "temperature": ("K", 1_000),
    "time": ("min", 60_000),
    "torque": ("N·m", 1_000_000),
    "power": ("kW", 1_000_000),
    "flow": ("kg/s", 1_000_000),
    "unbalance": ("g·mm", 1_000_000),
    "count": ("", 1),
    "ratio": ("", 1_000_000),
    "volume": ("L", 1_000_000),
}


def number(amount: int, quantity: str) -> str:
    """An amount in the quantity's usual unit, exact, without needless zeros.

    >>> number(714_500_000, "length")
    '71.45 mm'
    """
    unit, per = _SHOWN_IN.get(quantity, ("", 1))
    whole, rest = divmod(abs(amount), per)
    digits = str(per)[1:]
    decimals = f"{rest * 10 ** len(digits) // per:0{len(digits)}}".rstrip("0") if digits else ""
    text = f"{'-' if amount < 0 else ''}{whole}{'.' + decimals if decimals else ''}"
    return f"{text} {unit}".strip() if unit != "°" else text + unit


def span(low: int, high: int, quantity: str) -> str:
    """An interval as a person says it: "71.4 mm", or "71.4 mm to 71.5 mm"."""
    return number(low, quantity) if low == high else f"{number(low, quantity)} to {number(high, quantity)}"


def as_written(value: Value) -> str:
    """The value in its original text and unit; what it is stored as when no text was kept."""
    if isinstance(value, Amount):
        return f"{value.text} {value.unit}".strip() if value.text else number(value.amount, value.quantity)
    if value.text:
        return value.text
    return value.code if isinstance(value, Code) else " | ".join(value.codes)


def alternative_text(alternative: Alternative, quantity: str) -> str:
    """One surviving value; a text in another unit than the usual one stands beside it."""
    if alternative.low is None or alternative.high is None:
        return " | ".join(alternative.codes)
    text = span(alternative.low, alternative.high, quantity)
    unit = _SHOWN_IN.get(quantity, ("", 1))[0]
    foreign = alternative.shown and not alternative.shown.endswith(unit)
    return f"{text} ({alternative.shown})" if foreign else text


def fact_text(fact: Fact | None) -> str:
    """All that survives of a fact: positions joined by "and", rival claims by "or"."""
    if fact is None or not fact.alternatives:
        return "not known"
    places = dict.fromkeys(a.position for a in fact.alternatives)
    said = []
    for place in places:
        rivals = dict.fromkeys(alternative_text(a, fact.quantity) for a in fact.alternatives if a.position == place)
        said.append(" or ".join(rivals) + (f" at {place}" if place else ""))
    return " and ".join(said)


def operand_name(seat: str, feature: str, spoken: Mapping[str, str]) -> str:
    """The feature of a seat by their labels: "compressor wheel exducer"."""
    return f"{spoken.get(seat, seat)} {spoken.get(feature, feature)}"
