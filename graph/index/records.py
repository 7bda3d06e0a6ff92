"""Statements turned into the records of `graph.model.record`."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, cast

from graph.index.resolution import resolution
from graph.model.claim import RANK_WORDS, Claim, Rank
from graph.model.record import (
    Build,
    Consume,
    Demand,
    Engine,
    Feature,
    Fitment,
    Interchange,
    Joint,
    Kind,
    KitLine,
    Layout,
    Limit,
    Operation,
    Price,
    Rate,
    Rule,
    Seat,
    ServiceDue,
    Source,
    Stock,
    Supersession,
    Weakness,
)
from graph.model.statement import subject, value_of
from graph.model.value import Amount, Value

Content = Mapping[str, Any]
Ranks = Mapping[str, str]  # source name -> the word of its kind


@dataclass(frozen=True, slots=True)
class Row:
    """A statement as the index or the ledger gives it, ready to be read by column."""

    sheet: str
    id: str
    fields: Content
    evidence: Content

    def text(self, name: str) -> str:
        """A word, number, text or date; '' when empty."""
        return str(self.fields.get(name, ""))

    def number(self, name: str) -> int | None:
        """A count, or the quanta, ms or minor units of a size, time or price."""
        value = self.fields.get(name)
        if isinstance(value, dict):
            value = value["amount"] if "amount" in value else value["minor"]
        return None if value is None else int(value)

    def yes(self, name: str) -> bool:
        """A yes or no; empty is no."""
        return bool(self.fields.get(name, False))

    def words(self, name: str) -> tuple[str, ...]:
        """A list."""
        return tuple(self.fields.get(name, ()))

    def value(self, name: str) -> Value | None:
        """A feature's value."""
        value = self.fields.get(name)
        return value_of(value) if value is not None else None

    def key(self, kind: str, *names: str) -> str:
        """The key of the thing that these columns name; '' when the last one is empty."""
        return subject(kind, *(self.text(n) for n in names)) if self.fields.get(names[-1]) else ""

    def rank(self, ranks: Ranks, otherwise: Rank = Rank.SHOP) -> Rank:
        """The row's own rank, else its source's, else `otherwise`."""
        word = self.evidence.get("rank") or ranks.get(self.evidence.get("source", ""), "")
        return RANK_WORDS.get(word, otherwise)


def source_of(row: Row) -> Source:
    """A row of `sources`."""
    return Source(row.text("source"), row.text("kind"), row.text("title"), row.text("who"), row.text("date"), row.id)


def kind_of(row: Row) -> Kind:
    """A row of `kinds`."""
    return Kind(
        row.text("kind"), row.text("label"), row.text("parent"), row.yes("one_time"), row.yes("rotating"), row.id
    )


def feature_of(row: Row) -> Feature:
    """A row of `features`."""
    return Feature(
        name=row.text("feature"),
        label=row.text("label"),
        type=row.text("type"),
        unit=row.text("unit"),
        duty=row.yes("duty"),
        better=row.text("better") or "same",
        wears=row.yes("wears"),
        identity_reliability=row.text("identity_reliability"),
        look=row.text("look"),
        said=row.id,
    )


def _seat_of(row: Row) -> Seat:
    quantity = row.number("quantity")
    return Seat(
        name=row.text("seat"),
        kind=row.text("kind"),
        quantity=1 if quantity is None else quantity,
        may_be_empty=row.yes("may_be_empty"),
        side=row.text("side"),
        strip_time=row.number("strip_minutes"),
        said=row.id,
    )


def _operand(text: str) -> tuple[str, str]:
    seat, _, feature = text.partition(".")
    return seat.strip(), feature.strip()


def _rule_of(row: Row) -> Rule:
    type_ = row.text("type")
    return Rule(
        joint=row.text("joint"),
        name=row.text("rule"),
        type=type_,
        left=_operand(row.text("left")),
        right=tuple(_operand(one) for one in row.words("right")),
        min=row.number("min"),
        max=row.number("max"),
        unit=row.text("unit"),
        set=row.text("set") or (row.text("rule") if type_ in ("accepted", "control") else ""),
        safety=row.yes("safety"),
        measure=row.text("measure"),
        said=row.id,
    )


def layouts_of(seats: Iterable[Row], joints: Iterable[Row], rules: Iterable[Row]) -> dict[str, Layout]:
    """The layouts by name; seats and joints by name, rules by joint and name."""
    made: dict[str, tuple[list[Seat], list[Joint], list[Rule]]] = {}

    def of(row: Row) -> tuple[list[Seat], list[Joint], list[Rule]]:
        return made.setdefault(row.text("layout"), ([], [], []))

    for row in seats:
        of(row)[0].append(_seat_of(row))
    for row in joints:
        of(row)[1].append(Joint(row.text("joint"), row.text("label"), row.words("seats"), row.id))
    for row in rules:
        of(row)[2].append(_rule_of(row))
    return {
        name: Layout(
            name,
            tuple(sorted(s, key=lambda seat: seat.name)),
            tuple(sorted(j, key=lambda joint: joint.name)),
            tuple(sorted(r, key=lambda rule: (rule.joint, rule.name))),
        )
        for name, (s, j, r) in sorted(made.items())
    }


