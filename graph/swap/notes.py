"""Remarks that decide no joint: superseded numbers, years that overlap, interchange that someone asserts."""

from collections.abc import Mapping, Sequence
from decimal import Decimal, InvalidOperation
from itertools import combinations

from graph.model.record import Fitment, Interchange, Kind, Part, Supersession
from graph.model.statement import name_in
from graph.model.verdict import Verdict
from graph.swap.match import DIFFERENT, LARGER, SMALLER, Compared
from graph.swap.supersession import chain_of, circles, in_force

AGAINST = (Verdict.NO, Verdict.UNKNOWN)
LAST_YEAR = 20000  # in half years; an open end


def called(key: str, parts: Mapping[str, Part]) -> str:
    """Maker and number as written."""
    part = parts.get(key)
    return f"{part.maker} {part.number}" if part is not None else name_in(key)


def superseded(
    keys: Sequence[str], supersessions: Sequence[Supersession], parts: Mapping[str, Part], day: str
) -> list[str]:
    """What became of the numbers, with direction, date, serial and condition; a circle is said to be one."""
    out = []
    rounds = circles(supersessions)
    leaving = {row.old for row in supersessions}.union(*rounds)
    for key in dict.fromkeys(keys):
        if key not in leaving:
            continue
        chain = chain_of(key, supersessions, rounds, day)
        for row in (*chain.steps, *chain.held):
            when = f" from {row.from_date}" if row.from_date else ""
            serial = f", from serial {row.from_serial} on" if row.from_serial else ""
            condition = f", if {row.condition}" if row.condition else ""
            verb = "is superseded" if in_force(row, day) else "will be superseded"
            way = "both ways" if row.two_way else "one way: the old number does not replace the new one"
            old, new = called(row.old, parts), called(row.new, parts)
            out.append(f"{old} {verb} by {new}{when}{serial}{condition}; {way}.")
        if chain.circle:
            names = ", ".join(called(k, parts) for k in chain.circle)
            out.append(f"The supersessions of {names} run in a circle; none of them is taken to replace another.")
    return list(dict.fromkeys(out))


def overlapping(fitments: Sequence[Fitment]) -> list[str]:
    """Machines whose years admit two engines or two units: the serial number decides, not the year."""
    out = []
    for one, other in combinations(fitments, 2):
        if (one.machine_maker, one.machine) != (other.machine_maker, other.machine):
            continue
        if (one.engine, one.unit) == (other.engine, other.unit):
            continue
        start = max(_half_year(one.year_from, 0), _half_year(other.year_from, 0))
        end = min(_half_year_end(one.year_to), _half_year_end(other.year_to))
        if start >= end:
            continue
        what = "engines" if one.engine != other.engine else "units"
        span = f"{_span(one)} and {_span(other)}"
        out.append(
            f"{one.machine_maker} {one.machine}: the years {span} overlap and admit two {what}; ask for the serial "
            "number."
        )
    return list(dict.fromkeys(out))


def _half_year(text: str, unread: int) -> int:
    """A year or half-model year (2009.5) in half years; an empty or unreadable one leaves the range open."""
    try:
        return int(Decimal(text.replace(",", ".")) * 2)
    except (InvalidOperation, ValueError, OverflowError):
        return unread


def _half_year_end(text: str) -> int:
    """The half year after the last one: 2009 runs to the end of 2009, and so does 2009.5, its second half."""
    last = _half_year(text, LAST_YEAR)
    return last + (1 if last % 2 else 2)


def _span(fitment: Fitment) -> str:
    serials = f" (serials {fitment.serial_from or '…'} to {fitment.serial_to or '…'})"
    shown = serials if fitment.serial_from or fitment.serial_to else ""
    return f"{fitment.year_from or '…'} to {fitment.year_to or '…'}{shown}"


def asserted(
    rows: Sequence[Interchange], keys: Sequence[str], seat: str, parts: Mapping[str, Part], verdict: Verdict
) -> list[str]:
    """Interchange that someone asserts of these parts; it settles nothing.

    Where the question is about that very seat, a disagreement with the joints is said.
    """
    out = []
    for row in rows:
        if row.other not in keys or (seat and row.seat not in ("", seat)):
            continue
        by = f" ({row.source})" if row.source else ""
        condition = f", if {row.condition}" if row.condition else ""
        against = "; the joints judged here do not bear that out" if seat and verdict in AGAINST else ""
        old, new = called(row.part, parts), called(row.other, parts)
        out.append(
            f"It is asserted{by} that {new} may stand in for {old}{condition}, in that direction only{against}."
        )
    return list(dict.fromkeys(out))


def turning(compared: Sequence[Compared], kinds: Sequence[Kind], words: Mapping[str, str]) -> list[str]:
    """A count on a turning part that differs: what passes in a turn changes in that ratio, and no more is known."""
    rotating = {k.name for k in kinds if k.rotating}
    out = []
    for one in compared:
        if one.line.compared not in (LARGER, SMALLER, DIFFERENT):
            continue
        if one.feature is None or one.feature.type != "count" or one.kind not in rotating:
            continue
        ratio = one.ratio
        if ratio is not None:
            name = f"{words.get(one.line.seat, one.line.seat)} {one.feature.label}"
            out.append(
                f"{name} {one.line.ours} against {one.line.original}: at equal shaft speed the passing frequency "
                f"changes in the ratio {ratio.numerator}:{ratio.denominator}; what that does to flow and "
                "vibration is not known."
            )
    return list(dict.fromkeys(out))
