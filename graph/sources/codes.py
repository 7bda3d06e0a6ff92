"""Every kind of finding that reading can report: one table with its severity and its words.

A code never changes once published. `why` and `mend` are templates; `docs/findings.md` lists them all.
"""

from dataclasses import dataclass
from typing import Final

from graph.model.finding import Finding, Origin, Severity


@dataclass(frozen=True, slots=True)
class FaultKind:
    """One kind of fault, doubt or remark."""

    code: str
    severity: Severity
    why: str
    mend: str


def _e(code: str, why: str, mend: str) -> FaultKind:
    return FaultKind(code, "error", why, mend)


def _w(code: str, why: str, mend: str) -> FaultKind:
    return FaultKind(code, "warning", why, mend)


def _n(code: str, why: str, mend: str) -> FaultKind:
    return FaultKind(code, "notice", why, mend)


FILE_FAULTS: Final = (
    _e("file-unreadable", "The file cannot be opened as what it claims to be: {detail}.",
       "Save it again as .xlsx, as .csv, or as Turtle, N-Quads or JSON-LD."),
    _e("file-too-large", "The file is or unpacks to more than is read safely: {detail}.",
       "Split it, or remove empty formatted cells and pictures."),
    _e("parse-limit", "Reading the file took more {detail} than is allowed.",
       "Save the sheets as CSV, or split the workbook."),
    _e("unsafe-xml", "The file holds a document type or entities, which no spreadsheet program writes.",
       "Open it in a spreadsheet program and save it again."),
    _e("encoding", "The text is not {detail}.",
       "Save it as UTF-8, or name the encoding with --encoding (for instance cp1252)."),
    _e("csv-quote", "The quoting is broken here and the rest of the file cannot be read: {detail}.",
       "Close the quotation mark, and double it where it belongs to the text."),
    _e("cell-too-long", "The cell holds more than {most} characters.", "Shorten it."),
    _e("ragged-row", "The row has {cells} cells, the header {columns}.",
       "Give the row as many cells as the header, and put text with separators in quotation marks."),
    _e("sheet-too-large", "The sheet goes beyond {most}.", "Delete the cells far outside, or split the sheet."),
    _w("empty-sheet", "The sheet has no header.", "Delete it, or write the header in row 1."),
    _e("unknown-sheet", "No sheet of that name is known{hint}.", "Rename it, or keep it in another file."),
    _e("unknown-column", "No column or feature of that name is known{hint}.",
       "Rename the column, delete it, or add the feature to the sheet `features`."),
    _e("duplicate-header", "The column stands twice in the header.", "Keep one of them."),
    _e("missing-column", "The sheet needs this column.", "Add it."),
)  # fmt: skip

CELL_FAULTS: Final = (
    _e("missing-cell", "This cell must not be empty.", "Fill it in, or delete the row."),
    _e("formula-cell", "The cell holds a formula; what it would show is not known here.",
       "Paste the value instead of the formula."),
    _e("error-cell", "The cell holds a spreadsheet error.",
       "Mend the formula that it came from and paste the value."),
    _w("number-cell", "The cell is stored as a number, so leading zeros or an exponent may be lost.",
       "Format the column as text and type it again if it is not as on the part."),
    _e("number-cell-broken", "The cell is stored as a number that is no whole number of up to 15 digits.",
       "Format the column as text and type what stands on the part."),
    _e("date-cell", "The spreadsheet took this for a date; 1/16 is a usual cause.",
       "Format the column as text and type it again."),
    _e("look-alike-letter", "{detail}.", "Type it again with the letters A to Z and the digits 0 to 9."),
    _e("control-character", "The cell holds the control character {point}.", "Delete it, or type the cell again."),
    _e("hidden-character", "The cell holds {point}, which cannot be seen.", "Type the cell again."),
    _e("bad-number", "{detail}.", "{fix}."),
    _e("not-finite", "This is no finite number.", "Leave the cell empty, or measure."),
    _e("ambiguous-number", "{detail}.", "{fix}, or read the file with --decimal-comma."),
    _e("too-many-digits", "{detail}.", "{fix}."),
    _e("negative-size", "A {quantity} cannot be negative.", "Check the sign."),
    _e("unknown-unit", "{detail}.", "{fix}."),
    _e("wrong-unit", "{detail}.", "{fix}."),
    _e("missing-unit", "The number has no unit, nor has its column or its feature.",
       "Write the unit in the cell or in the column `unit`."),
    _e("unit-not-wanted", "The feature {feature} is a {type}, which has no unit.", "Leave the unit empty."),
    _e("size-unit-unclear", "The value has its own unit, {unit}, and this size has none.",
       "Write the unit here too, or move it to the column `unit`."),
    _e("code-says-nothing", "The word says only that nothing is known, and would agree with the same word elsewhere.",
       "Leave the cell empty; write none where it is known that there is none."),
    _e("several-codes", "The feature has one code, and | separates several.",
       "Write one code a row, each with its source, or make the feature a set."),
    _e("bad-date", "This is no date as 2031-04-30, 2031-04 or 2031.", "Write year, month, day."),
    _e("bad-yes-no", "Only yes or no can stand here.", "Write yes or no, or leave the cell empty."),
    _e("bad-choice", "Only one of these can stand here: {choices}.", "Use one of them."),
    _e("bad-count", "Only a whole number from 0 up can stand here.", "Write a whole number."),
    _e("bad-list", "The list has an empty or a repeated entry.", "Separate the entries by | and name each once."),
    _e("bad-money", "{detail}.", "{fix}."),
    _e("negative-price", "A sum of money cannot be negative here.", "Check the sign."),
    _e("unknown-currency", "This is no currency known here.", "Use its three ISO 4217 letters."),
    _e("missing-currency", "A sum of money without a currency.", "Fill in the column `currency`."),
)  # fmt: skip

