"""Change sets in the making: claims taken back, faulty rows set aside, zips of CSV files; on the small shop."""

import io
import json
import zipfile
from contextlib import ExitStack
from pathlib import Path

import pytest
from store_rows import shop

from graph.errors import FindingsInTheWay
from graph.index.store import Store
from graph.ledger.staging import Staging
from graph.publish import check_staged, commit_staged, publish_statements, verify_store

TIME = "2026-02-01T00:00:00Z"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    made = Store.create(tmp_path / "store")
    publish_statements(made, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    return made


def staged(store: Store, *items: tuple[str, str, bytes]) -> str:
    staging = Staging(store.ledger)
    id_ = staging.make("a change", by="ina", time=TIME).id
    for form, name, body in items:
        staging.add(id_, form, name, body, by="ina", time=TIME)
    return id_


def codes(store: Store, id_: str, *, set_aside: bool = False) -> list[str]:
    with ExitStack() as stack:
        report, _ = check_staged(store, id_, stack, set_aside=set_aside)
        return [f.code for f in report.findings]


def commit(store: Store, id_: str, *, set_aside: bool = False) -> int | None:
    with store.ledger.reading() as reading:
        head = reading.head().n
    version = Staging(store.ledger).get(id_).version
    done = commit_staged(store, id_, version, head=head, author="ina", time=TIME, set_aside=set_aside)
    return done.change_set.count if done.change_set else None


def held(store: Store, sheet: str) -> list[str]:
    with store.ledger.reading() as reading:
        return [s.id for s in reading.as_of(reading.head().n) if s.sheet == sheet]


def zipped(**files: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr(name, text)
    return out.getvalue()


def test_a_claim_is_taken_back_and_put_right_in_one_change_set(store: Store) -> None:
    before = held(store, "engine_values")
    row = {"maker": "Brackmoor", "engine": "B6", "feature": "flange", "value": "A4", "source": "drawing 7"}
    change = staged(
        store,
        ("back", "", json.dumps(before[:1]).encode()),
        ("rows", "engine_values", json.dumps([row]).encode()),
    )
    assert codes(store, change) == []
    assert commit(store, change) == 2  # one retraction, one assertion
    after = held(store, "engine_values")
    assert set(before) - set(after) == {before[0]}
    assert len(after) == len(before)
    assert verify_store(store) == []


def test_what_others_rest_on_is_not_taken_back_alone(store: Store) -> None:
    change = staged(store, ("back", "", json.dumps(held(store, "parts")[:1]).encode()))
    assert codes(store, change) == ["others-rest-on-it"]
    with pytest.raises(FindingsInTheWay):
        commit(store, change)


def test_taking_back_what_does_not_hold_writes_nothing(store: Store) -> None:
    change = staged(store, ("back", "", json.dumps(["s000000000000000000000000"]).encode()))
    assert codes(store, change) == ["nothing-to-take-back"]
    assert commit(store, change) is None


def test_faulty_rows_are_set_aside_on_the_callers_word_with_what_rests_on_them(store: Store) -> None:
    parts = "maker,number,kind,label\nOstrel,OS-150,cover,one\nOstrel,OS-151,no kind,two\n"
    prices = (
        "maker,number,price,currency,as_of\nOstrel,OS-150,80.00,EUR,2026-01-01\nOstrel,OS-151,9.00,EUR,2026-01-01\n"
    )
    change = staged(store, ("zip", "new.zip", zipped(**{"parts.csv": parts, "prices.csv": prices})))
    with pytest.raises(FindingsInTheWay):
        commit(store, change)
    assert "rests-on-set-aside" in codes(store, change, set_aside=True)
    assert commit(store, change, set_aside=True) == 2  # the sound part and its price
    assert verify_store(store) == []


def test_the_files_of_a_zip_may_rest_on_each_other_whatever_their_order(store: Store) -> None:
    values = "maker,engine,feature,value,source\nBrackmoor,B9,flange,A4,drawing 7\n"
    engines = "maker,engine,label\nBrackmoor,B9,nine\n"
    data = zipped(**{"sheets/engine_values.csv": values, "sheets/engines.csv": engines})
    change = staged(store, ("zip", "engines.zip", data))
    assert codes(store, change) == []
    assert commit(store, change) == 2


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (zipped(**{"parts.csv": "maker,number\n" + "A,B\n" * 1_000_000}), "file-too-large"),  # packed 400 to 1
        (zipped(**{"parts.csv": "maker,number,kind\n", "run.exe": "MZ"}), "file-unreadable"),
        (zipped(**{"a/parts.csv": "maker\n", "b/PARTS.csv": "maker\n"}), "file-unreadable"),
        (zipped(**{"__MACOSX/parts.csv": "x"}), "file-unreadable"),
        (b"PK\x03\x04 nothing of the kind", "file-unreadable"),
        (zipped(**{f"{n}.csv": "x" for n in range(300)}), "file-too-large"),
        (zipped(**{"../../parts.csv": "maker,number,kind,label\nOstrel,OS-9,cover,x\n"}), ""),
    ],
)
def test_a_hostile_zip_is_one_finding(store: Store, data: bytes, said: str) -> None:
    change = staged(store, ("zip", "sent.zip", data))
    assert codes(store, change) == ([said] if said else [])
    if said:
        with pytest.raises(FindingsInTheWay):
            commit(store, change, set_aside=True)  # a fault of a whole file cannot be set aside
