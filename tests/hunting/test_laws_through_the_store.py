"""Laws of answers, from the published rows on: unit of measure, order, names, what has no bearing, what is worse."""

import random
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction

import pytest
from asked_shop import Book, Shop, added, book, changed, without
from hypothesis import Phase, assume, given, settings
from hypothesis import strategies as st

from graph.model.fits import FitsAnswer
from graph.model.plan import PlanAnswer
from graph.model.verdict import Verdict

pytestmark = pytest.mark.slow
EXAMPLES = settings(max_examples=10, phases=[Phase.generate])  # two stores are published for each

SIZES = [
    ("C-1", "bore"), ("C-1", "height"), ("W-1", "exducer"), ("W-1", "nose_bore"), ("R-1", "nose"), ("R-1", "journal"),
    ("R-1", "texducer"), ("JB-1", "id"), ("JB-1", "od"), ("BH-1", "bearing_bore"), ("TH-1", "tbore"),
    ("W-2", "exducer"),
]  # fmt: skip
CODES = [("W-1", "hand"), ("TH-1", "foot"), ("A-1", "signal"), ("S-1", "plug"), ("BH-1", "oil_thread")]
SIDES = ["foot", "oil_thread", "signal", "opening", "plug", "room", "shaft_speed"]
STEPS = ["-5", "-0.7", "-0.05", "-0.01", "-0.002", "0.002", "0.01", "0.05", "0.7", "5"]
Edit = Callable[[Book], Book]


def cell(rows: Book, sheet: str, where: dict[str, str], column: str) -> str:
    header = rows[sheet][0]
    found = [r for r in rows[sheet][1:] if all(r[header.index(k)] == v for k, v in where.items())]
    return found[0][header.index(column)]


def moved(rows: Book, number: str, feature: str, step: str) -> Book:
    where = {"number": number, "feature": feature}
    return changed(rows, "values", where, value=str(Decimal(cell(rows, "values", where, "value")) + Decimal(step)))


def second(rows: Book, number: str, feature: str, step: str, source: str) -> Book:
    """Another source says something else of it."""
    where = {"number": number, "feature": feature}
    said = str(Decimal(cell(rows, "values", where, "value")) + Decimal(step))
    unit = cell(rows, "values", where, "unit")
    return added(rows, "values", maker="Ostrel", **where, value=said, unit=unit, source=source)


def hearsay(rows: Book, sheet: str, where: dict[str, str]) -> Book:
    return changed(rows, sheet, where, source="gossip")


@st.composite
def edits(draw: st.DrawFn) -> Edit:
    """One change of one fact of the shop's; none takes a claim away that an earlier one needs."""
    number, feature = draw(st.sampled_from(SIZES))
    step = draw(st.sampled_from(STEPS))
    match draw(
        st.sampled_from(["moved", "moved", "moved", "source", "heard", "slack", "code", "side", "bare", "limit"])
    ):
        case "moved":
            return lambda b: moved(b, number, feature, step)
        case "source":
            by = draw(st.sampled_from(["dwg2", "sup", "cat"]))
            return lambda b: second(b, number, feature, step, by)
        case "heard":
            return lambda b: hearsay(b, "values", {"number": number, "feature": feature})
        case "slack":
            slack = draw(st.sampled_from(["0.001", "0.05", "0.3"]))
            return lambda b: changed(b, "values", {"number": number, "feature": feature}, tolerance=slack)
        case "code":
            one, of = draw(st.sampled_from(CODES))
            return lambda b: changed(b, "values", {"number": one, "feature": of}, value="other")
        case "side":
            side = draw(st.sampled_from(["foot", "oil_thread", "signal", "plug"]))
            word = draw(st.sampled_from(["other", "none"]))
            return lambda b: changed(b, "engine_values", {"feature": side}, value=word)
        case "bare":
            return lambda b: without(b, "unit_seats", seat="sensor") if "sensor" in str(b["unit_seats"]) else b
        case _:
            least = draw(st.sampled_from(["9.97", "9.9795", "9.98"]))
            row = {"maker": "Ostrel", "unit_or_part": "R-1", "feature": "journal", "condition": "used", "min": least}
            return lambda b: b if "limits" in b else added(b, "limits", **row, unit="mm", source="dwg")


