"""RDF as statements: what `graph.triples.write` wrote, or what somebody else wrote in our vocabulary.

A subject whose type is the class of a sheet is a row. Its cells are the sheet's properties, checked against the
column's type; links between things are passed over, since they are derived; anything else is a finding, so that
nothing is lost unseen. A row under an IRI of ours must be what that IRI says: the digest in it is compared.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any, Final

from pyoxigraph import BlankNode, Literal, NamedNode, Quad

from graph.model.finding import Finding, Origin, Severity
from graph.model.sheet import BY_NAME, Column
from graph.model.statement import Evidence, Statement
from graph.model.value import spelled_code
from graph.triples.guard import MAX_BODY, MAX_LITERAL, Refused, fault, quads
from graph.triples.links import LINKS, ON_STATEMENTS
from graph.triples.node import BOOLEAN, FIRST, INTEGER, NIL, REST, STRING, TYPE, term
from graph.triples.write import decimal
from ontology.quantities import UNITS
from ontology.terms import EVIDENCE, NS, QUANTITIES, QUANTITYKIND, SHEETS, STATEMENT

Term = NamedNode | BlankNode | Literal
Pairs = dict[str, list[Term]]

_SHEET_OF: Final = {terms.iri: sheet for sheet, terms in SHEETS.items()}
_COLUMN_OF: Final = {
    sheet: {NS + name: column for column, name in terms.columns.items()} for sheet, terms in SHEETS.items()
}
_EVIDENCE_OF: Final = {NS + name: column for column, name in EVIDENCE.items()}
_EVIDENCE_COLUMNS: Final = {column: Column(column, "text") for column in EVIDENCE}
_QUANTITY_OF: Final = {QUANTITYKIND + terms.kind: name for name, terms in QUANTITIES.items()}
_UNIT_OF: Final = {(unit.quantity, unit.iri): unit for unit in UNITS if unit.iri}
_OWN_ID: Final = re.compile(re.escape(STATEMENT) + r"(s[0-9a-f]{24})")
_WHOLE: Final = re.compile(r"[+-]?[0-9]{1,19}")
_DECIMAL: Final = re.compile(r"[+-]?[0-9]{0,19}(\.[0-9]{1,19})?")
MAX_LIST: Final = 1000
MAX_VALUES: Final = 8
DIFFERENCES: Final = frozenset({"tolerance", "uncertainty"})
"""Columns in which a temperature is a difference, so that its unit's zero does not count."""


class _Wrong(Exception):
    """A cell that cannot be taken as it is."""

    def __init__(self, code: str, found: object, why: str, mend: str) -> None:
        super().__init__(why)
        self.code, self.found, self.why, self.mend = code, str(found)[:200], why, mend


def statements(data: bytes, media: str, *, file: str = "", limit: int = MAX_BODY) -> Iterator[Statement | Finding]:
    """The statements in a body, in the order in which they begin, and a finding for whatever is not one.

    `file` is the name that findings carry. The quads of the whole body are held while it is read (about ten times
    the body), since a statement's triples may stand anywhere. Never raises on data.
    """
    by_subject: dict[Term, Pairs] = {}
    try:
        for quad in quads(data, media, file, limit):
            _keep(quad, by_subject)
    except Refused as refused:
        yield from refused.findings
        return
    reader = _Reader(by_subject, file)
    yield from reader.rows()
    yield from reader.left_over()


def _keep(quad: Quad, by_subject: dict[Term, Pairs]) -> None:
    pairs = by_subject.setdefault(quad.subject, {})  # type: ignore[arg-type]
    objects = pairs.setdefault(quad.predicate.value, [])
    objects.append(quad.object)  # type: ignore[arg-type]


