"""Which limits stand: of one source, a later one replaces what it says anew."""

from collections.abc import Iterable
from dataclasses import replace

from graph.model.record import Limit


def standing(dated: Iterable[tuple[str, Limit]]) -> tuple[Limit, ...]:
    """The limits of one part or unit that no later word of their own source replaces, in the order given.

    Each comes with its date; one without counts as the earliest. A later limit on the same feature and condition
    replaces only the end, least or most, that it states itself; words of a worse rank, or of a source not named,
    replace nothing.
    """
    limits = list(dated)
    out = []
    for date, limit in limits:
        later = [
            other
            for day, other in limits
            if day > date
            and (other.feature, other.condition, other.source) == (limit.feature, limit.condition, limit.source)
            and other.source
            and other.rank <= limit.rank
        ]
        least = None if any(other.min is not None for other in later) else limit.min
        most = None if any(other.max is not None for other in later) else limit.max
        if least is not None or most is not None or not later:
            out.append(replace(limit, min=least, max=most))
    return tuple(out)
