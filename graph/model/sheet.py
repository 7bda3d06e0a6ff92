"""The sheets and columns a shop's workbook may have: one table that reading, checking, storing, RDF and
export all follow, so that a sheet is described once.

Names may be added here, never renamed. Every sheet may also carry the evidence columns `source`, `rank`,
`date` and `note`.
"""

from dataclasses import dataclass
from typing import Final, Literal

Type = Literal[
    "word",  # a name or key, kept as written, outer space stripped
    "number",  # a part number, kept as written, looked up by its one spelling
    "text",
    "yesno",
    "count",  # a whole number, 0 or more
    "date",  # ISO 8601, or a year alone
    "list",  # words separated by |
    "value",  # a value whose type and quantity the row's `feature` says
    "size",  # a number read like the row's value: unit in the cell, in the row's unit column, or the feature's
    "amount",  # a number with its unit; the quantity is in `of`, the usual unit after it
    "money",  # an amount in the row's `currency`
    "choice",  # one of the words in `of`
]
Clock = Literal["catalogue", "shelf"]
Settled = Literal["latest", "ranked"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its type, whether it is part of the key, whether it may be empty, what it points to.

    `points_to` names another sheet whose key the cell must hold; for a part number the row's maker column
    (`with_maker`) completes the key.
    """

    name: str
    type: Type = "word"
    key: bool = False
    needed: bool = False
    of: tuple[str, ...] = ()
    points_to: str = ""
    with_maker: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its columns in order, its clock, and how two rows of one key are settled.

    `latest`: the row asserted last governs. `ranked`: every row is a claim; DESIGN's ranking governs, none is
    thrown away.
    """

    name: str
    columns: tuple[Column, ...]
    about: str
    clock: Clock = "catalogue"
    settled: Settled = "latest"

    @property
    def key(self) -> tuple[str, ...]:
        """The names of the key columns, in order."""
        return tuple(c.name for c in self.columns if c.key)

    def column(self, name: str) -> Column | None:
        """The column of that name, or None."""
        return next((c for c in self.columns if c.name == name), None)


def _k(name: str, type_: Type = "word", **more: object) -> Column:
    return Column(name, type_, key=True, needed=True, **more)  # type: ignore[arg-type]


def _o(name: str, type_: Type = "word", **more: object) -> Column:
    return Column(name, type_, key=True, **more)  # type: ignore[arg-type]


def _n(name: str, type_: Type = "word", **more: object) -> Column:
    return Column(name, type_, needed=True, **more)  # type: ignore[arg-type]


def _c(name: str, type_: Type = "word", **more: object) -> Column:
    return Column(name, type_, **more)  # type: ignore[arg-type]


RANK_CHOICE: Final = ("measured", "drawing", "maker", "supplier", "shop", "heard")
RULE_TYPES: Final = (
    "same", "thread", "clearance", "interference", "at_most", "at_least", "accepted", "control", "stack",
)  # fmt: skip
FEATURE_TYPES: Final = (
    "length", "code", "count", "set", "mass", "angle", "speed", "pressure", "text",
    "area", "velocity", "temperature", "time", "torque", "power", "flow", "unbalance", "ratio", "volume",
)  # fmt: skip
EFFECTS: Final = (
    "widen_to_suit", "reduce_to_suit", "set_code", "add_feature", "remove_feature", "service",
)  # fmt: skip
STAGES: Final = ("received", "stripped", "measured", "cut", "balanced", "tested", "boxed", "collected")
DEPOSIT_WAYS: Final = ("taken", "returned", "kept")
FIGURES: Final = ("credit", "sublet", "tax", "validity", "warranty")
DEMAND_TYPES: Final = ("same", "at_least", "at_most", "between", "one_of", "keep")

EVIDENCE: Final = (
    _c("source", points_to="sources"),
    _c("rank", "choice", of=RANK_CHOICE),
    _c("date", "date"),
    _c("note", "text"),
)

SHEETS: Final = (
    Sheet(
        "sources",
        (
            _k("source"),
            _n("kind", "choice", of=RANK_CHOICE),
            _c("title", "text"),
            _c("who", "text"),
            _c("date", "date"),
        ),
        "who said it: a drawing, a maker's sheet, a person",
    ),
    Sheet(
        "kinds",
        (
            _k("kind"),
            _n("label", "text"),
            _c("parent", points_to="kinds"),
            _c("one_time", "yesno"),  # yes: never kept and never taken from a donor
            _c("rotating", "yesno"),  # yes: cracked means scrap, nobody may lift that
        ),
        "kinds of part",
    ),
    Sheet(
        "layouts",
        (
            _k("layout"),
            _k("seat"),
            _n("kind", points_to="kinds"),
            _c("quantity", "count"),  # empty: 1
            _c("may_be_empty", "yesno"),
            _c("side", "text"),  # compressor, centre, turbine; for reading a pick list
            _c("strip_minutes", "amount", of=("time", "min")),  # labour to take this part out of a donor
        ),
        "which seats a unit or a build has",
    ),
    Sheet(
        "joints",
        (_k("layout"), _k("joint"), _n("seats", "list"), _c("label", "text")),
        "seats that mate with each other or with the engine",
    ),
    Sheet(
        "rules",
        (
            _k("layout"),
            _k("joint"),
            _k("rule"),
            _n("type", "choice", of=RULE_TYPES),
            _n("left"),
            _c("right", "list"),
            _c("min", "size"),
            _c("max", "size"),
            _c("unit"),
            _c("set"),  # the `accepted` set; empty: the set named as the rule
            _c("safety", "yesno"),
            _c("measure", "text"),
        ),
        "what decides a joint",
    ),
    Sheet(
        "accepted",
        (_k("set"), _k("left_value", "text"), _k("right_value", "text")),
        "directed pairs that an accepted or control rule admits",
    ),
    Sheet(
        "features",
        (
            _k("feature"),
            _n("label", "text"),
            _n("type", "choice", of=FEATURE_TYPES),
            _c("unit"),
            _c("duty", "yesno"),
            _c("better", "choice", of=("larger", "smaller", "same")),  # for duty: which way is no worse
            _c("wears", "yesno"),  # yes: a used part's value is not known until it is read on that part
            _c("identity_reliability", "text"),
            _c("look", "choice", of=("outside", "stripped", "gauge")),
        ),
        "properties of parts and of engines' sides",
    ),
    Sheet(
        "parts",
        (_k("maker"), _k("number", "number"), _n("kind", points_to="kinds"), _c("label", "text")),
        "component parts; further columns `feature [unit]` become values",
    ),
    Sheet(
        "values",
        (
            _k("maker"),
            _k("number", "number", points_to="parts", with_maker="maker"),
            _k("feature", points_to="features"),
            _n("value", "value"),
            _c("unit"),
            _c("tolerance", "size"),
            _c("limit_min", "size"),
            _c("limit_max", "size"),
        ),
        "claims about a kind of part",
        settled="ranked",
    ),
    Sheet(
        "supersession",
        (
            _k("maker"),
            _k("old", "number", points_to="parts", with_maker="maker"),
            _k("new", "number", points_to="parts", with_maker="maker"),
            _c("two_way", "yesno"),
            _c("from_date", "date"),
            _c("from_serial", "text"),
            _c("condition", "text"),
        ),
        "a later number takes an earlier one's place",
    ),
    Sheet(
        "interchange",
        (
            _k("maker"),
            _k("number", "number", points_to="parts", with_maker="maker"),
            _k("other_maker"),
            _k("other_number", "number", points_to="parts", with_maker="other_maker"),
            _c("seat"),
            _c("condition", "text"),
        ),
        "an asserted, directed interchange: `other` may stand in for `number`",
    ),
    Sheet(
        "units",
        (_k("maker"), _k("unit", "number"), _n("layout", points_to="layouts"), _c("label", "text")),
        "complete turbochargers as supplied",
    ),
    Sheet(
        "unit_seats",
        (
            _k("maker"),
            _k("unit", "number", points_to="units", with_maker="maker"),
            _k("seat"),
            _n("part_maker"),
            _n("part_number", "number", points_to="parts", with_maker="part_maker"),
            _c("quantity", "count"),
        ),
        "which part sits in which seat of a unit",
    ),
    Sheet(
        "unit_values",
        (
            _k("maker"),
            _k("unit", "number", points_to="units", with_maker="maker"),
            _k("feature", points_to="features"),
            _n("value", "value"),
            _c("unit_of_value"),
            _c("tolerance", "size"),
        ),
        "claims about a unit as a whole",
        settled="ranked",
    ),
    Sheet(
        "engines",
        (
            _k("maker"),
            _k("engine", "number"),
            _c("label", "text"),
            _c("displacement", "amount", of=("volume", "L")),
            _c("cylinders", "count"),
            _c("rated_power", "amount", of=("power", "kW")),
            _c("rated_speed", "amount", of=("speed", "rpm")),
        ),
        "engine models",
    ),
    Sheet(
        "engine_values",
        (
            _k("maker"),
            _k("engine", "number", points_to="engines", with_maker="maker"),
            _k("feature", points_to="features"),
            _n("value", "value"),
            _c("unit"),
            _c("tolerance", "size"),
        ),
        "the engine's side of the outside joints",
        settled="ranked",
    ),
    Sheet(
        "fitments",
        (
            _k("machine_maker"),
            _k("machine"),
            _o("engine_maker"),
            _k("engine", "number", points_to="engines", with_maker="engine_maker"),
            _o("unit_maker"),
            _k("unit", "number", points_to="units", with_maker="unit_maker"),
            _c("year_from", "text"),  # 2009, or 2009.5 for a half-model year
            _c("year_to", "text"),
            _c("serial_from", "text"),
            _c("serial_to", "text"),
        ),
        "an engine in a machine and the units it left the factory with",
    ),
    Sheet(
        "operations",
        (
            _k("operation"),
            _n("label", "text"),
            _c("kind", points_to="kinds"),  # empty for a service on the whole unit
            _c("feature", points_to="features"),
            _n("effect", "choice", of=EFFECTS),
            _c("to_value", "value"),
            _c("tolerance", "size"),
            _c("limit_feature"),
            _c("wall_feature", points_to="features"),  # wall reading that a cut here eats into
            _c("wall_positions", "list"),  # positions that must all be read
            _c("wall_share", "choice", of=("half", "full")),  # a diameter takes half its change from one wall
            _c("core_shift", "size"),  # length: how far the cut may run off the casting's own centre
            _n("setup_minutes", "amount", of=("time", "min")),
            _n("minutes", "amount", of=("time", "min")),
            _c("minutes_per_mm", "amount", of=("time", "min")),
            _c("rate"),  # a name from `rates`; empty: the rate named shop
            _c("needs", "list"),
            _c("excludes", "list"),
            _c("follows", "list"),
            _c("reversible", "yesno"),
            _c("equipment", "text"),
            _c("caution", "text"),
            _c("reliability", "text"),  # how often it comes out right, 0 to 1
        ),
        "what the shop can do to a part",
    ),
    Sheet(
        "cores",
        (
            _k("tag"),
            _c("received", "date"),
            _c("customer", "text"),
            _c("as_built_maker"),
            _c("as_built_unit", "number", points_to="units", with_maker="as_built_maker"),
            _c("serial", "text"),
            _c("grade", "text"),
            _c("place", "text"),
            _c("book_value", "money"),
            _c("currency"),
            _c("own", "yesno"),
            _c("may_donate", "yesno"),
            _c("plate", "text"),  # what is written on it, as read
            _c("photos", "list"),  # file names
            _c("deposit", "money"),
        ),
        "individual used units on the shelf",
        clock="shelf",
    ),
    Sheet(
        "found_parts",
        (
            _k("tag", points_to="cores"),
            _k("seat"),
            _c("part_maker"),
            _c("part_number", "number", points_to="parts", with_maker="part_maker"),
            _n("state", "choice", of=("present", "missing", "scrap", "cracked")),
        ),
        "what was found in a seat of a core, where it differs from the plate or decides reuse",
        clock="shelf",
    ),
    Sheet(
        "readings",
        (
            _k("tag", points_to="cores"),
            _k("seat"),
            _k("feature", points_to="features"),
            _n("value", "value"),
            _c("unit"),
            _c("instrument", "text"),
            _c("uncertainty", "size"),
            _c("who", "text"),
            _o("position", "text"),
            _c("condition", "text"),  # cleaned, warm, free of oil …
        ),
        "measurements on the parts of one core",
        clock="shelf",
        settled="ranked",
    ),
    Sheet(
        "instruments",
        (
            _k("instrument", "text"),
            _k("feature", points_to="features"),
            _n("uncertainty", "size"),
            _c("unit"),
            _c("calibrated", "date"),
        ),
        "what an instrument can read, and how surely",
    ),
    Sheet(
        "finished_jobs",
        (
            _k("job"),
            _c("tag", points_to="cores"),
            _c("finished", "date"),
            _c("taken_maker"),
            _c("taken_for", "number", points_to="units", with_maker="taken_maker"),  # identified as, at intake
            _c("proved_maker"),
            _c("proved_to_be", "number", points_to="units", with_maker="proved_maker"),
        ),
        "finished jobs: what the core was taken for, and what it proved to be",
        clock="shelf",
    ),
    Sheet(
        "job_looks",
        (
            _k("job", points_to="finished_jobs"),
            _o("seat", "text"),
            _k("feature", points_to="features"),
            _n("told_right", "yesno"),
        ),
        "whether a look at intake told the unit rightly",
        clock="shelf",
    ),
    Sheet(
        "job_work",
        (
            _k("job", points_to="finished_jobs"),
            _k("operation", points_to="operations"),
            _o("seat", "text"),
            _n("succeeded", "yesno"),
            _c("minutes", "amount", of=("time", "min")),  # all that it took, setting up included
            _c("depth", "amount", of=("length", "mm")),  # how much was cut
        ),
        "what work really took, and whether it came out right",
        clock="shelf",
    ),
    Sheet(
        "reservations",
        (
            _k("job"),
            _o("tag", points_to="cores"),  # with a seat: the part there; without: the core to start from
            _o("seat", "text"),
            _o("maker"),
            _o("number", "number", points_to="parts", with_maker="maker"),  # without a tag: out of stock
            _c("quantity", "count"),  # empty: 1
            _c("released", "yesno"),  # yes: promised no longer
            _c("until", "date"),  # the last day on which the promise holds; empty: until it is released
            _c("who", "text"),
        ),
        "which core, donor's part or stock is promised to which job",
        clock="shelf",
    ),
    Sheet(
        "jobs",
        (
            _k("job"),
            _c("tag", points_to="cores"),
            _c("build", points_to="builds"),
            _c("engine_maker"),
            _c("engine", "number", points_to="engines", with_maker="engine_maker"),
            _c("customer", "text"),
            _c("due", "date"),
        ),
        "work taken on: which core becomes which build, for whom, by when",
        clock="shelf",
    ),
    Sheet(
        "job_stages",
        (
            _k("job", points_to="jobs"),
            _k("step", "count"),  # 1 for the first stage, one more for each that follows
            _n("stage", "choice", of=STAGES),
            _c("who", "text"),
        ),
        "how far a job is: each stage that it came to, in order",
        clock="shelf",
    ),
    Sheet(
        "job_deposits",
        (
            _k("job", points_to="jobs"),
            _k("step", "count"),
            _n("what", "choice", of=DEPOSIT_WAYS),
            _n("amount", "money"),
            _n("currency"),
            _c("who", "text"),
        ),
        "what a customer left against a core, and what became of it",
        clock="shelf",
    ),
    Sheet(
        "sign_offs",
        (
            _k("tag", points_to="cores"),
            _k("plan"),  # the plan's identity, as its route sheet has it
            _k("field"),  # of the route sheet's records
            _c("entry", "text"),  # empty: taken back
            _c("who", "text"),
        ),
        "what was written into a field of a core's route sheet, and by whom",
        clock="shelf",
    ),
    Sheet(
        "builds",
        (
            _k("build"),
            _n("layout", points_to="layouts"),
            _c("engine_maker"),
            _c("engine", "number", points_to="engines", with_maker="engine_maker"),
            _c("label", "text"),
        ),
        "what is wanted",
    ),
    Sheet(
        "demands",
        (
            _k("build", points_to="builds"),
            _k("seat"),
            _o("feature", "text"),  # empty with keep
            _k("type", "choice", of=DEMAND_TYPES),
            _c("value", "value"),
            _c("value_to", "size"),
            _c("unit"),
        ),
        "what a build asks of seats and features",
    ),
    Sheet(
        "kits",
        (
            _o("kit_maker"),
            _k("kit", "number", points_to="parts", with_maker="kit_maker"),
            _k("maker"),
            _k("number", "number", points_to="parts", with_maker="maker"),
            _n("quantity", "count"),
            _c("one_time", "yesno"),
        ),
        "what is in a kit",
    ),
    Sheet(
        "consumes",
        (
            _k("when"),  # an operation, a seat that is opened or replaced, or `always`
            _k("maker"),
            _k("number", "number", points_to="parts", with_maker="maker"),
            _o("layout", "text"),  # empty: every layout
            _n("quantity", "count"),
            _c("per", "choice", of=("seat", "unit")),  # unit: once however many rows of it apply
        ),
        "one-time-use parts that an operation or a replacement uses up",
    ),
    Sheet(
        "services",
        (
            _k("when"),  # a seat that is replaced or machined, or `always`
            _k("operation", points_to="operations"),
            _o("layout", "text"),
        ),
        "services that follow when a seat's part is changed, done once for the unit",
    ),
    Sheet(
        "stock",
        (
            _k("maker"),
            _k("number", "number", points_to="parts", with_maker="maker"),
            _o("place", "text"),
            _n("quantity", "count"),
        ),
        "what is on hand",
        clock="shelf",
    ),
    Sheet(
        "prices",
        (
            _k("maker"),
            _k("number", "number", points_to="parts", with_maker="maker"),
            _o("condition", "choice", of=("new", "used")),  # empty: new; used: the transfer price of a donor's part
            _n("price", "money"),
            _n("currency"),
            _n("as_of", "date"),
            _c("deposit", "money"),
            _c("lead_days", "count"),
        ),
        "what a part costs",
        clock="shelf",
    ),
    Sheet(
        "rates",
        (_k("name"), _n("per_hour", "money"), _n("currency")),
        "labour rates",
        clock="shelf",
    ),
    Sheet(
        "figures",
        (
            _k("figure", "choice", of=FIGURES),
            _o("of", "text"),  # credit: the grade; sublet: the operation; else empty
            _c("percent", "amount", of=("ratio", "%")),  # credit: of the deposit; tax: of the sum
            _c("price", "money"),  # sublet
            _c("currency"),
            _c("days", "count"),  # validity of a quote; warranty from the hand-over
            _n("as_of", "date"),
            _c("who", "text"),
        ),
        "what the shop's papers take: shares by grade, work sent out, tax, validity, warranty; no value: not set",
        clock="shelf",
    ),
    Sheet(
        "limits",
        (
            _o("maker"),
            _k("unit_or_part", "number"),
            _k("feature", points_to="features"),
            _o("condition", "choice", of=("new", "used")),  # empty: both
            _c("min", "size"),
            _c("max", "size"),
            _c("unit"),
        ),
        "what a feature of a part may measure, new or used; the least wall that must be left",
        settled="ranked",
    ),
    Sheet(
        "weaknesses",
        (_o("maker"), _k("unit_or_part", "number"), _k("text", "text"), _c("seen", "count"), _c("of", "count")),
        "what a unit usually dies of",
        settled="ranked",
    ),
)  # fmt: skip

BY_NAME: Final = {sheet.name: sheet for sheet in SHEETS}
"""The sheets by name; a name that is not here is an unknown sheet."""