@st.composite
def books(draw: st.DrawFn) -> Book:
    """The shop with up to three facts changed."""
    rows = book()
    for edit in draw(st.lists(edits(), max_size=3)):
        rows = edit(rows)
    return rows


def swap_of(said: FitsAnswer) -> object:
    rules = [(j.joint, r.rule, r.verdict, r.margin) for j in said.joints for r in j.rules]
    return said.verdict, said.as_it_stands, rules, [(m.seat, m.feature) for m in said.open]


def plan_of(said: PlanAnswer) -> object:
    return (
        said.verdict,
        said.proof,
        [(p.cost, p.time, [(c.seat, c.source) for c in p.seats], [s.operation for s in p.steps]) for p in said.plans],
        sorted((m.seat, m.feature) for m in said.open),
    )


def told(rows: Book, unit: str = "U-1", engine: str = "E1", core: str = "K1") -> object:
    with Shop(rows) as shop:
        assume(shop.report.published)  # a size below zero or beyond its own limit is refused
        said = [plan_of(shop.plan(core, build)) for build in ("stock", "big")]
        return swap_of(shop.fits(unit, engine)), said


def inches(text: str) -> str:
    """The same length in inches, to less than half a quantum of 100 pm."""
    return f"{float(Fraction(text) / Fraction('25.4')):.10f}"


@given(books())
@EXAMPLES
def test_sizes_in_inches_say_the_same_as_in_millimetres(rows: Book) -> None:
    meant = {name: [list(row) for row in lines] for name, lines in rows.items()}
    for sheet, sized in (
        ("values", ("value", "tolerance", "limit_max")),
        ("engine_values", ("value", "tolerance")),
        ("readings", ("value", "uncertainty")),
        ("rules", ("min", "max")),
        ("demands", ("value",)),
        ("limits", ("min",)),
    ):
        header = meant.get(sheet, [[]])[0]
        for row in meant.get(sheet, [])[1:]:
            if row[header.index("unit")] == "mm":
                row[header.index("unit")] = "in"
                for name in sized:
                    row[header.index(name)] = inches(row[header.index(name)]) if row[header.index(name)] else ""
    assert told(meant) == told(rows)


@given(books(), st.randoms(use_true_random=False))
@EXAMPLES
def test_the_order_of_rows_says_nothing(rows: Book, by: random.Random) -> None:
    mixed = {}
    for name, (header, *lines) in rows.items():
        by.shuffle(lines)
        mixed[name] = [header, *lines]
    assert told(mixed) == told(rows)


@given(books())
@EXAMPLES
def test_what_has_no_bearing_changes_nothing(rows: Book) -> None:
    more = added(rows, "parts", maker="Quenby", number="BP-9", kind="backplate")
    more = added(more, "values", maker="Quenby", number="BP-9", feature="height", value="3", unit="mm", source="dwg")
    more = added(more, "engines", maker="Brackmoor", engine="E9")
    more = added(more, "engine_values", maker="Brackmoor", engine="E9", feature="foot", value="T-Z9", source="dwg")
    more = added(more, "cores", tag="K9", received="2026-01-10", may_donate="no")
    more = added(more, "prices", maker="Quenby", number="BP-9", price="1", currency="EUR", as_of="2026-01-01")
    assert told(more) == told(rows)


