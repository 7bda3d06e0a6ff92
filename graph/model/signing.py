"""What was signed on a route sheet's records."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SignedField:
    """One field of a record: what was written into it (empty: nothing), by whom, when."""

    name: str
    label: str
    quantity: str
    entry: str
    who: str
    date: str


@dataclass(frozen=True, slots=True)
class SignedRecord:
    """One record; `by` empty: it is not signed."""

    code: str
    title: str
    because: str
    fields: tuple[SignedField, ...]
    by: str
    date: str


@dataclass(frozen=True, slots=True)
class Signing:
    """The records of one plan for one core. `refusals`: why the unit may not go out; empty: it may."""

    core: str
    plan: str
    records: tuple[SignedRecord, ...]
    refusals: tuple[str, ...]
