"""One row as the ledger keeps it: a sheet, its fields in canonical JSON, and who said it.

A statement's id is the digest of its content, so the same row read twice is the same statement. Values are
written as `{"amount": 523875000, "quantity": "length", "text": "2 1/16", "unit": "in"}`,
`{"code": "m12x1.25", "text": "M12 x 1.25"}` or `{"codes": ["a", "b"], "text": "a|b"}`; money as
`{"minor": 12050, "text": "120.50"}`; yes/no as true/false; lists as arrays; an empty cell is left out.
"""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final
from urllib.parse import quote, unquote

from graph.model.finding import Origin
from graph.model.sheet import BY_NAME
from graph.model.value import Amount, Code, CodeSet, Value

Fields = Mapping[str, Any]

_ENCODER: Final = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical(data: object) -> str:
    """JSON with sorted keys and no spaces: one text for one content.

    >>> canonical({"b": 1, "a": "é"})
    '{"a":"é","b":1}'
    """
    return _ENCODER.encode(data)


def digest(data: object) -> str:
    """SHA-256 of the canonical JSON, in hex."""
    return hashlib.sha256(canonical(data).encode()).hexdigest()


def subject(kind: str, *names: str) -> str:
    """The key of a thing inside the program and the tail of its IRI.

    >>> subject("part", "Ostrel", "OS 100/2")
    'part/Ostrel/OS%20100%2F2'
    """
    return "/".join([kind, *(quote(name, safe="") for name in names)])


def name_in(key: str) -> str:
    """The name inside a key, as a person reads it.

    >>> name_in("part/Ostrel/OS%20100%2F2"), name_in("core/HB-017"), name_in("")
    ('Ostrel OS 100/2', 'HB-017', '')
    """
    return " ".join(unquote(part) for part in key.split("/")[1:])


def value_json(value: Value) -> dict[str, Any]:
    """A value as canonical JSON holds it."""
    if isinstance(value, Amount):
        return {"amount": value.amount, "quantity": value.quantity, "text": value.text, "unit": value.unit}
    if isinstance(value, Code):
        return {"code": value.code, "text": value.text}
    return {"codes": list(value.codes), "text": value.text}


def value_of(data: Mapping[str, Any]) -> Value:
    """The value that `value_json` wrote."""
    if "amount" in data:
        return Amount(int(data["amount"]), data["quantity"], data.get("text", ""), data.get("unit", ""))
    if "codes" in data:
        return CodeSet(tuple(data["codes"]), data.get("text", ""))
    return Code(data["code"], data.get("text", ""))


@dataclass(frozen=True, slots=True)
class Evidence:
    """Who said a row: a source's key, a rank's word (empty: the source's own), an ISO date, a note."""

    source: str = ""
    rank: str = ""
    date: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Statement:
    """One row of one sheet. `origin` says where it was read; it is no part of the content or the id."""

    sheet: str
    fields: Fields
    evidence: Evidence = Evidence()
    origin: Origin | None = field(default=None, compare=False)

    @property
    def id(self) -> str:
        """`s` and the first 24 hex digits of the content's digest (96 bits)."""
        return "s" + digest(self.content())[:24]

    @property
    def key(self) -> tuple[str, ...]:
        """The key cells in the sheet's order; an empty optional one is ''."""
        return tuple(str(self.fields.get(name, "")) for name in BY_NAME[self.sheet].key)

    def content(self) -> dict[str, Any]:
        """What is stored and digested."""
        said = {
            name: text
            for name, text in (
                ("source", self.evidence.source),
                ("rank", self.evidence.rank),
                ("date", self.evidence.date),
                ("note", self.evidence.note),
            )
            if text
        }
        return {"sheet": self.sheet, "fields": dict(self.fields), "evidence": said}

    @classmethod
    def of(cls, content: Mapping[str, Any], origin: Origin | None = None) -> "Statement":
        """The statement that `content` wrote."""
        return cls(content["sheet"], content["fields"], Evidence(**content.get("evidence", {})), origin)
