"""Rows from a form: checked like a workbook's, corrected by new claims, refused as a whole."""

import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from graph.desk import Desk
from graph.desk.bench import Bench
from graph.errors import Conflict, FindingsInTheWay, NotFound
from graph.index.store import Store
from graph.publish import accept, enter_core, enter_found, enter_reading

NOW, LATER = "2026-11-20T09:00:00Z", "2026-11-20T09:30:00Z"


@pytest.fixture(name="store")
def store_fixture(demo_folder: Path, tmp_path: Path) -> Store:
    return Store.open(Path(shutil.copytree(demo_folder, tmp_path / "store")))


def bench(store: Store) -> Bench:
    return Bench(Desk.over(store))


def test_a_core_is_taken_in_and_shows_where_to_look_first(store: Store) -> None:
    cells = {
        "tag": "HB-101",
        "customer": "forester at the ridge",
        "as_built_unit": "ov46 140",
        "plate": "OSTREL OV46-140",
        "photos": "hb-101-plate.jpg|hb-101-foot.jpg",
        "grade": "B",
        "deposit": "80.00",
        "currency": "EUR",
    }
    entered = enter_core(store, cells, author="ina", time=NOW)
    assert not entered.faulty
    record = bench(store).record("HB-101")
    assert (record.built, record.received, record.deposit) == ("unit/Ostrel/OV46-140", "2026-11-20", 8000)
    assert record.photos == ("hb-101-plate.jpg", "hb-101-foot.jpg")
    # 14 of 31 in the workbook, the most frequent of this unit.
    assert record.weaknesses[0].text.startswith("turbine side bearing bore")


def test_a_tag_that_is_taken_is_refused_and_a_correction_keeps_the_rest(store: Store) -> None:
    with pytest.raises(Conflict):
        enter_core(store, {"tag": "HB-017"}, author="ina", time=NOW)
    enter_core(store, {"tag": "HB-017", "grade": "C"}, author="ina", time=NOW, correct=True)
    record = bench(store).record("HB-017")
    assert (record.grade, record.serial) == ("C", "OV46 140 2 31877")
    with pytest.raises(NotFound):
        enter_core(store, {"tag": "HB-999"}, author="ina", time=NOW, correct=True)


def test_a_reading_takes_its_uncertainty_from_the_instrument_and_its_source_from_the_bench(store: Store) -> None:
    cells = {
        "tag": "HB-010",
        "seat": "shaft-wheel",
        "feature": "Journal diameter",
        "value": "13.984",
        "instrument": "micrometer 0-25",
        "position": "turbine end",
    }
    enter_reading(store, cells, author="ina", time=NOW).sound()
    (reading,) = [r for r in bench(store).record("HB-010").readings if r.feature == "journal"]
    assert (reading.value, reading.uncertainty, reading.source) == ("13.984 mm", "0.002 mm", "HB-BENCH")
    assert (reading.who, reading.date) == ("ina", "2026-11-20T09:00:00")


def test_correcting_a_reading_is_a_new_claim_and_the_old_one_stays(store: Store) -> None:
    cells = {
        "tag": "HB-010",
        "seat": "shaft-wheel",
        "feature": "journal",
        "value": "13.894",
        "position": "turbine end",
        "uncertainty": "0.002",
    }
    enter_reading(store, cells, author="ina", time=NOW).sound()
    enter_reading(store, {**cells, "value": "13.984"}, author="ina", time=LATER).sound()
    both = [r for r in bench(store).record("HB-010").readings if r.feature == "journal"]
    assert [(r.value, r.counts) for r in both] == [("13.894 mm", False), ("13.984 mm", True)]
    wheel = next(d for d in bench(store).inspect("HB-010").decisions if d.seat == "shaft-wheel")
    assert [j.result for j in wheel.judged if j.feature == "journal"] == ["within"]