@given(books())
@EXAMPLES
def test_names_of_things_say_nothing(rows: Book) -> None:
    # Letters stand in the opposite order, so that what is decided by a name would turn.
    new = {"Ostrel": "Zelver", "Brackmoor": "Aldmere", "U-1": "Q 777", "E1": "Z9", "K1": "A-0", "dwg": "print",
           "dwg2": "a", "cat": "zz", "sup": "b", "W-1": "ZW 1", "C-1": "AA 1", "BH-1": "TT-7", "R-1": "B 1",
           "JB-1": "ZZ-8", "TH-1": "A-TH", "A-1": "Y-1", "S-1": "B-7"}  # fmt: skip
    renamed = {name: [[new.get(one, one) for one in row] for row in lines] for name, lines in rows.items()}
    assert told(renamed, "Q 777", "Z9", "A-0") == told(rows)


GOES = (Verdict.YES, Verdict.WITH_WORK)


@st.composite
def worse(draw: st.DrawFn) -> tuple[str, Edit]:
    """A fact of the unit or of the engine that is known less well, or no longer."""
    number, feature = draw(st.sampled_from(SIZES[:-1] + CODES))
    side, step = draw(st.sampled_from(SIDES)), draw(st.sampled_from(STEPS))
    here = {"number": number, "feature": feature}
    kinds = ["gone", "gone", "heard", "side gone", "side heard", "against", "looser"]
    match draw(st.sampled_from(kinds)):
        case "gone":
            return "gone", lambda b: without(b, "values", **here)
        case "heard":
            return "heard", lambda b: hearsay(b, "values", here)
        case "side gone":
            return "gone", lambda b: without(b, "engine_values", feature=side)
        case "side heard":
            return "heard", lambda b: hearsay(b, "engine_values", {"feature": side})
        case "against":
            one, of = draw(st.sampled_from(SIZES[:-1]))
            return "against", lambda b: second(b, one, of, step, "dwg2")
        case _:
            one, of = draw(st.sampled_from(SIZES[:-1]))
            return "looser", lambda b: changed(b, "values", {"number": one, "feature": of}, tolerance="0.31")


@given(books(), worse())
@settings(max_examples=16, phases=[Phase.generate])
def test_knowing_less_makes_nothing_fit(rows: Book, less: tuple[str, Edit]) -> None:
    with Shop(rows) as shop, Shop(less[1](rows)) as after:
        assume(shop.report.published and after.report.published)
        before, then = shop.fits(), after.fits()
        assert then.as_it_stands is not Verdict.YES or before.as_it_stands is Verdict.YES
        assert then.verdict not in GOES or before.verdict in GOES
        if before.verdict is Verdict.NO:
            assert then.verdict not in GOES
        for build in ("stock", "big"):
            dear, dearer = shop.plan(build=build), after.plan(build=build)
            assert dearer.verdict not in GOES or dear.verdict in GOES
            if (
                dear.verdict in GOES
                and dearer.verdict in GOES
                and not dear.plans[0].at_least
                and not dearer.plans[0].at_least
            ):
                assert dearer.plans[0].cost >= dear.plans[0].cost


OUTWARD = [
    ("C-1", "bore", "1"), ("C-1", "height", "1"), ("W-1", "exducer", "-1"), ("R-1", "journal", "-1"),
    ("JB-1", "od", "-1"), ("BH-1", "bearing_bore", "1"), ("TH-1", "tbore", "1"), ("R-1", "nose", "1"),
]  # fmt: skip
"""Sizes, and which way leads out of the window of their rule."""


@given(books(), st.sampled_from(OUTWARD), st.sampled_from(["0.05", "0.3", "1", "4"]))
@EXAMPLES
def test_going_further_from_its_window_makes_nothing_fit(rows: Book, off: tuple[str, str, str], by: str) -> None:
    number, feature, sign = off
    start = moved(rows, number, feature, str(Decimal(sign) * 1))
    with Shop(start) as shop, Shop(moved(start, number, feature, str(Decimal(sign) * Decimal(by)))) as after:
        assume(shop.report.published and after.report.published)
        if shop.fits().as_it_stands is Verdict.NO:
            assert after.fits().as_it_stands is Verdict.NO
