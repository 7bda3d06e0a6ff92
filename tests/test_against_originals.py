"""A plan against the unit that its engine left the factory with, by the demo's own sheets."""

import csv
from dataclasses import replace

import pytest

from demo_graph.data import workbook
from demo_graph.tours import BUILD, CORE, DAY, ENGINE
from graph.desk import Desk
from graph.desk.matching import Against, against_originals
from graph.model.plan import PlanAnswer, Step


@pytest.fixture(name="answer", scope="module")
def _answer(demo_desk: Desk) -> PlanAnswer:
    return demo_desk.plan(CORE, BUILD, ENGINE, day=DAY)


def said(number: str, feature: str) -> float:
    """What the workbook says of a part: a count in the sheet `parts`, a size in mm in the sheet `values`."""
    with (workbook() / "parts.csv").open(newline="", encoding="utf-8") as file:
        counted = next(r for r in csv.DictReader(file) if r["number"] == number).get(feature)
    if counted:
        return float(counted)
    with (workbook() / "values.csv").open(newline="", encoding="utf-8") as file:
        rows = [r for r in csv.DictReader(file) if (r["number"], r["feature"], r["unit"]) == (number, feature, "mm")]
    return float(rows[0]["value"])


def compared(against: Against, seat: str, feature: str) -> str:
    return next(line.compared for line in against.lines if (line.seat, line.feature) == (seat, feature))


def test_every_factory_unit_of_the_engine_is_compared(demo_desk: Desk, answer: PlanAnswer) -> None:
    with (workbook() / "fitments.csv").open(newline="", encoding="utf-8") as file:
        units = {(r["unit_maker"], r["unit"]) for r in csv.DictReader(file) if r["engine"].endswith(ENGINE)}
    assert [a.original for a in against_originals(demo_desk.catalogue, answer)] == sorted(map(" ".join, units))


@pytest.mark.parametrize(
    ("seat", "feature"),
    [("compressor-wheel", "inducer"), ("compressor-wheel", "exducer"), ("compressor-wheel", "blade_count")],
)
def test_each_line_says_what_the_sheets_say(demo_desk: Desk, answer: PlanAnswer, seat: str, feature: str) -> None:
    (against,) = against_originals(demo_desk.catalogue, answer)
    ours = next(c.part for c in answer.plans[0].seats if c.seat == seat).split("/")[-1]
    with (workbook() / "unit_seats.csv").open(newline="", encoding="utf-8") as file:
        rows = [r for r in csv.DictReader(file) if against.original.endswith(r["unit"]) and r["seat"] == seat]
    mine, theirs = said(ours, feature), said(rows[0]["part_number"], feature)
    assert compared(against, seat, feature) == ("larger" if mine > theirs else "smaller" if mine < theirs else "same")


def test_a_cut_counts_and_not_what_was_there_before(demo_desk: Desk, answer: PlanAnswer) -> None:
    (before,) = against_originals(demo_desk.catalogue, answer)
    line = next(one for one in before.lines if one.feature == "speed_limit" and one.seat == "shaft-wheel")
    cut = Step("cut", "cut", line.seat, "part/x/y", line.feature, "speed", target=10**12)
    plan = replace(answer.plans[0], steps=(*answer.plans[0].steps, cut))
    (after,) = against_originals(demo_desk.catalogue, replace(answer, plans=(plan,)))
    assert compared(before, line.seat, line.feature) == "smaller"
    assert compared(after, line.seat, line.feature) == "larger"