ROW_FAULTS: Final = (
    _e("duplicate-key", "Row {row} of this sheet has the same key.", "Delete one of the two rows."),
    _w("duplicate-row", "Row {row} says the same, by the same source and date.", "Delete one of the two rows."),
    _e("tag-taken", "The core {other} has this tag but for case, spaces or dashes.",
       "Take another tag, or write {other} if it is that core."),
    _w("tag-misread", "The tag of core {other} differs only by O for 0, or I or L for 1.",
       "Take a tag that nobody misreads, or write {other} if it is that core."),
    _w("duplicate-spelling", "{other} is another number with the same letters and digits.",
       "If it is one thing, write its number in one way."),
    _e("unknown-source", "No such source is known{hint}.", "Add it to the sheet `sources`, or leave the cell empty."),
    _e("dangling-reference", "No such entry in {sheet}{hint}.", "Add it there, or mend the name here."),
    _e("ambiguous-reference", "Several entries in {sheet} are spelled like this: {others}.",
       "Write the number, and its maker, exactly as there."),
    _e("limit-below-size", "The limit {limit} is already passed by the size {size}.",
       "Check both; a size must lie between limit_min and limit_max."),
    _e("limits-crossed", "The lower limit {low} is above the upper one {high}.", "Swap or mend them."),
    _e("min-above-max", "The lower end {low} is above the upper end {high}.", "Swap or mend them."),
    _e("tolerance-negative", "A tolerance cannot be negative.", "Write the ± as a positive number."),
    _e("tolerance-too-large", "The tolerance is larger than the value {value} itself.", "Check unit and decimals."),
    _e("inch-disagrees", "{one} and {other} are not one size: they differ by more than their printed digits allow.",
       "Find out which is the misprint and empty that cell."),
    _w("same-source-disagrees", "Row {row} gives {other} by the same source and date, or neither names one.",
       "Name and date them, name the position, or delete the wrong one."),
    _w("size-of-zero", "A {quantity} of zero often stands where none was measured.",
       "Leave the cell empty if nothing is known."),
    _w("reading-out-of-place", "Rules and work speak of {feature} at {others}, and nothing on record does at {seat}.",
       "Name the seat whose part was measured."),
    _w("limit-of-a-unit", "{feature} is a size of the part at {seats}; plans hold each part against its own limits, "
       "so a limit of the whole unit keeps no worn part out of them.", "Write the limit for the part's number."),
    _n("claims-disagree", "Row {row} gives {other} by another source or reader, or by one not named; both are kept.",
       "Measure, or record which source is right."),
    _n("quoted-size", "Nobody has said which diameter this is, so no rule uses it.",
       "Measure, and enter it as the inducer or the exducer."),
    _w("identity-reliability", "It is no number above 0 and below 1, nor one of high, medium, low, so the feature "
       "is no evidence of which unit a core is.", "Write for instance 0.8, or empty the cell."),
    _e("unknown-name", "{name} is no {what} known here{hint}.", "Add it, or mend the name."),
    _e("deposit-currency", "The deposits of job {job} are in {other}, and they are added up.",
       "Write the sum in that currency, or the deposit under a job of its own."),
    _e("years-crossed", "The range ends before it begins.", "Swap or mend the two."),
    _e("seen-above-of", "It was seen more often than looked for.", "Swap or mend the two counts."),
)  # fmt: skip