class _Reader:
    def __init__(self, by_subject: dict[Term, Pairs], file: str) -> None:
        self.by_subject = by_subject
        self.file = file
        self.read: set[Term] = set()
        self.doubts: list[Finding] = []  # of the row at hand; void where the digest proves that we wrote it

    def rows(self) -> Iterator[Statement | Finding]:
        for subject, pairs in self.by_subject.items():
            types = [t.value for t in pairs.get(TYPE, ()) if isinstance(t, NamedNode)]
            sheets = sorted({_SHEET_OF[t] for t in types if t in _SHEET_OF})
            strange = [t for t in types if t.startswith(NS) and t.endswith("Statement") and t not in _SHEET_OF]
            if strange and not sheets:
                self.read.add(subject)
                why = f"{_shown(subject)} is of a class that no sheet has"
                yield fault(
                    self.file, "unknown-sheet", strange[0], why, "use one of the classes in docs/vocabulary.md"
                )
            elif len(sheets) > 1:
                self.read.add(subject)
                why = f"{_shown(subject)} is a row of several sheets at once"
                self.pass_over(objects for p in pairs.values() for objects in p)
                yield fault(self.file, "two-sheets", ", ".join(sheets), why, "write a node of its own for each row")
            elif sheets:
                self.read.add(subject)
                yield from self.row(subject, sheets[0], pairs)

    def row(self, subject: Term, sheet: str, pairs: Pairs) -> Iterator[Statement | Finding]:
        fields: dict[str, Any] = {}
        said: dict[str, str] = {}
        faults: list[Finding] = []
        self.doubts = []
        for predicate, objects in pairs.items():
            name = _COLUMN_OF[sheet].get(predicate)
            evidence = _EVIDENCE_OF.get(predicate)
            if name is None and evidence is None:
                faults.extend(self.stranger(subject, sheet, predicate, objects))
                continue
            column = BY_NAME[sheet].column(name) if name else _EVIDENCE_COLUMNS[str(evidence)]
            assert column is not None
            try:
                value = self.cell(column, objects)
            except _Wrong as wrong:
                origin = Origin(self.file, sheet, 0, column.name)
                why = f"{wrong.why}, in {_shown(subject)}"
                faults.append(Finding(wrong.code, "error", origin, wrong.found, why, wrong.mend))
                self.pass_over(objects)
                continue
            if name:
                fields[name] = value
            else:
                said[str(evidence)] = value
        statement = Statement(sheet, fields, Evidence(**said), Origin(self.file, sheet))
        own = _OWN_ID.fullmatch(subject.value) if isinstance(subject, NamedNode) else None
        if own is None:
            faults.extend(self.doubts)
        elif not faults and own[1] != statement.id:
            why = "a row is named by what it says, and this one says something else now"
            mend = "give the changed row a blank node or an IRI of your own, so that the old row stays what it was"
            faults.append(Finding("id-mismatch", "error", Origin(self.file, sheet), own[1], why, mend))
        yield from faults
        if not any(f.severity == "error" for f in faults):
            yield statement

    def pass_over(self, objects: Iterable[Term]) -> None:
        """Count what hangs on a faulty cell as read: its fault is told once."""
        waiting = [o for o in objects if not isinstance(o, Literal)]
        while waiting:
            node = waiting.pop()
            pairs = self.by_subject.get(node)
            if node in self.read or pairs is None or any(t.value in _SHEET_OF for t in pairs.get(TYPE, ())):
                continue
            self.read.add(node)
            waiting.extend(o for found in pairs.values() for o in found if not isinstance(o, Literal))

    def stranger(self, subject: Term, sheet: str, predicate: str, objects: list[Term]) -> Iterator[Finding]:
        if predicate == TYPE or predicate in ON_STATEMENTS:
            return
        ours = predicate.startswith(NS)
        severity: Severity = "error" if ours else "warning"
        why = f"the sheet {sheet} has no such column" if ours else "this property is not read, so it would be lost"
        columns = ", ".join(SHEETS[sheet].columns.values())
        mend = f"use one of {columns}" if ours else "leave it out, or keep it in another file"
        origin = Origin(self.file, sheet)
        code = "unknown-column" if ours else "not-read"
        yield Finding(code, severity, origin, f"{predicate} {_shown(objects[0])}"[:200], why, mend)

    def cell(self, column: Column, objects: list[Term]) -> Any:
        distinct = list(dict.fromkeys(objects))  # one triple may stand in several graphs, one list be written twice
        values: list[Any] = []
        for node in distinct[:MAX_VALUES]:
            value = self.value(column, node)
            if value not in values:
                values.append(value)
        if len(values) > 1 or len(distinct) > MAX_VALUES:
            shown = ", ".join(_shown(o) for o in distinct[:MAX_VALUES])
            raise _Wrong("several-values", shown, f"the column {column.name} has several values", "keep one of them")
        return values[0]

    def value(self, column: Column, node: Term) -> Any:
        match column.type:
            case "yesno":
                return _boolean(node)
            case "count":
                return _integer(node)
            case "list":
                return self.items(node)
            case "value":
                return self.node_value(node, ("Amount", "Code", "CodeSet"))
            case "size" | "amount":
                return self.node_value(node, ("Amount",), zero=column.name not in DIFFERENCES)
            case "money":
                return self.node_value(node, ("Money",))
            case _:
                return _text(node)

    def items(self, head: Term) -> list[str]:
        found: list[str] = []
        while not (isinstance(head, NamedNode) and head.value == NIL):
            pairs = self.by_subject.get(head)
            if isinstance(head, Literal) or pairs is None or len(found) >= MAX_LIST:
                raise _Wrong("wrong-type", _shown(head), "a list that ends is expected", 'write it as ("a" "b")')
            self.read.add(head)
            found.append(_text(self.one(pairs, FIRST, "a list")))
            head = self.one(pairs, REST, "a list")
        return found

    def one(self, pairs: Pairs, predicate: str, what: str) -> Term:
        objects = set(pairs.get(predicate, ()))
        if len(objects) != 1:
            name = predicate.rpartition("#")[2].rpartition("/")[2]
            raise _Wrong("wrong-type", len(objects), f"{what} has exactly one {name}", f"give it one {name}")
        return objects.pop()

    def maybe(self, pairs: Pairs, predicate: str, what: str) -> Term | None:
        return self.one(pairs, predicate, what) if predicate in pairs else None

    def node_value(self, node: Term, wanted: tuple[str, ...], zero: bool = True) -> dict[str, Any]:
        pairs = None if isinstance(node, Literal) else self.by_subject.get(node)
        kinds = [t.value[len(NS) :] for t in (pairs or {}).get(TYPE, ()) if isinstance(t, NamedNode)]
        kind = next((k for k in kinds if k in wanted), None)
        if pairs is None or kind is None:
            why = f"a node of class {' or '.join(wanted)} is expected"
            raise _Wrong("wrong-type", _shown(node), why, "see docs/vocabulary.md for how values are written")
        self.read.add(node)
        written = self.maybe(pairs, term("asWritten"), "a value")
        text = "" if written is None else _text(written)
        self.no_strangers(pairs, kind)
        if kind == "Amount":
            return self.amount(pairs, text, zero)
        if kind == "Money":
            return {"minor": _integer(self.one(pairs, term("minorUnits"), "money")), "text": text}
        codes = sorted({_text(code) for code in pairs.get(term("codeWord"), ())})
        for code in codes:
            if spelled_code(code) != code:
                mend = f"write {spelled_code(code)!r} as sw:codeWord and {code!r} as sw:asWritten"
                self.doubts.append(fault(self.file, "wrong-type", code, "a code has one spelling", mend))
        if kind == "CodeSet":
            return {"codes": codes, "text": text}
        if len(codes) != 1:
            raise _Wrong("several-values", ", ".join(codes), "a code is one word", "use sw:CodeSet for several")
        return {"code": codes[0], "text": text}

    def no_strangers(self, pairs: Pairs, kind: str) -> None:
        for predicate in pairs:
            if predicate not in _VALUE_PROPERTIES[kind]:
                why = f"this property of a value of class {kind} is not read, so it would be lost"
                raise _Wrong("unknown-column", predicate, why, "leave it out, or say it in a note")

    def amount(self, pairs: Pairs, text: str, zero: bool) -> dict[str, Any]:
        kind = self.one(pairs, term("qudt:hasQuantityKind"), "an amount")
        quantity = _QUANTITY_OF.get(kind.value)
        if quantity is None:
            raise _Wrong("wrong-type", _shown(kind), "this quantity is not known here", "use one of quantities.ttl")
        written = self.maybe(pairs, term("unitAsWritten"), "an amount")
        unit = "" if written is None else _text(written)
        quanta = self.maybe(pairs, term("quanta"), "an amount")
        number = self.maybe(pairs, term("qudt:numericValue"), "an amount")
        if quanta is None:
            if number is None:
                mend = "give sw:quanta, or qudt:numericValue with qudt:hasUnit"
                raise _Wrong("wrong-type", "nothing", "an amount has no number", mend)
            amount = self.quanta_of(pairs, quantity, number, zero)
            symbol = unit or self.symbol(pairs, quantity)
            return {"amount": amount, "quantity": quantity, "text": text or number.value, "unit": symbol}
        amount = _integer(quanta)
        if number is not None and not self.is_stored(pairs, quantity, number, amount):
            other = self.quanta_of(pairs, quantity, number, zero)
            if other != amount:
                shown = f"{amount} quanta, but {other} by qudt:numericValue"
                raise _Wrong("several-values", shown, "an amount says two sizes", "mend one of them")
        return {"amount": amount, "quantity": quantity, "text": text, "unit": unit}

    def is_stored(self, pairs: Pairs, quantity: str, number: Term, amount: int) -> bool:
        """Whether the number is written just as we write it; the quick way to the same answer as `quanta_of`."""
        known = QUANTITIES[quantity]
        units = pairs.get(term("qudt:hasUnit"), ())
        return (
            len(units) == 1
            and units[0].value == term("unit:" + known.unit)
            and number.value == decimal(amount, known.decimals)
        )

    def quanta_of(self, pairs: Pairs, quantity: str, number: Term, zero: bool) -> int:
        if not isinstance(number, Literal) or not number.value or not _DECIMAL.fullmatch(number.value):
            raise _Wrong("wrong-type", _shown(number), "a decimal number is expected", "write it as 52.3875")
        unit = self.one(pairs, term("qudt:hasUnit"), "a number")
        known = QUANTITIES[quantity]
        if unit.value == term("unit:" + known.unit):
            exact = Fraction(number.value) * int(10**known.decimals)
        elif found := _UNIT_OF.get((quantity, unit.value)):
            exact = Fraction(number.value) * found.scale + (found.offset if zero else 0)
        else:
            why = f"this is no unit of {quantity} known here"
            raise _Wrong("wrong-type", _shown(unit), why, "use one of quantities.ttl")
        return round(exact)

    def symbol(self, pairs: Pairs, quantity: str) -> str:
        unit = self.one(pairs, term("qudt:hasUnit"), "a number")
        found = _UNIT_OF.get((quantity, unit.value))
        return found.symbol if found else ""

    def left_over(self) -> Iterator[Finding]:
        """A warning for each property of things that nobody read."""
        counts: Counter[str] = Counter()
        example: dict[str, str] = {}
        for subject, pairs in self.by_subject.items():
            if subject in self.read:
                continue
            for predicate, objects in pairs.items():
                if predicate not in LINKS:
                    counts[predicate] += len(objects)
                    example.setdefault(predicate, _shown(subject))
        for predicate in sorted(counts):
            severity: Severity = "error" if predicate.startswith(NS) else "warning"
            why = f"{counts[predicate]} triples with this property belong to no row, one of {example[predicate]}"
            mend = "give the node the class of a sheet, or leave it out"
            yield Finding("not-read", severity, Origin(self.file), predicate[:200], why, mend)
        if not self.read:
            why = "no node has the class of a sheet"
            yield fault(self.file, "no-statements", "nothing", why, "see docs/vocabulary.md for the classes")


