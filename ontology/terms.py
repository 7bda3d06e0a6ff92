"""The namespaces, and which property every column of every sheet has: plain data, no library.

`SHEETS` repeats the names of `graph.model.sheet` because this floor lies below it; a test compares the two.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

NS: Final = "https://spoolwright.example/ns#"
"""Terms: classes, properties, concepts."""

ID: Final = "https://spoolwright.example/id/"
"""Things; what follows is a key of `graph.model.statement.subject`."""

STATEMENT: Final = ID + "statement/"
VALUE: Final = ID + "value/"
SHAPES: Final = "https://spoolwright.example/shapes#"
CONTEXT: Final = "https://spoolwright.example/ns/context.jsonld"
"""The name of `context.jsonld`; it is resolved here and never fetched."""

RDF: Final = "http://www.w3.org/1999/02/22-rdf-syntax-ns#"
RDFS: Final = "http://www.w3.org/2000/01/rdf-schema#"
XSD: Final = "http://www.w3.org/2001/XMLSchema#"
SKOS: Final = "http://www.w3.org/2004/02/skos/core#"
PROV: Final = "http://www.w3.org/ns/prov#"
DCTERMS: Final = "http://purl.org/dc/terms/"
SCHEMA: Final = "https://schema.org/"
SH: Final = "http://www.w3.org/ns/shacl#"
QUDT: Final = "http://qudt.org/schema/qudt/"
UNIT: Final = "http://qudt.org/vocab/unit/"
QUANTITYKIND: Final = "http://qudt.org/vocab/quantitykind/"

PREFIXES: Final[Mapping[str, str]] = {
    "sw": NS,
    "id": ID,
    "st": STATEMENT,
    "val": VALUE,
    "rdf": RDF,
    "rdfs": RDFS,
    "xsd": XSD,
    "skos": SKOS,
    "prov": PROV,
    "dcterms": DCTERMS,
    "schema": SCHEMA,
    "qudt": QUDT,
    "unit": UNIT,
    "quantitykind": QUANTITYKIND,
}


@dataclass(frozen=True, slots=True)
class SheetTerms:
    """One sheet in RDF: its class, the thing a row speaks of (a key's first word and its columns), its columns."""

    statement: str
    thing: str
    thing_columns: tuple[str, ...]
    columns: Mapping[str, str]

    @property
    def iri(self) -> str:
        """The class of its statements."""
        return NS + self.statement


SHEETS: Final[Mapping[str, SheetTerms]] = {
    "sources": SheetTerms(
        "SourceStatement",
        "source",
        ("source",),
        {"source": "sourceName", "kind": "sourceRank", "title": "title", "who": "who", "date": "madeOn"},
    ),
    "kinds": SheetTerms(
        "KindStatement",
        "kind",
        ("kind",),
        {"kind": "kind", "label": "label", "parent": "parentKind", "one_time": "oneTime", "rotating": "rotating"},
    ),
    "layouts": SheetTerms(
        "SeatStatement",
        "seat",
        ("layout", "seat"),
        {
            "layout": "layout",
            "seat": "seat",
            "kind": "kind",
            "quantity": "quantity",
            "may_be_empty": "mayBeEmpty",
            "side": "side",
            "strip_minutes": "stripTime",
        },
    ),
    "joints": SheetTerms(
        "JointStatement",
        "joint",
        ("layout", "joint"),
        {"layout": "layout", "joint": "joint", "seats": "seats", "label": "label"},
    ),
    "rules": SheetTerms(
        "RuleStatement",
        "rule",
        ("layout", "joint", "rule"),
        {
            "layout": "layout",
            "joint": "joint",
            "rule": "rule",
            "type": "ruleType",
            "left": "left",
            "right": "right",
            "min": "min",
            "max": "max",
            "unit": "unitOfMeasure",
            "set": "acceptedSet",
            "safety": "safety",
            "measure": "measure",
        },
    ),
    "accepted": SheetTerms(
        "AcceptedStatement",
        "set",
        ("set",),
        {"set": "acceptedSet", "left_value": "leftValue", "right_value": "rightValue"},
    ),
    "features": SheetTerms(
        "FeatureStatement",
        "feature",
        ("feature",),
        {
            "feature": "feature",
            "label": "label",
            "type": "featureType",
            "unit": "unitOfMeasure",
            "duty": "duty",
            "better": "better",
            "wears": "wears",
            "identity_reliability": "identityReliability",
            "look": "look",
        },
    ),
    "parts": SheetTerms(
        "PartStatement",
        "part",
        ("maker", "number"),
        {"maker": "maker", "number": "number", "kind": "kind", "label": "label"},
    ),
    "values": SheetTerms(
        "ValueStatement",
        "part",
        ("maker", "number"),
        {
            "maker": "maker",
            "number": "number",
            "feature": "feature",
            "value": "value",
            "unit": "unitOfMeasure",
            "tolerance": "tolerance",
            "limit_min": "limitMin",
            "limit_max": "limitMax",
        },
    ),
    "supersession": SheetTerms(
        "SupersessionStatement",
        "part",
        ("maker", "old"),
        {
            "maker": "maker",
            "old": "oldNumber",
            "new": "newNumber",
            "two_way": "twoWay",
            "from_date": "fromDate",
            "from_serial": "fromSerial",
            "condition": "condition",
        },
    ),
    "interchange": SheetTerms(
        "InterchangeStatement",
        "part",
        ("maker", "number"),
        {
            "maker": "maker",
            "number": "number",
            "other_maker": "otherMaker",
            "other_number": "otherNumber",
            "seat": "seat",
            "condition": "condition",
        },
    ),
    "units": SheetTerms(
        "UnitStatement",
        "unit",
        ("maker", "unit"),
        {"maker": "maker", "unit": "unitNumber", "layout": "layout", "label": "label"},
    ),
    "unit_seats": SheetTerms(
        "UnitSeatStatement",
        "unit",
        ("maker", "unit"),
        {
            "maker": "maker",
            "unit": "unitNumber",
            "seat": "seat",
            "part_maker": "partMaker",
            "part_number": "partNumber",
            "quantity": "quantity",
        },
    ),
    "unit_values": SheetTerms(
        "UnitValueStatement",
        "unit",
        ("maker", "unit"),
        {
            "maker": "maker",
            "unit": "unitNumber",
            "feature": "feature",
            "value": "value",
            "unit_of_value": "unitOfMeasure",
            "tolerance": "tolerance",
        },
    ),
    "engines": SheetTerms(
        "EngineStatement",
        "engine",
        ("maker", "engine"),
        {
            "maker": "maker",
            "engine": "engineName",
            "label": "label",
            "displacement": "displacement",
            "cylinders": "cylinders",
            "rated_power": "ratedPower",
            "rated_speed": "ratedSpeed",
        },
    ),
    "engine_values": SheetTerms(
        "EngineValueStatement",
        "engine",
        ("maker", "engine"),
        {
            "maker": "maker",
            "engine": "engineName",
            "feature": "feature",
            "value": "value",
            "unit": "unitOfMeasure",
            "tolerance": "tolerance",
        },
    ),
    "fitments": SheetTerms(
        "FitmentStatement",
        "machine",
        ("machine_maker", "machine"),
        {
            "machine_maker": "machineMaker",
            "machine": "machineName",
            "engine_maker": "engineMaker",
            "engine": "engineName",
            "unit_maker": "unitMaker",
            "unit": "unitNumber",
            "year_from": "yearFrom",
            "year_to": "yearTo",
            "serial_from": "serialFrom",
            "serial_to": "serialTo",
        },
    ),
    "operations": SheetTerms(
        "OperationStatement",
        "operation",
        ("operation",),
        {
            "operation": "operation",
            "label": "label",
            "kind": "kind",
            "feature": "feature",
            "effect": "effect",
            "to_value": "toValue",
            "tolerance": "tolerance",
            "limit_feature": "limitFeature",
            "wall_feature": "wallFeature",
            "wall_positions": "wallPositions",
            "wall_share": "wallShare",
            "core_shift": "coreShift",
            "setup_minutes": "setupTime",
            "minutes": "workTime",
            "minutes_per_mm": "workTimePerMillimetre",
            "rate": "rateName",
            "needs": "needs",
            "excludes": "excludes",
            "follows": "follows",
            "reversible": "reversible",
            "equipment": "equipment",
            "caution": "caution",
            "reliability": "reliability",
        },
    ),
    "cores": SheetTerms(
        "CoreStatement",
        "core",
        ("tag",),
        {
            "tag": "tag",
            "received": "received",
            "customer": "customer",
            "as_built_maker": "asBuiltMaker",
            "as_built_unit": "asBuiltUnit",
            "serial": "serial",
            "grade": "grade",
            "place": "place",
            "book_value": "bookValue",
            "currency": "currency",
            "own": "ownedByCustomer",
            "may_donate": "mayDonate",
            "plate": "plate",
            "photos": "photos",
            "deposit": "deposit",
        },
    ),
    "found_parts": SheetTerms(
        "FoundPartStatement",
        "core",
        ("tag",),
        {"tag": "tag", "seat": "seat", "part_maker": "partMaker", "part_number": "partNumber", "state": "state"},
    ),
    "readings": SheetTerms(
        "ReadingStatement",
        "core",
        ("tag",),
        {
            "tag": "tag",
            "seat": "seat",
            "feature": "feature",
            "value": "value",
            "unit": "unitOfMeasure",
            "instrument": "instrument",
            "uncertainty": "uncertainty",
            "who": "who",
            "position": "position",
            "condition": "condition",
        },
    ),
    "instruments": SheetTerms(
        "InstrumentStatement",
        "instrument",
        ("instrument",),
        {
            "instrument": "instrument",
            "feature": "feature",
            "uncertainty": "uncertainty",
            "unit": "unitOfMeasure",
            "calibrated": "calibrated",
        },
    ),
    "finished_jobs": SheetTerms(
        "JobStatement",
        "job",
        ("job",),
        {
            "job": "job",
            "tag": "tag",
            "finished": "finished",
            "taken_maker": "takenMaker",
            "taken_for": "takenFor",
            "proved_maker": "provedMaker",
            "proved_to_be": "provedToBe",
        },
    ),
    "job_looks": SheetTerms(
        "JobLookStatement",
        "job",
        ("job",),
        {"job": "job", "seat": "seat", "feature": "feature", "told_right": "toldRight"},
    ),
    "job_work": SheetTerms(
        "JobWorkStatement",
        "job",
        ("job",),
        {
            "job": "job",
            "operation": "operation",
            "seat": "seat",
            "succeeded": "succeeded",
            "minutes": "timeTaken",
            "depth": "depth",
        },
    ),
    "reservations": SheetTerms(
        "ReservationStatement",
        "job",
        ("job",),
        {
            "job": "job",
            "tag": "tag",
            "seat": "seat",
            "maker": "maker",
            "number": "number",
            "quantity": "quantity",
            "released": "released",
            "until": "until",
            "who": "who",
        },
    ),
    "jobs": SheetTerms(
        "WorkStatement",
        "job",
        ("job",),
        {
            "job": "job",
            "tag": "tag",
            "build": "buildName",
            "engine_maker": "engineMaker",
            "engine": "engineName",
            "customer": "customer",
            "due": "due",
        },
    ),
    "job_stages": SheetTerms(
        "JobStageStatement",
        "job",
        ("job",),
        {"job": "job", "step": "step", "stage": "stage", "who": "who"},
    ),
    "job_deposits": SheetTerms(
        "JobDepositStatement",
        "job",
        ("job",),
        {
            "job": "job",
            "step": "step",
            "what": "depositWay",
            "amount": "sum",
            "currency": "currency",
            "who": "who",
        },
    ),
    "sign_offs": SheetTerms(
        "SignOffStatement",
        "core",
        ("tag",),
        {"tag": "tag", "plan": "planIdentity", "field": "sheetField", "entry": "entry", "who": "who"},
    ),
    "builds": SheetTerms(
        "BuildStatement",
        "build",
        ("build",),
        {
            "build": "buildName",
            "layout": "layout",
            "engine_maker": "engineMaker",
            "engine": "engineName",
            "label": "label",
        },
    ),
    "demands": SheetTerms(
        "DemandStatement",
        "build",
        ("build",),
        {
            "build": "buildName",
            "seat": "seat",
            "feature": "feature",
            "type": "demandType",
            "value": "value",
            "value_to": "valueTo",
            "unit": "unitOfMeasure",
        },
    ),
    "kits": SheetTerms(
        "KitStatement",
        "part",
        ("kit_maker", "kit"),
        {
            "kit_maker": "kitMaker",
            "kit": "kitNumber",
            "maker": "maker",
            "number": "number",
            "quantity": "quantity",
            "one_time": "oneTime",
        },
    ),
    "consumes": SheetTerms(
        "ConsumptionStatement",
        "part",
        ("maker", "number"),
        {
            "when": "when",
            "maker": "maker",
            "number": "number",
            "layout": "layout",
            "quantity": "quantity",
            "per": "per",
        },
    ),
    "services": SheetTerms(
        "ServiceStatement",
        "operation",
        ("operation",),
        {"when": "when", "operation": "operation", "layout": "layout"},
    ),
    "stock": SheetTerms(
        "StockStatement",
        "part",
        ("maker", "number"),
        {"maker": "maker", "number": "number", "place": "place", "quantity": "quantity"},
    ),
    "prices": SheetTerms(
        "PriceStatement",
        "part",
        ("maker", "number"),
        {
            "maker": "maker",
            "number": "number",
            "condition": "newOrUsed",
            "price": "price",
            "currency": "currency",
            "as_of": "asOf",
            "deposit": "deposit",
            "lead_days": "leadDays",
        },
    ),
    "rates": SheetTerms(
        "RateStatement", "rate", ("name",), {"name": "rateName", "per_hour": "perHour", "currency": "currency"}
    ),
    "figures": SheetTerms(
        "FigureStatement",
        "figure",
        ("figure", "of"),
        {
            "figure": "shopFigure",
            "of": "figureOf",
            "percent": "percentage",
            "price": "price",
            "currency": "currency",
            "days": "daysCounted",
            "as_of": "asOf",
            "who": "who",
        },
    ),
    "limits": SheetTerms(
        "LimitStatement",
        "item",
        ("maker", "unit_or_part"),
        {
            "maker": "maker",
            "unit_or_part": "unitOrPart",
            "feature": "feature",
            "condition": "newOrUsed",
            "min": "min",
            "max": "max",
            "unit": "unitOfMeasure",
        },
    ),
    "weaknesses": SheetTerms(
        "WeaknessStatement",
        "item",
        ("maker", "unit_or_part"),
        {"maker": "maker", "unit_or_part": "unitOrPart", "text": "weakness", "seen": "seen", "of": "ofHowMany"},
    ),
}
"""Which class, thing and properties a sheet's rows have; local names in `NS`."""

EVIDENCE: Final[Mapping[str, str]] = {"source": "saidBy", "rank": "rank", "date": "saidOn", "note": "note"}
"""The properties of the evidence columns, which every sheet may have."""

RULE_CLASSES: Final[Mapping[str, str]] = {
    "same": "SameRule",
    "thread": "ThreadRule",
    "clearance": "ClearanceRule",
    "interference": "InterferenceRule",
    "at_most": "AtMostRule",
    "at_least": "AtLeastRule",
    "accepted": "AcceptedRule",
    "control": "ControlRule",
    "stack": "StackRule",
}
"""The class of each type of fit rule."""


@dataclass(frozen=True, slots=True)
class QuantityTerms:
    """One quantity in QUDT: its kind, the unit its quanta are decimal fractions of, and 1 quantum = 10**-decimals."""

    kind: str
    unit: str
    decimals: int


QUANTITIES: Final[Mapping[str, QuantityTerms]] = {
    "length": QuantityTerms("Length", "MilliM", 7),
    "area": QuantityTerms("Area", "MilliM2", 6),
    "angle": QuantityTerms("Angle", "ARCSEC", 6),
    "mass": QuantityTerms("Mass", "GM", 9),
    "speed": QuantityTerms("RotationalVelocity", "REV-PER-MIN", 3),
    "velocity": QuantityTerms("Velocity", "M-PER-SEC", 6),
    "pressure": QuantityTerms("Pressure", "PA", 3),
    "temperature": QuantityTerms("ThermodynamicTemperature", "K", 3),
    "time": QuantityTerms("Time", "SEC", 3),
    "torque": QuantityTerms("Torque", "N-M", 6),
    "power": QuantityTerms("Power", "W", 3),
    "flow": QuantityTerms("MassFlowRate", "KiloGM-PER-SEC", 6),
    "unbalance": QuantityTerms("LengthMass", "GM-MilliM", 6),
    "count": QuantityTerms("Count", "NUM", 0),
    "ratio": QuantityTerms("DimensionlessRatio", "UNITLESS", 6),
    "volume": QuantityTerms("Volume", "MilliM3", 0),
}
"""The quantities of `graph.model.value`, as QUDT names them."""
