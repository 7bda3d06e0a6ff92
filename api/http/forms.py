"""The forms in which answers leave, by `?format=` first and by `Accept` else."""

from collections.abc import Mapping, Sequence
from typing import Final

from graph.errors import NotAcceptable

MEDIA: Final = {
    "json": "application/json",
    "jsonld": "application/ld+json",
    "ttl": "text/turtle",
    "nt": "application/n-triples",
    "nq": "application/n-quads",
    "csv": "text/csv",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ndjson": "application/x-ndjson",
    "pdf": "application/pdf",
    "svg": "image/svg+xml",
    "text": "text/plain",
}
"""The forms by their short names."""

FORMS: Final = {media: form for form, media in MEDIA.items()}


def accepted(header: str) -> list[tuple[str, float]]:
    """The media ranges of an `Accept` header with their weights, as RFC 9110 section 12.5.1 reads them.

    >>> accepted("text/turtle;q=0.5, application/json")
    [('text/turtle', 0.5), ('application/json', 1.0)]
    """
    found = []
    for piece in header.split(","):
        media, *parameters = (part.strip() for part in piece.split(";"))
        weight = 1.0
        for parameter in parameters:
            name, _, value = parameter.partition("=")
            if name.strip().lower() == "q":
                try:
                    weight = min(max(float(value), 0.0), 1.0)
                except ValueError:
                    weight = 0.0
        if media:
            found.append((media.lower(), weight))
    return found


def _weight(media: str, ranges: Sequence[tuple[str, float]]) -> float:
    """The weight of the most exact range that the medium falls into."""
    kind = media.partition("/")[0]
    for wanted in (media, f"{kind}/*", "*/*"):
        weights = [weight for one, weight in ranges if one == wanted]
        if weights:
            return max(weights)
    return 0.0


def chosen(offered: Mapping[str, str], accept: str, asked: str = "") -> str:
    """The form to answer in, of those offered (form to medium, the usual one first).

    Raises
    ------
    NotAcceptable
        None of them is wanted.
    """
    there_is = f"ask for {', '.join(offered)}"
    if asked:
        if asked not in offered:
            raise NotAcceptable(f"this address has no form {asked!r}", fix=there_is)
        return asked
    if not accept:
        return next(iter(offered))
    ranges = accepted(accept)
    if not ranges:
        return next(iter(offered))
    best = max(offered, key=lambda form: _weight(offered[form], ranges), default="")
    if not best or _weight(offered[best], ranges) <= 0:
        raise NotAcceptable("this address has no form that `Accept` names", fix=there_is)
    return best
