"""If-Match and If-None-Match as RFC 9110 has them (sections 8.8.3, 13.1): lists of entity tags, and what meets them.

The tag of what there is: empty where it has none, None where there is nothing.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from api.http.refusals import BadCondition

MATCH: Final = b"if-match"
NONE_MATCH: Final = b"if-none-match"
_MEMBER: Final = re.compile(rb'[ \t]*(?:((?:W/)?"[\x21\x23-\x7e\x80-\xff]*")[ \t]*)?(,|\Z)')
"""One member of a list; an empty one counts for nothing (section 5.6.1.2)."""


@dataclass(frozen=True, slots=True)
class Tags:
    """What one of the fields names: tags in their order, or with `any_` whatever there is (`*`)."""

    named: tuple[bytes, ...] = ()
    any_: bool = False

    def strongly(self, tag: bytes | None) -> bool:
        """Whether what there is is among them by the strong comparison.

        >>> Tags((b'W/"1"', b'"1"')).strongly(b'"1"'), Tags((b'"1"',)).strongly(b'W/"1"')
        (True, False)
        """
        if self.any_ or tag is None:
            return self.any_ and tag is not None
        return not _weak(tag) and tag in self.named

    def weakly(self, tag: bytes | None) -> bool:
        """Whether what there is is among them by the weak comparison.

        >>> Tags((b'"1"',)).weakly(b'W/"1"'), Tags((b'W/"1"',)).weakly(b'W/"2"')
        (True, False)
        """
        if self.any_ or tag is None:
            return self.any_ and tag is not None
        return _opaque(tag) in map(_opaque, self.named)


@dataclass(frozen=True, slots=True)
class Preconditions:
    """What a request says of the thing it goes to; None: nothing in that field."""

    match: Tags | None = None
    none_match: Tags | None = None

    def matched(self, tag: bytes | None) -> bool:
        """Whether If-Match lets the request be carried out."""
        return self.match is None or self.match.strongly(tag)

    def unknown(self, tag: bytes | None) -> bool:
        """Whether If-None-Match lets it: what there is is none of those that it names."""
        return self.none_match is None or not self.none_match.weakly(tag)


NONE: Final = Preconditions()


def preconditions(fields: Iterable[tuple[bytes, bytes]]) -> Preconditions:
    """What the fields of a request say.

    Raises
    ------
    BadCondition
        One of the two is no list of entity tags.
    """
    lines: dict[bytes, list[bytes]] = {}
    for name, text in fields:
        if name in (MATCH, NONE_MATCH):
            lines.setdefault(name, []).append(text)
    if not lines:
        return NONE
    match, none_match = (_tags(name, lines[name]) if name in lines else None for name in (MATCH, NONE_MATCH))
    return Preconditions(match, none_match)


def _tags(name: bytes, lines: list[bytes]) -> Tags:
    """Lines of the same field are one list (section 5.3)."""
    text = b",".join(lines)
    if text.strip(b" \t") == b"*":
        return Tags(any_=True)
    named, at = [], 0
    while True:
        found = _MEMBER.match(text, at)
        if found is None:
            shown = text[:100].decode("latin-1")
            raise BadCondition(
                f"{name.decode()}: {shown!r} is no list of entity tags",
                fix='send an ETag as it was given, with its quotes: "12"; several are separated by commas',
            )
        if found[1] is not None:
            named.append(found[1])
        if not found[2]:
            return Tags(tuple(named))
        at = found.end()


def _weak(tag: bytes) -> bool:
    return tag.startswith(b"W/")


def _opaque(tag: bytes) -> bytes:
    return tag.removeprefix(b"W/")
