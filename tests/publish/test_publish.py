"""Publishing files: all or nothing, or with the faulty rows set aside."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from store_rows import money, row

from graph.errors import BadQuestion, Conflict
from graph.index.store import Store
from graph.publish import check, publish, record, undo, verify_store

SHEETS = {
    "kinds": "kind,label\ncover,compressor cover\nwheel,wheel\n",
    "features": "feature,label,type,unit\nbore,bore,length,mm\n",
    "parts": "maker,number,kind,label\nOstrel,OS-1,cover,one\nOstrel,OS-2,cover,two\n",
    "values": "maker,number,feature,value,unit\nOstrel,OS-1,bore,52.4,mm\nOstrel,OS-2,bore,2 1/16,in\n",
}


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    made = Store.create(tmp_path / "store")
    yield made
    made.close()


def folder(tmp_path: Path, **changed: str) -> Path:
    place = tmp_path / f"shop-{len(list(tmp_path.iterdir()))}"
    place.mkdir()
    for name, text in {**SHEETS, **changed}.items():
        if text:
            (place / f"{name}.csv").write_text(text)
    return place


def test_a_sound_folder_is_published_once(store: Store, tmp_path: Path) -> None:
    path = folder(tmp_path)
    first = publish(path, store, author="Ada", time="t")
    assert first.published
    assert first.change_set is not None
    assert [p.number for p in store.catalogue().parts_of_kinds(["cover"])] == ["OS-1", "OS-2"]
    again = publish(path, store, author="Ada", time="t")
    assert (again.published, again.change_set, again.unchanged) == (True, None, 7)
    assert verify_store(store) == []


def test_one_fault_keeps_everything_out_and_all_are_named(store: Store, tmp_path: Path) -> None:
    bad = SHEETS["values"] + "Ostrel,OS-2,bore,-4,mm\nOstrel,OS-9,bore,4,mm\nOstrel,OS-1,bore,nan,mm\n"
    report = publish(folder(tmp_path, values=bad), store, author="Ada", time="t")
    assert not report.published
    errors = [f for f in report.findings if f.severity == "error"]
    assert {f.origin.row for f in errors} == {4, 5, 6}
    with store.ledger.reading() as reading:
        assert reading.head().n == 0


def test_check_writes_nothing_and_finds_the_same(store: Store, tmp_path: Path) -> None:
    path = folder(tmp_path, values=SHEETS["values"] + "Ostrel,OS-9,bore,4,mm\n")
    report = check(path, store)
    assert report.faulty
    assert report.findings == publish(path, store, author="Ada", time="t").findings
    assert "ValidationReport" in report.shacl()


def test_a_faulty_row_is_set_aside_with_all_that_rests_on_it(store: Store, tmp_path: Path) -> None:
    parts = SHEETS["parts"].replace("OS-2,cover", "OS-2,nozzle")  # there is no such kind
    report = publish(folder(tmp_path, parts=parts), store, author="Ada", time="t", set_aside=True)
    assert report.published
    assert {(o.sheet, o.row) for o in report.aside} == {("parts", 3), ("values", 3)}
    assert [p.number for p in store.catalogue().parts_of_kinds(["cover", "nozzle"])] == ["OS-1"]
    assert [f.code for f in report.findings if f.origin.sheet == "values"] == ["rests-on-set-aside"]


def test_a_row_whose_target_is_in_the_store_is_not_set_aside(store: Store, tmp_path: Path) -> None:
    publish(folder(tmp_path), store, author="Ada", time="t")
    parts = "maker,number,kind,label\nOstrel,OS-2,nozzle,other\n"
    values = "maker,number,feature,value,unit\nOstrel,OS-2,bore,60,mm\n"
    path = folder(tmp_path, parts=parts, values=values, kinds="", features="")
    report = publish(path, store, author="Ada", time="t", set_aside=True)
    assert {(o.sheet, o.row) for o in report.aside} == {("parts", 2)}
    assert len(store.catalogue().part("part/Ostrel/OS-2").claims) == 2


def test_a_file_that_cannot_be_read_is_in_the_way_whatever_is_asked(store: Store, tmp_path: Path) -> None:
    report = publish(tmp_path / "nothing.xlsx", store, author="Ada", time="t", set_aside=True)
    assert not report.published
    assert report.findings


def test_a_small_file_may_point_to_what_the_store_holds(store: Store, tmp_path: Path) -> None:
    publish(folder(tmp_path), store, author="Ada", time="t")
    path = tmp_path / "values.csv"
    path.write_text("maker,number,feature,value,unit\nOstrel,os 1,bore,52.6,mm\n")
    assert publish(path, store, author="Ada", time="t").published
    assert len(store.catalogue().part("part/Ostrel/OS-1").claims) == 2


def test_undo_takes_a_file_back(store: Store, tmp_path: Path) -> None:
    empty = store.catalogue().id
    publish(folder(tmp_path), store, author="Ada", time="t")
    assert undo(store, 1, author="Ada", time="t").catalogue == empty
    assert store.catalogue().count("part") == 0
    with pytest.raises(Conflict):
        undo(store, 1, author="Ada", time="t")


def test_the_catalogue_is_not_written_by_the_shelf_door(store: Store) -> None:
    with pytest.raises(BadQuestion):
        record(store, [row("kinds", kind="cover", label="x")], author="Ada", time="t")
    done = record(store, [row("rates", name="shop", per_hour=money(1), currency="EUR")], author="Ada", time="t")
    assert done.change_set is not None
