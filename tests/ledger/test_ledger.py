"""The ledger, on SQLite and on PostgreSQL alike."""

import hashlib
import json
import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import insert, text, update
from store_rows import mm, money, part, row, shop

from graph.errors import Conflict, NotFound, StoreDamaged
from graph.ledger.chain import EMPTY, ChangeSet
from graph.ledger.connect import engine_for, refuse_old_library
from graph.ledger.draft import Change, Retraction
from graph.ledger.ledger import Ledger
from graph.ledger.tables import CHANGE_SETS, ENTRIES
from graph.ledger.undo import reversal
from graph.model.statement import Statement


def write(ledger: Ledger, *changes: Change, title: str = "") -> ChangeSet | None:
    with ledger.writing("Ada", "2026-01-02T03:04:05Z", title) as draft:
        draft.add(changes)
        return draft.seal()


def undo(ledger: Ledger, n: int) -> ChangeSet | None:
    with ledger.writing("Ada", "2026-01-02T03:04:06Z") as draft:
        draft.add(reversal(draft.reading, n))
        return draft.seal()


def holds(ledger: Ledger, n: int) -> list[Statement]:
    with ledger.reading() as reading:
        return sorted(reading.as_of(n), key=lambda s: s.id)


def rate(minor: int) -> Statement:
    return row("rates", name="shop", per_hour=money(minor), currency="EUR")


def cover(size: float) -> Statement:
    return row("values", maker="Ostrel", number="OS-100", feature="bore", value=mm(size))


def kind(label: str) -> Statement:
    return row("kinds", kind="cover", label=label)


def test_what_was_written_holds(ledger: Ledger) -> None:
    write(ledger, *shop())
    assert holds(ledger, 1) == sorted(shop(), key=lambda s: s.id)


def test_the_same_file_twice_changes_nothing(ledger: Ledger) -> None:
    write(ledger, *shop())
    with ledger.writing("Ada", "later") as draft:
        draft.add(shop())
        assert (draft.seal(), draft.unchanged) == (None, len(shop()))
    with ledger.reading() as reading:
        assert [c.n for c in reading.history()] == [1]


def test_a_row_names_where_it_was_read(ledger: Ledger) -> None:
    write(ledger, row("kinds", kind="cover", label="cover", line=12))
    with ledger.reading() as reading:
        (found,) = reading.as_of(1)
    assert found.origin is not None
    assert (found.origin.file, found.origin.row) == ("shop.xlsx", 12)


def test_a_later_row_of_a_latest_sheet_replaces_the_earlier_in_the_same_change_set(ledger: Ledger) -> None:
    write(ledger, kind("cover"))
    write(ledger, kind("compressor cover"))
    with ledger.reading() as reading:
        ops = [(e.op, e.sheet) for e in reading.entries(reading.change_set(2))]
    assert ops == [("-", "kinds"), ("+", "kinds")]
    assert holds(ledger, 2) == [kind("compressor cover")]
    assert holds(ledger, 1) == [kind("cover")]


def test_every_claim_of_a_ranked_sheet_stays(ledger: Ledger) -> None:
    write(ledger, cover(52.0))
    write(ledger, cover(52.4))
    assert len(holds(ledger, 2)) == 2


def test_a_key_given_twice_in_one_change_set_keeps_the_last(ledger: Ledger) -> None:
    write(ledger, kind("one"), kind("two"), kind("three"))
    assert holds(ledger, 1) == [kind("three")]
    assert ledger.verify() == []


def test_a_difference_lists_what_came_and_went(ledger: Ledger) -> None:
    write(ledger, kind("cover"), cover(52.0))
    write(ledger, kind("compressor cover"))
    write(ledger, cover(52.4))
    with ledger.reading() as reading:
        forward = {(d.op, d.statement.id) for d in reading.diff(1, 3)}
        back = {(d.op, d.statement.id) for d in reading.diff(3, 1)}
    assert forward == {("-", kind("cover").id), ("+", kind("compressor cover").id), ("+", cover(52.4).id)}
    assert back == {("+" if op == "-" else "-", id_) for op, id_ in forward}