GRAPH_FAULTS: Final = (
    _e("kind-cycle", "The parents go round in a circle: {circle}.", "Break the circle."),
    _e("supersession-self", "A number cannot supersede itself.", "Mend the old or the new number."),
    _e("supersession-cycle", "The numbers supersede each other in a circle: {circle}.",
       "Delete the wrong step; where both may stand in for each other, say two_way once."),
    _e("kit-cycle", "The kit contains itself: {circle}.", "Take it out of its own list."),
    _e("operation-needs-itself", "An operation cannot need itself.", "Delete it from `needs`."),
    _e("operation-needs-cycle", "The operations need each other in a circle: {circle}.", "Break the circle."),
    _e("operation-order-cycle", "Each of these must come before the next, in a circle: {circle}.",
       "Take one of them out of `needs` or `follows`."),
    _e("operation-excludes-needed", "{other} is excluded and needed, directly or by another operation.",
       "Delete it from `needs` or from `excludes`."),
    _e("operation-without-feature", "The effect {effect} changes a feature, and none is named.",
       "Fill in the column `feature`, or make it a service."),
    _e("operation-wrong-effect", "The effect {effect} cannot change {feature}, which is a {type}.",
       "Use widen_to_suit or reduce_to_suit for sizes, the other effects for codes."),
    _n("cut-without-limit", "No limit is named for this cut; each part must bring its own, else it is not known.",
       "Fill in `limit_feature`, or limits with the values."),
    _w("wall-without-core-shift", "A wall is named and no core shift, so how far this cut may go is not known.",
       "Fill in `core_shift`."),
    _e("code-without-value", "The effect {effect} needs the code that it leads to.", "Fill in `to_value`."),
    _n("rule-without-limit", "The rule has no limit, so its joint will be not known.",
       "Find the limit and its source."),
    _n("layout-without-engine", "No rule of the layout {layout} looks at the engine: no plan in it can be certain.",
       "Write the rules by which it goes on an engine, with `engine` on one side."),
    _n("seat-without-rule", "No rule of the layout {layout} looks at the seat {seat}: only a part of the number that "
       "the core has there is known to go in.", "Write the rule that decides it."),
    _n("joint-without-rule", "No rule decides the joint {joint}, so no plan in the layout {layout} can be certain.",
       "Write its rule, or take the joint out."),
    _e("rule-without-seat", "The rule looks at the engine alone, so that it decides nothing of a part.",
       "Name a seat on one side."),
    _e("rule-bad-operand", "An operand is written seat.feature.", "Write for instance turbine_housing.bore."),
    _e("rule-unknown-seat", "The layout {layout} has no seat {seat}{hint}.", "Name one of its seats, or engine."),
    _e("rule-unknown-feature", "{feature} is no feature known here{hint}.", "Add it to the sheet `features`."),
    _e("rule-mixes-quantities", "A rule of type {type} cannot compare {quantities}.",
       "Compare features of one quantity, and codes with codes."),
    _e("rule-without-right", "A rule of type {type} needs a right side.", "Fill in `right`."),
    _e("rule-passes-over", "A rule of type {type} does not read {passed}, so what stands there would decide nothing.",
       "Write a rule of its own that reads it, or empty the cell."),
    _e("rule-unknown-set", "No pairs are given for the set {set}.", "Add them to the sheet `accepted`."),
    _e("rule-unknown-joint", "The layout {layout} has no joint {joint}{hint}.", "Add it to the sheet `joints`."),
    _e("rule-uses-quoted-size", "A quoted size does not say which diameter it is.", "Use a measured feature."),
    _e("joint-unknown-seat", "The layout {layout} has no seat {seat}{hint}.", "Name its seats, or engine."),
    _e("seat-not-in-layout", "The layout {layout} has no seat of that name{hint}.", "Name one of its seats."),
    _e("unit-lacks-seat", "The seat {seat} of the layout {layout} must be filled, and this unit has nothing there.",
       "Add a row to `unit_seats`, or let the seat be empty in the layout."),
    _e("wrong-kind-in-seat", "The seat takes a {wanted}; {part} is a {kind}.",
       "Mend the seat, the part or its kind."),
    _e("quantity-not-of-the-seat", "The seat holds {takes} in the layout {layout}, by which plans count and price.",
       "Mend the quantity here or in the layout, or leave it empty here."),
    _e("demand-incomplete", "A demand of type {type} needs {needs}.", "Fill it in."),
    _e("figure-unfit", "A figure for {figure} {wrong}.", "Write {needs}; leave all three empty where it is not set."),
    _w("price-of-zero", "A sum of zero is no missing one: plans count it as a gift.",
       "Leave the row out if the sum is not known."),
    _w("customers-core-donates", "It belongs to a customer and may give its parts to other jobs.",
       "Mend own or may_donate."),
    _w("mixed-currency", "Other rows of this file are in {other}; nothing is converted.",
       "Use one currency, else no plan over both can be priced."),
    _w("unknown-rate", "No rate of that name is known; the work will have no price.", "Add it to the sheet `rates`."),
)  # fmt: skip

TABLE: Final = {kind.code: kind for kind in (*FILE_FAULTS, *CELL_FAULTS, *ROW_FAULTS, *GRAPH_FAULTS)}
"""All kinds by code."""


class Fault(Exception):
    """A fault in the cell being read; it becomes a finding when the row is known."""

    def __init__(self, code: str, **words: object) -> None:
        super().__init__(code)
        self.code = code
        self.words = words


def finding(code: str, origin: Origin, found: object, **words: object) -> Finding:
    """The finding of that code at that place, in the table's words."""
    kind = TABLE[code]
    why = kind.why.format(**words)
    mend = kind.mend.format(**words)
    return Finding(
        code, kind.severity, origin, _short(str(found)), why[:1].upper() + why[1:], mend[:1].upper() + mend[1:]
    )


def _short(text: str) -> str:
    return text if len(text) <= 120 else text[:117] + "…"