def operation_of(row: Row) -> Operation:
    """A row of `operations`."""
    return Operation(
        name=row.text("operation"),
        label=row.text("label"),
        kind=row.text("kind"),
        feature=row.text("feature"),
        effect=row.text("effect"),
        setup=row.number("setup_minutes") or 0,
        time=row.number("minutes") or 0,
        time_per_mm=row.number("minutes_per_mm") or 0,
        to_value=row.value("to_value"),
        tolerance=row.number("tolerance"),
        limit_feature=row.text("limit_feature"),
        wall_feature=row.text("wall_feature"),
        wall_positions=row.words("wall_positions"),
        wall_share=row.text("wall_share") or "full",
        core_shift=row.number("core_shift"),
        rate=row.text("rate") or "shop",
        needs=row.words("needs"),
        excludes=row.words("excludes"),
        follows=row.words("follows"),
        reversible=row.yes("reversible"),
        equipment=row.text("equipment"),
        caution=row.text("caution"),
        said=row.id,
    )


def claim_of(row: Row, subject_key: str, ranks: Ranks, otherwise: Rank = Rank.SHOP) -> Claim:
    """A claim from `values`, `unit_values`, `engine_values` or `readings`."""
    read = row.sheet == "readings"
    value, tolerance = cast(Value, row.value("value")), row.number("uncertainty" if read else "tolerance")
    unstated = read and tolerance is None and isinstance(value, Amount)
    return Claim(
        id=row.id,
        subject=subject_key,
        feature=row.text("feature"),
        value=value,
        source=row.evidence.get("source", ""),
        rank=row.rank(ranks, otherwise),
        date=row.evidence.get("date", ""),
        tolerance=tolerance,
        limit_min=row.number("limit_min"),
        limit_max=row.number("limit_max"),
        position=row.text("position"),
        note=row.evidence.get("note", ""),
        who=row.text("who"),
        instrument=row.text("instrument"),
        resolution=resolution(cast(Amount, value)) if unstated else 0,
    )


def limit_of(row: Row, ranks: Ranks) -> Limit:
    """A row of `limits`."""
    return Limit(
        row.text("feature"),
        row.text("condition"),
        row.number("min"),
        row.number("max"),
        int(row.rank(ranks)),
        row.evidence.get("source", ""),
        row.id,
    )


def weakness_of(row: Row, subject_key: str) -> Weakness:
    """A row of `weaknesses`."""
    source = row.evidence.get("source", "")
    return Weakness(subject_key, row.text("text"), row.number("seen"), row.number("of"), source, row.id)


def supersession_of(row: Row) -> Supersession:
    """A row of `supersession`."""
    return Supersession(
        row.key("part", "maker", "old"),
        row.key("part", "maker", "new"),
        row.yes("two_way"),
        row.text("from_date"),
        row.text("from_serial"),
        row.text("condition"),
        row.id,
    )


def interchange_of(row: Row) -> Interchange:
    """A row of `interchange`."""
    return Interchange(
        row.key("part", "maker", "number"),
        row.key("part", "other_maker", "other_number"),
        row.text("seat"),
        row.text("condition"),
        row.evidence.get("source", ""),
        row.id,
    )


def engine_of(row: Row, key: str, claims: tuple[Claim, ...]) -> Engine:
    """A row of `engines` with the engine's claims."""
    return Engine(
        key=key,
        maker=row.text("maker"),
        name=row.text("engine"),
        label=row.text("label"),
        claims=claims,
        displacement=row.number("displacement"),
        cylinders=row.number("cylinders"),
        rated_power=row.number("rated_power"),
        rated_speed=row.number("rated_speed"),
        said=row.id,
    )


def fitment_of(row: Row) -> Fitment:
    """A row of `fitments`."""
    return Fitment(
        row.text("machine_maker"),
        row.text("machine"),
        row.key("engine", "engine_maker", "engine"),
        row.key("unit", "unit_maker", "unit"),
        row.text("year_from"),
        row.text("year_to"),
        row.text("serial_from"),
        row.text("serial_to"),
        row.id,
    )


def build_of(row: Row, demands: Iterable[Row]) -> Build:
    """A row of `builds` with the demands of that build."""
    made = [
        Demand(
            d.text("build"), d.text("seat"), d.text("feature"), d.text("type"), d.value("value"),
            d.number("value_to"), d.id,
        )
        for d in demands
    ]  # fmt: skip
    return Build(
        key=row.key("build", "build"),
        name=row.text("build"),
        layout=row.text("layout"),
        engine=row.key("engine", "engine_maker", "engine"),
        label=row.text("label"),
        demands=tuple(sorted(made, key=lambda d: (d.seat, d.feature, d.type, d.said))),
        said=row.id,
    )


def consume_of(row: Row) -> Consume:
    """A row of `consumes`."""
    part = row.key("part", "maker", "number")
    return Consume(row.text("when"), part, row.number("quantity") or 0, row.text("per") or "seat", row.id)


def service_of(row: Row) -> ServiceDue:
    """A row of `services`."""
    return ServiceDue(row.text("when"), row.text("operation"), row.id)


def kit_line_of(row: Row) -> KitLine:
    """A row of `kits`."""
    kit, part = row.key("part", "kit_maker", "kit"), row.key("part", "maker", "number")
    return KitLine(kit, part, row.number("quantity") or 0, row.yes("one_time"), row.id)


def price_of(row: Row) -> Price:
    """A row of `prices`."""
    return Price(
        row.number("price") or 0,
        row.text("currency"),
        row.text("as_of"),
        row.number("deposit"),
        row.number("lead_days"),
        row.id,
    )


def stock_of(row: Row) -> Stock:
    """A row of `stock`."""
    return Stock(row.text("place"), row.number("quantity") or 0, row.id)


def rate_of(row: Row) -> Rate:
    """A row of `rates`."""
    return Rate(row.text("name"), row.number("per_hour") or 0, row.text("currency"), row.id)