def test_a_clock_that_was_set_back_loses_no_reading(store: Store) -> None:
    cells = {"tag": "HB-010", "seat": "shaft-wheel", "feature": "journal", "value": "13.984", "uncertainty": "0.002"}
    enter_reading(store, cells, author="ina", time=LATER).sound()
    again = {**cells, "value": "13.900"}
    with pytest.raises(Conflict, match="2026-11-20T09:30:00"):  # it would have counted for less than the first
        enter_reading(store, again, author="ina", time=NOW)
    assert len([r for r in bench(store).record("HB-010").readings if r.feature == "journal"]) == 1
    enter_reading(store, {**again, "date": "2026-11-20T09:00"}, author="ina", time=NOW).sound()  # her own word for it
    enter_reading(store, again, author="ole", time=NOW).sound()
    both = [(r.value, r.who, r.counts) for r in bench(store).record("HB-010").readings if r.feature == "journal"]
    assert sorted(both) == [("13.900 mm", "ina", False), ("13.900 mm", "ole", True), ("13.984 mm", "ina", True)]


def test_all_faults_of_a_row_are_told_at_once_and_nothing_is_written(store: Store) -> None:
    before = Desk.over(store).snapshot
    cells = {"tag": "HB-010", "seat": "shaft-whel", "feature": "journal", "value": "13.98 kg", "uncertainty": "-1"}
    entered = enter_reading(store, cells, author="ina", time=NOW)
    assert entered.faulty
    assert {f.origin.column for f in entered.findings} == {"seat", "value", "uncertainty"}
    assert Desk.over(store).snapshot == before
    with pytest.raises(FindingsInTheWay):
        entered.sound()


def test_a_reading_of_the_whole_unit_is_taken(store: Store) -> None:
    cells = {"tag": "HB-010", "seat": "unit", "feature": "end play", "value": "0.12", "instrument": "dial indicator"}
    enter_reading(store, cells, author="ina", time=NOW).sound()
    unit = next(d for d in bench(store).inspect("HB-010").decisions if d.seat == "unit")
    assert [(j.feature, j.result) for j in unit.judged] == [("end_play", "within"), ("radial_play", "not read")]


def test_a_crack_that_is_found_decides(store: Store) -> None:
    cells = {"tag": "HB-010", "seat": "compressor-wheel", "state": "cracked"}
    enter_found(store, cells, author="ina", time=NOW).sound()
    wheel = next(d for d in bench(store).inspect("HB-010").decisions if d.seat == "compressor-wheel")
    assert (wheel.outcome.value, wheel.final) == ("scrap", True)


def test_a_proposal_changes_nothing_until_a_person_accepts_it(store: Store) -> None:
    before = bench(store)
    proposal = next(p for p in before.learn().proposals if p.name == "feature:plate")
    # By hand: 0.95 counts as 9.5 of 10; six of eight jobs' plates were right: 15.5 of 18.
    assert (proposal.now, proposal.proposed, proposal.jobs) == ("0.95", "0.86", 8)
    assert bench(store).snapshot == before.snapshot
    accept(store, proposal, author="ina", time=NOW)
    plate = next(f for f in bench(store).catalogue.features if f.name == "plate")
    assert (plate.identity_reliability, plate.label) == ("0.86", "plate as read")
    with pytest.raises(Conflict):
        accept(store, proposal, author="ina", time=LATER)


def test_accepted_minutes_are_what_the_next_plan_counts(store: Store) -> None:
    proposal = next(p for p in bench(store).learn().proposals if p.name == "operation:core-balance:minutes")
    accept(store, proposal, author="ina", time=NOW)
    operation = next(o for o in bench(store).catalogue.all_operations if o.name == "core-balance")
    assert operation.time == round(float(proposal.proposed) * 60_000)
    assert operation.needs == ("deburr-and-wash",)


def test_two_counters_that_take_one_tag_at_the_same_moment_do_not_overwrite_each_other(store: Store) -> None:
    def take(customer: str) -> bool:
        other = Store.open(store.folder)
        try:
            enter_core(other, {"tag": "HB-105", "customer": customer}, author=customer, time=NOW).sound()
        except Conflict:
            return False
        finally:
            other.close()
        return True

    with ThreadPoolExecutor(4) as pool:
        took = list(pool.map(take, ["ina", "ole", "per", "ulf"]))
    assert took.count(True) == 1
    assert bench(store).record("HB-105").customer == ["ina", "ole", "per", "ulf"][took.index(True)]