def test_what_was_taken_back_and_said_again_is_no_difference(ledger: Ledger) -> None:
    write(ledger, cover(52.0))
    write(ledger, Retraction(cover(52.0).id))
    write(ledger, cover(52.0))
    with ledger.reading() as reading:
        assert list(reading.diff(1, 3)) == []


def test_undo_brings_the_earlier_state_back(ledger: Ledger) -> None:
    first = write(ledger, *shop())
    write(ledger, kind("other"), rate(9900), *part("OS-777", "cover", bore=mm(1)))
    undone = undo(ledger, 2)
    assert first is not None
    assert undone is not None
    assert undone.state == first.state
    assert holds(ledger, 3) == holds(ledger, 1)
    assert ledger.verify() == []


def test_undo_of_an_undo_does_it_again(ledger: Ledger) -> None:
    write(ledger, kind("one"))
    write(ledger, kind("two"))
    undo(ledger, 2)
    undo(ledger, 3)
    assert holds(ledger, 4) == [kind("two")]


def test_undo_of_what_was_built_on_is_refused_and_says_by_what(ledger: Ledger) -> None:
    write(ledger, kind("one"))
    write(ledger, kind("two"))
    with pytest.raises(Conflict, match="change set 2"):
        undo(ledger, 1)
    write(ledger, Retraction(kind("two").id))
    write(ledger, kind("three"))
    with pytest.raises(Conflict, match="change set 4"):
        undo(ledger, 3)
    assert holds(ledger, 4) == [kind("three")]


def test_undo_of_nothing_is_not_found(ledger: Ledger) -> None:
    with pytest.raises(NotFound):
        undo(ledger, 7)


def test_a_draft_that_fails_leaves_nothing(ledger: Ledger) -> None:
    write(ledger, kind("cover"))
    with pytest.raises(RuntimeError), ledger.writing("Ada", "t") as draft:
        draft.add(shop())
        draft.seal()
        raise RuntimeError
    assert holds(ledger, 9) == [kind("cover")]
    assert ledger.verify() == []


def test_a_draft_that_nobody_seals_is_not_committed(ledger: Ledger) -> None:
    with pytest.raises(RuntimeError, match="not sealed"), ledger.writing("Ada", "t") as draft:
        draft.add(shop())
    with ledger.reading() as reading:
        assert reading.head().n == 0
    assert ledger.verify() == []


def test_a_write_does_not_look_through_the_entries_that_are_there(ledger: Ledger) -> None:
    """A heading written after its entries makes SQLite search all entries for those that refer to it."""
    if not isinstance(ledger.target, Path):
        pytest.skip("SQLite's own way with deferred references")
    with ledger.writing("Ada", "t") as draft:
        draft.add(shop())
        draft.seal()
    steps = 0

    def count() -> int:
        nonlocal steps
        steps += 1
        return 0

    def spent(row: Statement) -> int:
        nonlocal steps
        with ledger.writing("Ada", "t") as draft:
            connection = draft.reading.connection.connection.dbapi_connection
            connection.set_progress_handler(count, 10)  # type: ignore[union-attr]
            steps = 0
            draft.add([row])
            draft.seal()
            connection.set_progress_handler(None, 0)  # type: ignore[union-attr]
        return steps

    few = spent(code_row(0))
    with ledger.writing("Ada", "t") as draft:
        draft.add(code_row(i) for i in range(1, 3_000))
        draft.seal()
    assert spent(code_row(3_000)) <= few + 30


def code_row(i: int) -> Statement:
    return Statement("values", {"maker": "Ostrel", "number": f"OS-{i}", "feature": "mark", "value": {"code": "a"}})


def test_each_hash_covers_its_entries_heading_and_parent(ledger: Ledger) -> None:
    """Recomputed here with hashlib and json alone."""
    write(ledger, kind("cover"), title="first")
    write(ledger, cover(52.0), row("kinds", kind="seal", label="Dichtring ö", line=3))

    def sha(data: object) -> str:
        text_ = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
        return hashlib.sha256(text_.encode()).hexdigest()

    with ledger.reading() as reading:
        parent = "0" * 64
        for c in reading.history():
            lines = "".join(
                "\0".join([e.op, e.statement, e.sheet, e.key, e.content, e.origin]) + "\n"
                for e in reading.entries(c)
            )  # fmt: skip
            assert c.entries == hashlib.sha256(lines.encode()).hexdigest()
            assert c.parent == parent
            said = [c.n, c.author, c.time, c.title, c.format, c.first, c.count, c.entries, c.state, c.parent]
            assert c.hash == sha(said)
            parent = c.hash


