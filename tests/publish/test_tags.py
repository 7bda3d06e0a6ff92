"""Two tags that one person cannot keep apart: the second is refused at every door, and the first is named."""

import json
import unicodedata
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient
from typer.testing import CliRunner

from api.app import create_app
from api.cli.main import app
from graph.desk import Desk
from graph.desk.bench import Bench
from graph.errors import Conflict, NotFound
from graph.identifiers import tag_misread, tag_spelling
from graph.index.store import Store
from graph.ledger.staging import Staging
from graph.model.statement import Statement
from graph.publish import check, enter_core, entering, publish, publish_statements, remarks, verify_store
from graph.publish.staged import check_staged
from graph.triples import serialise

NOW = "2026-11-20T09:00:00Z"
SAME = [
    "hb-101",
    "HB-101 ",
    "HB 101",
    "HB_101",
    "HB – 101",
    "HB\u2010101",
    "HB\u2212101",
    "ＨＢ-１０１",
    "Hb\u00a0101",
]
"""One tag, by the Unicode charts: case, space, underscore, en dash, hyphen, minus, full width, no-break space."""
OTHER = ["HB-102", "HB101", "HB-1-01", "HB-101a", "HB/101"]


@pytest.fixture(name="store")
def store_fixture(tmp_path: Path) -> Iterator[Store]:
    opened = Store.create(tmp_path / "store")
    assert enter_core(opened, {"tag": "HB-101", "grade": "A"}, author="ina", time=NOW).change_set
    yield opened
    opened.close()


def tags(store: Store) -> list[str]:
    return [core.tag for core in Desk.over(store).shelf.cores()]


@pytest.mark.parametrize("tag", SAME)
def test_the_same_tag_written_otherwise_is_refused_and_the_first_named(store: Store, tag: str) -> None:
    if tag.strip() == "HB-101":
        with pytest.raises(Conflict, match="HB-101"):
            enter_core(store, {"tag": tag}, author="ole", time=NOW)
    else:
        entered = enter_core(store, {"tag": tag}, author="ole", time=NOW)
        assert [f.code for f in entered.findings if f.severity == "error"] == ["tag-taken"]
        assert "HB-101" in entered.findings[0].why
    assert tags(store) == ["HB-101"]
    assert Bench(Desk.over(store)).record(tag).tag == "HB-101"  # whoever asks so is shown the one there is


@pytest.mark.parametrize("tag", OTHER)
def test_another_tag_is_taken(store: Store, tag: str) -> None:
    entered = enter_core(store, {"tag": tag}, author="ole", time=NOW)
    assert entered.findings == ()
    assert sorted(tags(store)) == sorted(["HB-101", tag])


@pytest.mark.parametrize("tag", ["HB-1O1", "hb-lo1", "HB-I01"])
def test_a_tag_that_is_easily_misread_is_taken_with_a_warning(store: Store, tag: str) -> None:
    entered = enter_core(store, {"tag": tag}, author="ole", time=NOW)
    assert [(f.code, f.severity) for f in entered.findings] == [("tag-misread", "warning")]
    assert "HB-101" in entered.findings[0].why
    assert len(tags(store)) == 2


@given(st.text("aAbB 01oOlI-_–\u00a0\u2212ﬁé", min_size=1, max_size=6))
def test_the_spelling_does_not_hang_on_case_form_or_sort_of_dash(tag: str) -> None:
    spelled = tag_spelling(tag)
    assert spelled == tag_spelling(spelled) == tag_spelling(f" {tag} ")
    assert spelled == tag_spelling(tag.swapcase()) == tag_spelling(unicodedata.normalize("NFD", tag))
    assert spelled == tag_spelling(tag.replace(" ", "-")) == tag_spelling(tag.replace("-", "_"))
    assert tag_misread(tag) == tag_misread(spelled)


def test_a_workbook_a_graph_and_a_change_in_the_making_are_refused_too(store: Store, tmp_path: Path) -> None:
    sheet = tmp_path / "cores.csv"
    sheet.write_text("tag,grade\nhb_101,B\nHB-200,B\nhb 200,C\n")
    report = publish(sheet, store, author="ole", time=NOW)
    found = [(f.code, f.origin.row, "HB-101" in f.why or "HB-200" in f.why) for f in report.findings]
    assert (report.published, found) == (False, [("tag-taken", 2, True), ("tag-taken", 4, True)])
    turtle = tmp_path / "cores.ttl"
    turtle.write_bytes(b"".join(serialise([Statement("cores", {"tag": "hb_101", "grade": "B"})], "text/turtle")))
    assert [f.code for f in check(turtle, store).findings if f.severity == "error"] == ["tag-taken"]
    staging = Staging(store.ledger)
    change = staging.make("two cores", by="ole", time=NOW)
    for tag in ("HB-300", "hb-300"):
        body = json.dumps([{"tag": tag}]).encode()
        staging.add(change.id, "rows", "cores", body, by="ole", time=NOW)
    with ExitStack() as stack:
        assert [f.code for f in check_staged(store, change.id, stack)[0].findings] == ["tag-taken"]
    assert tags(store) == ["HB-101"]


def test_a_core_that_a_workbook_brought_meanwhile_is_not_doubled(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The other counter's core is committed between this one's look and its lock.
    real = entering._read

    def late(*args: object, **more: object) -> object:
        read = real(*args, **more)  # type: ignore[arg-type]
        other = Store.open(store.folder)
        publish_statements(other, [Statement("cores", {"tag": "hb-400"})], author="ole", time=NOW)
        other.close()
        return read

    monkeypatch.setattr(entering, "_read", late)
    with pytest.raises(Conflict, match="hb-400"):
        enter_core(store, {"tag": "HB-400"}, author="ina", time=NOW)


def test_a_store_that_has_both_opens_works_and_says_it(store: Store) -> None:
    publish_statements(store, [Statement("cores", {"tag": "hb-101"})], author="older program", time=NOW)
    again = Store.open(store.folder)
    assert verify_store(again) == []
    assert len(remarks(again)) == 1
    assert "HB-101 and hb-101" in remarks(again)[0]
    for tag, grade in (("HB-101", "B"), ("hb-101", "C")):
        assert enter_core(again, {"tag": tag, "grade": grade}, author="ina", time=NOW, correct=True).change_set
        assert Bench(Desk.over(again)).record(tag).grade == grade
    with pytest.raises(NotFound):
        Bench(Desk.over(again)).record("Hb_101")  # which of the two is not guessed
    told = CliRunner().invoke(app, ["sound", "--store", str(again.folder)])
    assert told.exit_code == 0
    assert "HB-101 and hb-101" in " ".join(told.stdout.split())
    said = json.loads(CliRunner().invoke(app, ["sound", "--store", str(again.folder), "--json"]).stdout)
    assert (said["sound"], len(said["remarks"])) == (True, 1)
    again.close()


def test_command_line_and_http_name_the_first(store: Store) -> None:
    words = ["core", "add", "--tag", "hb 101", "--grade", "A", "--author", "ole", "--store", str(store.folder)]
    done = CliRunner().invoke(app, words)
    assert done.exit_code != 0
    assert "HB-101" in done.output
    client = TestClient(create_app(store.folder), base_url="http://127.0.0.1", client=("127.0.0.1", 5000))
    with client:
        answer = client.post("/v1/cores", json={"tag": "hb_101", "author": "ole"})
        assert answer.status_code == 422
        assert "HB-101" in answer.text
    assert tags(store) == ["HB-101"]
