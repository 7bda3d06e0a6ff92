"""Release is refused while anything is blank, unreadable or outside; all of it is told at once."""

import pytest
from sheet_cases import filled

from graph.desk import Desk
from graph.model.routing import RouteSheet
from graph.routesheet import refusals, route_sheet

FINISHING = (
    "component-balance-compressor-wheel",
    "component-balance-shaft-wheel",
    "core-balance",
    "actuator",
    "vane-stop",
    "leak-test",
)


@pytest.fixture(name="sheet", scope="module")
def sheet_fixture(demo_desk: Desk) -> RouteSheet:
    return route_sheet(demo_desk.plan("HB-017", "larger-wheels", "BR6-C", day="2026-11-20"))


def test_the_finishing_records_are_asked_for(sheet: RouteSheet) -> None:
    codes = [record.code for record in sheet.records]
    assert tuple(codes[-len(FINISHING) :]) == FINISHING
    assert len(codes) == len(set(codes))
    names = [field.name for record in sheet.records for field in record.fields]
    assert len(names) == len(set(names))
    balance = next(record for record in sheet.records if record.code == "core-balance")
    assert {field.name.rpartition(".")[2] for field in balance.fields} >= {"plane-1", "plane-2", "speed", "by"}


def test_an_empty_record_names_every_blank(sheet: RouteSheet) -> None:
    found = refusals(sheet, {})
    fields = [field.name for record in sheet.records for field in record.fields]
    assert len(found) == len(fields)
    assert all(any(text.endswith(f"is blank ({name})") for text in found) for name in fields)


def test_a_whole_record_is_not_refused(sheet: RouteSheet) -> None:
    assert refusals(sheet, filled(sheet)) == ()


def test_each_blank_alone_refuses(sheet: RouteSheet) -> None:
    whole = filled(sheet)
    for name in whole:
        for blank in ("", "   ", None):
            record = {k: v for k, v in whole.items() if k != name} | ({name: blank} if blank is not None else {})
            (told,) = refusals(sheet, record)
            assert name in told and "blank" in told


@pytest.mark.parametrize(
    ("name", "text", "told"),
    [
        ("step-4.after", "62.86 mm", "above 62.85 mm"),
        ("step-4.after", "62.44 mm", "below 62.45 mm"),
        ("step-4.after", "2.5 in", "above 62.85 mm"),  # 63.5 mm
        ("step-4.after", "about right", "step-4.after"),
        ("step-4.after", "nan mm", "step-4.after"),
        ("step-7.after-2", "22.385", "above 22.38 mm"),
        ("core-balance.plane-1", "0.06 g·mm", "over the limit 0.05 g·mm"),
        ("core-balance.plane-2", "-0.01 g·mm", "below 0"),
        ("core-balance.speed", "1800 mm", "core-balance.speed"),
    ],
)
def test_an_entry_outside_its_limits_refuses(sheet: RouteSheet, name: str, text: str, told: str) -> None:
    (found,) = refusals(sheet, filled(sheet) | {name: text})
    assert told in found and name in found


@pytest.mark.parametrize("text", ["62.65 mm", "62.65", "62,65 mm", "2.4665 in"])
def test_sizes_are_taken_as_they_are_written(sheet: RouteSheet, text: str) -> None:
    assert refusals(sheet, filled(sheet) | {"step-4.after": text}) == ()


def test_a_field_that_the_sheet_does_not_have_is_told(sheet: RouteSheet) -> None:
    (found,) = refusals(sheet, filled(sheet) | {"release": "yes"})
    assert "no such field" in found


def test_what_nobody_has_looked_at_is_asked_for(sheet: RouteSheet) -> None:
    looks = [record for record in sheet.records if record.code.startswith("confirm-")]
    assert len(looks) == len(sheet.confirm) > 0