def test_the_state_does_not_depend_on_the_way(ledger: Ledger) -> None:
    write(ledger, kind("one"))
    write(ledger, cover(52.0), kind("two"))
    with ledger.reading() as reading:
        there = reading.state_at(2)
    write(ledger, Retraction(kind("two").id), Retraction(cover(52.0).id))
    with ledger.reading() as reading:
        assert reading.state_at(3) == EMPTY
    write(ledger, kind("two"), cover(52.0))
    with ledger.reading() as reading:
        assert reading.state_at(4) == there
        assert reading.version_of(there) == 4


def test_the_shelf_does_not_touch_the_state_of_the_catalogue(ledger: Ledger) -> None:
    first, second = write(ledger, kind("cover")), write(ledger, rate(100))
    assert first is not None
    assert second is not None
    assert first.state == second.state


def test_shelf_rows_are_found_by_what_they_are_about(ledger: Ledger) -> None:
    write(ledger, *shop())
    with ledger.reading() as reading:
        found = list(reading.shelf(1, ("cores", "readings"), ["core/C-1"]))
    assert {s.sheet for s in found} == {"cores", "readings"}
    assert {s.fields["tag"] for s in found} == {"C-1"}


def test_the_tags_of_cores_are_those_that_hold_in_the_order_said(ledger: Ledger) -> None:
    core = [
        Statement("cores", {"tag": tag, "grade": grade}) for tag, grade in (("k1", "A"), ("K1", "A"), ("core/0", ""))
    ]
    write(ledger, *core, Statement("stock", {"maker": "O", "number": "1", "quantity": 2}))
    write(ledger, Statement("cores", {"tag": "k1", "grade": "B"}))
    write(ledger, Retraction(core[2].id))
    with ledger.reading() as reading:
        assert list(reading.tags()) == ["K1", "k1"]


def test_a_newer_format_is_read_and_not_written(ledger: Ledger, target: Path | str) -> None:
    write(ledger, kind("cover"))
    engine = engine_for(target)
    with engine.begin() as connection:
        connection.execute(update(CHANGE_SETS).values(format=99))
    engine.dispose()
    with pytest.raises(StoreDamaged, match="newer"):
        write(ledger, kind("other"))
    assert holds(ledger, 1) == [kind("cover")]


@pytest.mark.parametrize(
    ("damage", "says"),
    [
        ("UPDATE change_sets SET author = 'Bob' WHERE n = 2", "heading"),
        ("DELETE FROM change_sets WHERE n = 2", "change set 2"),
        ("UPDATE entries SET content = replace(content, 'cover', 'lover')", "content"),
        ('UPDATE entries SET origin = \'["x.csv","",1,""]\' WHERE n = 1', "digest"),
        ("UPDATE life SET to_n = 2 WHERE from_n = 1", "life"),
        ("UPDATE life SET statement = 's00' WHERE from_n = 2", "life"),
        ("DELETE FROM life WHERE from_n = 2", "life"),
    ],
)
def test_verify_names_what_was_tampered_with(ledger: Ledger, target: Path | str, damage: str, says: str) -> None:
    write(ledger, kind("cover"))
    write(ledger, cover(52.0))
    assert ledger.verify() == []
    engine = engine_for(target)
    with engine.connect() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SET session_replication_role = replica"))
        else:
            connection.execute(text("COMMIT"))
            connection.execute(text("PRAGMA foreign_keys=OFF"))
            connection.execute(text("BEGIN"))
        connection.execute(text(damage))
        connection.commit()
    engine.dispose()
    assert any(says in fault for fault in ledger.verify())


