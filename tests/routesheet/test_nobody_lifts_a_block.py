"""Nobody lifts a block: a cracked rotating part, a wheel above its limit, a wall below a limit that somebody set."""

import csv
import io
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest
from sheet_cases import filled, with_found, with_operand, with_part, with_plan

from demo_graph.data import workbook
from graph import publish
from graph.desk import Desk, open_desk
from graph.index.store import Store
from graph.model.claim import Rank
from graph.model.plan import PlanAnswer
from graph.model.record import Limit
from graph.model.routing import RouteSheet
from graph.planning.answer import plan
from graph.planning.check import check
from graph.routesheet import refusals, route_sheet

DAY = "2026-11-20"
CRACK, SPEED, WALL = "cracked-rotating-part", "over-speed", "wall"
WISHES = ("keep:compressor-wheel", "no-new", "no-donor", "no-machining")


@pytest.fixture(name="answer", scope="module")
def answer_fixture(demo_desk: Desk) -> PlanAnswer:
    return demo_desk.plan("HB-017", "larger-wheels", "BR6-C", day=DAY)


@pytest.fixture(name="stock", scope="module")
def stock_fixture(demo_desk: Desk) -> PlanAnswer:
    """A plan that keeps the core's own compressor wheel."""
    made = demo_desk.plan("HB-017", "stock-140", "BR6-C", day=DAY, wishes=("keep:compressor-wheel",))
    assert [c.source for c in made.plans[0].seats if c.seat == "compressor-wheel"] == ["kept"]
    return made


def blocked(sheet: RouteSheet, code: str) -> list[str]:
    return [block.text for block in sheet.blocks if block.code == code]


def test_no_wish_keeps_a_cracked_wheel(stock: PlanAnswer) -> None:
    cracked = with_found(stock, "compressor-wheel", lambda one: replace(one, state="cracked")).bundle
    assert cracked is not None
    for wishes in ((), *((wish,) for wish in WISHES), WISHES):
        bundle = replace(cracked, question=replace(cracked.question, wishes=tuple(sorted(wishes))))
        for way in plan(bundle).plans:
            (choice,) = [c for c in way.seats if c.seat == "compressor-wheel"]
            assert choice.source != "kept"


def test_the_checker_refuses_a_plan_that_keeps_one(stock: PlanAnswer) -> None:
    forged = with_found(stock, "compressor-wheel", lambda one: replace(one, state="cracked"))
    assert forged.bundle is not None
    assert check(forged, forged.bundle)


def test_a_sheet_of_such_a_plan_is_blocked_whatever_is_written_down(stock: PlanAnswer) -> None:
    sheet = route_sheet(with_found(stock, "compressor-wheel", lambda one: replace(one, state="cracked")))
    assert len(blocked(sheet, CRACK)) == 1
    assert all(block.lifted_by == "" for block in sheet.blocks)
    left = [text for text in refusals(sheet, filled(sheet)) if text.startswith("blocked")]
    assert len(left) == 1 and "nobody lifts" in left[0]


def test_an_engine_that_turns_faster_than_the_wheel_may_gets_no_plan(answer: PlanAnswer) -> None:
    assert answer.bundle is not None
    engine = answer.bundle.engine
    claims = tuple(
        replace(c, value=replace(c.value, amount=130_000_000, text="130000"))  # type: ignore[type-var]
        if c.feature == "turbo_speed"
        else c
        for c in engine.claims
    )
    bundle = replace(answer.bundle, engine=replace(engine, claims=claims))
    for wishes in ((), *((wish,) for wish in WISHES)):
        asked = replace(bundle, question=replace(bundle.question, wishes=wishes))
        assert plan(asked).plans == ()
    forged = replace(answer, bundle=bundle)
    assert check(forged, bundle)


def test_a_wheel_above_its_limit_blocks_the_sheet_and_no_entry_lifts_it(answer: PlanAnswer) -> None:
    fast = 111_000_000  # over the shaft's 110 000 rev/min, under the compressor wheel's 112 000
    sheet = route_sheet(with_operand(answer, "turbo_speed", low=fast, high=fast))
    (text,) = blocked(sheet, SPEED)
    assert "111000 rpm asked, limit 110000 rpm" in text and "nobody lifts" in text
    for extra in ({}, {"override": "yes"}, {"block.over-speed": "lifted by the owner"}):
        left = refusals(sheet, filled(sheet) | extra)
        assert any(one.startswith("blocked") for one in left)


