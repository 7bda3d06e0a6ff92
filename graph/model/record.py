"""The things of the trade as typed, frozen records; every one carries the id of the statement it came from.

Rates, prices and book values are in minor units of the named currency. Times are in milliseconds. Keys of
things (`part/…`, `engine/…`, `core/…`) are those of `graph.model.statement.subject`.
"""

from dataclasses import dataclass

from graph.model.claim import Claim
from graph.model.value import Value


@dataclass(frozen=True, slots=True)
class Source:
    """Who says something, and the rank word that counts for it."""

    name: str
    rank: str
    title: str = ""
    who: str = ""
    date: str = ""
    said: str = ""  # statement id, here and below


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of part. `one_time`: never used again. `rotating`: a crack is the end of it."""

    name: str
    label: str
    parent: str = ""
    one_time: bool = False
    rotating: bool = False
    said: str = ""


@dataclass(frozen=True, slots=True)
class Feature:
    """A property; `type` is length, code, count, set, text or another quantity's name.

    `duty` features enter the match line; `better` says which way is no worse (larger, smaller, same).
    `wears`: of a used part it is known only once read on that part.
    """

    name: str
    label: str
    type: str
    unit: str = ""
    duty: bool = False
    better: str = "same"
    wears: bool = False
    identity_reliability: str = ""
    look: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Seat:
    """A place in a layout that holds `quantity` equal parts of one kind."""

    name: str
    kind: str
    quantity: int = 1
    may_be_empty: bool = False
    side: str = ""
    strip_time: int | None = None  # ms
    said: str = ""


@dataclass(frozen=True, slots=True)
class Joint:
    """Seats that mate; `engine` among them stands for the engine's side."""

    name: str
    label: str
    seats: tuple[str, ...]
    said: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One fit rule of a joint. Operands are (seat, feature); `engine` may be a seat.

    same, thread    left and right agree (`same` on amounts: |left - right| <= max, 0 if empty; angles on a circle)
    clearance       min <= left - right <= max; left is the hole, right the shaft (diametral for diameters)
    interference    min <= right - left <= max; left is the hole, right the shaft
    at_most         left <= right - min (min: the gap that must remain, 0 if empty); no right: left <= max
    at_least        left >= right + min (0 if empty); no right: left >= min
    accepted        (left, right) is a pair of the set; any member of a code set may make the pair
    control         as accepted: left is what the actuator needs, right what the engine's side can give
    stack           min <= left - (sum of right) <= max

    `min` and `max` are in the quanta of the left feature's quantity; an empty one is open for the window
    kinds, but a window rule with neither is *not known* (a missing limit is never a pass).
    """

    joint: str
    name: str
    type: str
    left: tuple[str, str]
    right: tuple[tuple[str, str], ...] = ()
    min: int | None = None
    max: int | None = None
    unit: str = ""
    set: str = ""
    safety: bool = False
    measure: str = ""
    said: str = ""

    @property
    def operands(self) -> tuple[tuple[str, str], ...]:
        """Left first, then right in order."""
        return (self.left, *self.right)

    @property
    def seats(self) -> tuple[str, ...]:
        """The seats the rule looks at, each once, in order."""
        return tuple(dict.fromkeys(seat for seat, _ in self.operands))


@dataclass(frozen=True, slots=True)
class Layout:
    """Which seats there are, which joints they make and which rules decide those."""

    name: str
    seats: tuple[Seat, ...]
    joints: tuple[Joint, ...]
    rules: tuple[Rule, ...]

    def seat(self, name: str) -> Seat | None:
        """The seat of that name, or None."""
        return next((s for s in self.seats if s.name == name), None)


@dataclass(frozen=True, slots=True)
class Price:
    """What one part costs, as of a day."""

    price: int
    currency: str
    as_of: str
    deposit: int | None = None
    lead_days: int | None = None
    said: str = ""


@dataclass(frozen=True, slots=True)
class Stock:
    """How many are on hand at a place."""

    place: str
    quantity: int
    said: str = ""


@dataclass(frozen=True, slots=True)
class Limit:
    """What a feature may measure; in quanta. `condition`: new, used, or empty for both."""

    feature: str
    condition: str
    min: int | None
    max: int | None
    rank: int
    source: str
    said: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A component's number with all claims about its kind and what it costs."""

    key: str
    maker: str
    number: str
    kind: str
    label: str
    claims: tuple[Claim, ...] = ()
    limits: tuple[Limit, ...] = ()
    price_new: Price | None = None
    price_used: Price | None = None  # transfer price out of a donor
    stock: tuple[Stock, ...] = ()
    superseded_by: tuple["Supersession", ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class Supersession:
    """`new` takes the place of `old`, from a date or serial on, under a condition; both are part keys."""

    old: str
    new: str
    two_way: bool = False
    from_date: str = ""
    from_serial: str = ""
    condition: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Interchange:
    """An asserted interchange: `other` may stand in for `part`, in that direction."""

    part: str
    other: str
    seat: str = ""
    condition: str = ""
    source: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Engine:
    """An engine model and its side of every outside joint."""

    key: str
    maker: str
    name: str
    label: str = ""
    claims: tuple[Claim, ...] = ()
    displacement: int | None = None  # mm³
    cylinders: int | None = None
    rated_power: int | None = None  # mW
    rated_speed: int | None = None  # 0.001 rev/min
    said: str = ""


@dataclass(frozen=True, slots=True)
class Unit:
    """A complete unit: `parts` says which part key sits in which seat."""

    key: str
    maker: str
    name: str
    layout: str
    label: str = ""
    parts: tuple[tuple[str, str], ...] = ()  # (seat, part key), in the layout's order
    claims: tuple[Claim, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class Fitment:
    """An engine in a machine over years or serials, and a unit it left the factory with."""

    machine_maker: str
    machine: str
    engine: str
    unit: str
    year_from: str = ""
    year_to: str = ""
    serial_from: str = ""
    serial_to: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Operation:
    """Something the shop can do. Times in ms; `minutes_per_mm` is ms per mm of depth.

    `needs` and `excludes` name operations; those of the same kind of part bind the choice, others only the
    order of work. `follows` names services that this operation brings with it, once for the unit.
    A cut that eats into a wall names the wall's reading, the positions that must be read, and the core shift.
    """

    name: str
    label: str
    kind: str
    feature: str
    effect: str
    setup: int
    time: int
    time_per_mm: int = 0
    to_value: Value | None = None
    tolerance: int | None = None
    limit_feature: str = ""
    wall_feature: str = ""
    wall_positions: tuple[str, ...] = ()
    wall_share: str = "full"  # half: the feature is a diameter, a wall loses half of its change
    core_shift: int | None = None
    rate: str = "shop"
    needs: tuple[str, ...] = ()
    excludes: tuple[str, ...] = ()
    follows: tuple[str, ...] = ()
    reversible: bool = False
    equipment: str = ""
    caution: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class FoundPart:
    """What sits in a seat of a core: a part key (empty: not known), its state, and the readings taken on it.

    `plate`: the part is what the core's plate says it was built with, since nobody wrote down another.
    """

    seat: str
    part: str
    state: str = "present"  # present, missing, scrap, cracked
    readings: tuple[Claim, ...] = ()
    said: str = ""
    plate: bool = False


@dataclass(frozen=True, slots=True)
class Core:
    """One used unit. `found` has one entry a seat: as found where said, else as built by the plate."""

    key: str
    tag: str
    layout: str
    as_built: str = ""  # unit key
    serial: str = ""
    grade: str = ""
    place: str = ""
    book_value: int | None = None
    currency: str = ""
    own: bool = False  # the customer's own: costs nothing
    may_donate: bool = False
    found: tuple[FoundPart, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class Demand:
    """What a build asks of one seat: same, at_least, at_most, between, one_of, keep."""

    build: str
    seat: str
    feature: str
    type: str
    value: Value | None = None
    value_to: int | None = None
    said: str = ""


@dataclass(frozen=True, slots=True)
class Build:
    """What is wanted."""

    key: str
    name: str
    layout: str
    engine: str = ""  # engine key
    label: str = ""
    demands: tuple[Demand, ...] = ()
    said: str = ""


@dataclass(frozen=True, slots=True)
class Consume:
    """One-time-use parts used up: `when` is an operation, a seat that is opened or replaced, or `always`."""

    when: str
    part: str
    quantity: int
    per: str = "seat"  # unit: once, however many of its rows apply
    said: str = ""


@dataclass(frozen=True, slots=True)
class ServiceDue:
    """A service operation that follows when `when` (a seat, or `always`) is changed; done once for the unit."""

    when: str
    operation: str
    said: str = ""


@dataclass(frozen=True, slots=True)
class KitLine:
    """One line of a kit."""

    kit: str
    part: str
    quantity: int
    one_time: bool = False
    said: str = ""


@dataclass(frozen=True, slots=True)
class Rate:
    """A labour rate per hour."""

    name: str
    per_hour: int
    currency: str
    said: str = ""


@dataclass(frozen=True, slots=True)
class Weakness:
    """What a unit or part usually dies of, seen so often of so many."""

    subject: str
    text: str
    seen: int | None = None
    of: int | None = None
    source: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Both clocks of an answer: the catalogue's id and the shelf's number."""

    catalogue: str
    shelf: int