def test_a_broken_chain_is_not_written_to(target: Path | str, ledger: Ledger) -> None:
    write(ledger, kind("cover"))
    engine = engine_for(target)
    with engine.begin() as connection:
        connection.execute(update(CHANGE_SETS).values(title="other"))
    engine.dispose()
    again = Ledger(target)
    with pytest.raises(StoreDamaged, match="chain"):
        write(again, kind("other"))
    assert holds(again, 1) == [kind("cover")]
    again.close()


def test_an_entry_that_no_change_set_knows_is_named(target: Path | str, ledger: Ledger) -> None:
    write(ledger, kind("cover"))
    engine = engine_for(target)
    words = {"op": "+", "statement": "s1", "sheet": "kinds", "key": "[]", "content": "", "origin": ""}
    with engine.begin() as connection:
        connection.execute(insert(ENTRIES), [{"at": 2, "n": 1, **words}])
    engine.dispose()
    assert any("belong to none" in fault for fault in ledger.verify())


def test_a_commit_without_an_answer_stops_further_writing(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    from sqlalchemy.engine import RootTransaction

    write(ledger, kind("cover"))

    def fail(self: RootTransaction) -> None:
        self.rollback()
        raise OSError("fsync")

    with monkeypatch.context() as patch:
        patch.setattr(RootTransaction, "commit", fail)
        with pytest.raises(OSError, match="fsync"):
            write(ledger, kind("other"))
    with pytest.raises(StoreDamaged, match="nothing more is written"):
        write(ledger, kind("other"))
    again = Ledger(ledger.target)
    write(again, kind("third"))
    assert holds(again, 2) == [kind("third")]
    again.close()


def test_four_writers_wait_for_each_other(ledger: Ledger) -> None:
    def work(name: str) -> None:
        for i in range(5):
            write(ledger, row("kinds", kind=f"{name} {i}", label="x"))

    threads = [threading.Thread(target=work, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with ledger.reading() as reading:
        assert [c.n for c in reading.history()] == list(range(1, 21))
    assert ledger.verify() == []


def test_a_reader_keeps_its_moment_while_others_write(ledger: Ledger) -> None:
    write(ledger, kind("one"))
    with ledger.reading() as reading:
        assert reading.head().n == 1
        write(ledger, kind("two"))
        assert reading.head().n == 1
        assert list(reading.as_of(5)) == [kind("one")]


def test_a_sqlite_with_the_wal_reset_bug_is_refused() -> None:
    """Fixed in 3.51.3 (sqlite.org, "WAL-reset bug", as RELIABILITY has it)."""
    with pytest.raises(StoreDamaged):
        refuse_old_library((3, 51, 2))
    refuse_old_library((3, 51, 3))


LABELS = st.sampled_from("abc")
CHANGES = st.lists(
    st.one_of(
        st.builds(lambda k, label: row("kinds", kind=k, label=label), LABELS, LABELS),
        st.builds(lambda size: cover(float(size)), st.integers(1, 4)),
        st.builds(rate, st.integers(1, 3)),
        st.builds(lambda size: Retraction(cover(float(size)).id), st.integers(1, 4)),
    ),
    max_size=8,
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(CHANGES, min_size=1, max_size=6))
def test_the_ledger_holds_what_a_dictionary_would(
    tmp_path_factory: pytest.TempPathFactory, sets: list[list[Change]]
) -> None:
    """The witness is a plain dict: a latest sheet keeps one row a key, a ranked one every distinct row."""
    ledger = Ledger(tmp_path_factory.mktemp("l") / "ledger.sqlite")
    ledger.create()
    model: dict[object, Statement] = {}
    versions: list[list[str]] = []
    for changes in sets:
        for change in changes:
            if isinstance(change, Retraction):
                model = {k: s for k, s in model.items() if s.id != change.statement}
            else:
                latest = change.sheet in ("kinds", "rates")
                model[(change.sheet, change.key) if latest else change.id] = change
        if write(ledger, *changes):
            versions.append(sorted(s.id for s in model.values()))
    for n, expected in enumerate(versions, 1):
        assert [s.id for s in holds(ledger, n)] == expected
    assert ledger.verify() == []
    ledger.close()