def test_a_limit_that_is_met_exactly_is_no_block(answer: PlanAnswer) -> None:
    just = 110_000_000
    assert not blocked(route_sheet(with_operand(answer, "turbo_speed", low=just, high=just)), SPEED)


def test_a_wall_below_its_limit_names_the_only_thing_that_lifts_it(answer: PlanAnswer) -> None:
    (step,) = [s for s in answer.plans[0].steps if s.operation == "bore-turbine-contour"]
    strict = Limit("wall", "", 50_000_000, None, int(Rank.SHOP), "HB-NOTE")
    sheet = route_sheet(with_part(answer, step.part, lambda p: replace(p, limits=(*p.limits, strict))))
    texts = blocked(sheet, WALL)
    assert len(texts) == 2 and any("3h" in t for t in texts) and any("6h" in t for t in texts)  # 4.965 and 4.765 left
    assert {b.lifted_by for b in sheet.blocks} == {"a new limit claim with author and evidence"}
    assert len([t for t in refusals(sheet, filled(sheet)) if t.startswith("blocked")]) == 2


@pytest.mark.parametrize("rank", [Rank.HEARD, Rank.SHOP, Rank.SUPPLIER])
def test_a_laxer_word_beside_the_limit_changes_nothing(answer: PlanAnswer, rank: Rank) -> None:
    (step,) = [s for s in answer.plans[0].steps if s.operation == "bore-turbine-contour"]
    lax = Limit("wall", "", 10_000_000, None, int(rank), "COUNTER")
    sheet = route_sheet(with_part(answer, step.part, lambda p: replace(p, limits=(*p.limits, lax))))
    (block,) = [wall for one in sheet.pages for wall in one.walls]
    assert block.limit == 45_000_000


@pytest.mark.slow
def test_a_new_limit_is_a_claim_in_the_ledger_with_its_author(tmp_path: Path) -> None:
    shop = tmp_path / "shop"
    shutil.copytree(workbook().parent / "workbook", shop)
    store = Store.create(tmp_path / "store")
    assert publish.publish(shop, store, author="counter", time="2026-11-20T08:00:00Z", title="all").published
    assert _wall(open_desk(tmp_path / "store")) == 45_000_000
    for least, day, held in (
        ("4.0", "", 45_000_000),
        ("4.6", "2026-11-18", 46_000_000),
        ("4.2", "2026-11-19", 42_000_000),
    ):
        # undated, the laxer word is the earlier one and loosens nothing; a later one of the same source stands
        rows = list(csv.DictReader(io.StringIO((shop / "limits.csv").read_text(encoding="utf-8"))))
        for row in rows:
            if row["unit_or_part"] == "46-50-140" and row["feature"] == "wall":
                row |= {"min": least, "date": day, "note": "housings cut open, sheet 12"}
        with (shop / "limits.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
        title = f"wall of the 140 castings: {least}"
        assert publish.publish(
            shop, store, author="the machinist", time="2026-11-20T09:00:00Z", title=title
        ).published
        desk = open_desk(tmp_path / "store")
        newest = next(iter(desk.history()))
        assert (newest.author, newest.title) == ("the machinist", title)
        assert _wall(desk) == held


def _wall(desk: Desk) -> int | None:
    made = desk.plan("HB-017", "larger-wheels", "BR6-C", day=DAY)
    desk.close()
    (block,) = [wall for one in route_sheet(made).pages for wall in one.walls]
    return block.limit


def test_no_word_on_the_faces_offers_to_lift_one() -> None:
    from typer.main import get_command

    from api.cli.main import app

    options = {
        option
        for command in get_command(app).commands.values()  # type: ignore[attr-defined]
        for parameter in command.params
        for option in parameter.opts
    }
    assert len(options) > 20
    assert not {o for o in options if re.search(r"force|override|ignore|lift|unblock|anyway", o)}


def test_a_plan_stays_a_plan(answer: PlanAnswer) -> None:
    """The fixtures alter copies: the demo's own plan has no block."""
    assert route_sheet(answer).blocks == ()
    assert route_sheet(with_plan(answer)).blocks == ()