def _terms(*names: str) -> frozenset[str]:
    return frozenset(term(name) for name in names)


_VALUE_PROPERTIES: Final = {
    "Amount": _terms(
        "rdf:type", "quanta", "asWritten", "unitAsWritten",
        "qudt:hasQuantityKind", "qudt:numericValue", "qudt:hasUnit",
    ),
    "Code": _terms("rdf:type", "codeWord", "asWritten"),
    "CodeSet": _terms("rdf:type", "codeWord", "asWritten"),
    "Money": _terms("rdf:type", "minorUnits", "asWritten"),
}  # fmt: skip


def _shown(node: Term) -> str:
    return str(node)[:120]


def _text(node: Term) -> str:
    if not isinstance(node, Literal) or node.datatype.value != STRING:
        mend = "write it in quotes, without language and datatype"
        raise _Wrong("wrong-type", _shown(node), "a plain text is expected", mend)
    if len(node.value) > MAX_LITERAL:
        why = f"the text is longer than {MAX_LITERAL} characters"
        raise _Wrong("too-large", f"{len(node.value)} characters", why, "shorten it")
    return node.value


def _boolean(node: Term) -> bool:
    if isinstance(node, Literal) and node.datatype.value == BOOLEAN and node.value in ("true", "false", "1", "0"):
        return node.value in ("true", "1")
    raise _Wrong("wrong-type", _shown(node), "yes or no is expected", "write true or false without quotes")


def _integer(node: Term) -> int:
    if isinstance(node, Literal) and node.datatype.value == INTEGER and _WHOLE.fullmatch(node.value):
        number = int(node.value)
        if abs(number) < 2**63:
            return number
    why = "a whole number of at most 63 bits is expected"
    raise _Wrong("wrong-type", _shown(node), why, "write it without quotes, point and exponent")
