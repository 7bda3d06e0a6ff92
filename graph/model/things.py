"""Things as their own addresses give them: the record with its claims, what counts of them, where they lead."""

from dataclasses import dataclass

from graph.model.claim import Claim
from graph.model.record import Limit, Part, Price, Snapshot, Stock, Supersession
from graph.model.shown import ShownFact, ShownLink


@dataclass(frozen=True, slots=True)
class PartRecord:
    """A part as the catalogue has it; what is on hand and what it costs is no part of it."""

    key: str
    maker: str
    number: str
    kind: str
    label: str
    claims: tuple[Claim, ...]
    limits: tuple[Limit, ...]
    superseded_by: tuple[Supersession, ...]
    said: str

    @classmethod
    def of(cls, part: Part) -> "PartRecord":
        """The record of a part."""
        return cls(
            part.key,
            part.maker,
            part.number,
            part.kind,
            part.label,
            part.claims,
            part.limits,
            part.superseded_by,
            part.said,
        )


@dataclass(frozen=True, slots=True)
class MachineRecord:
    """A machine that fitments name."""

    key: str
    maker: str
    name: str


@dataclass(frozen=True, slots=True)
class PartPage:
    """What the catalogue alone says of a part."""

    part: PartRecord
    facts: tuple[ShownFact, ...]
    links: tuple[ShownLink, ...]


@dataclass(frozen=True, slots=True)
class PartOnShelf:
    """What is on hand of a part and what it costs on a day; no price: not known."""

    stock: tuple[Stock, ...]
    price_new: Price | None
    price_used: Price | None
    day: str


@dataclass(frozen=True, slots=True)
class PartAnswer:
    """One part. `shelf` is given where it was asked for; null says that it was not, and nothing of the stock."""

    iri: str
    snapshot: Snapshot
    part: PartRecord
    facts: tuple[ShownFact, ...]
    links: tuple[ShownLink, ...]
    shelf: PartOnShelf | None = None


@dataclass(frozen=True, slots=True)
class SupersessionAnswer:
    """Where a number leads on a day, and why not further.

    `steps` are in force, in order, from `part` to `latest`; `held` leave `latest` and hang on a later date, a serial,
    a condition or a choice; `circle` names a one-way circle that the part leads into. `all` is every row in reach.
    """

    part: str
    day: str
    snapshot: Snapshot
    latest: str
    steps: tuple[Supersession, ...]
    held: tuple[Supersession, ...]
    circle: tuple[str, ...]
    all: tuple[Supersession, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class RowAnswer:
    """One row as the ledger keeps it: a claim with its source. `held`: it counts in this snapshot.

    The change sets between which it did are told of a row that is asked for by its id, else null.
    """

    iri: str
    id: str
    sheet: str
    fields: dict[str, object]
    source: str
    rank: str
    date: str
    note: str
    about: str
    held: bool
    from_change_set: int | None
    to_change_set: int | None
