"""Keys and kept replies, on SQLite and on PostgreSQL alike."""

import hashlib
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import func, select
from store_rows import money, row

from graph.errors import BadQuestion, Conflict, InFlight, KeyReused, NotFound
from graph.ledger.audit import acts
from graph.ledger.keys import Keys
from graph.ledger.ledger import Ledger
from graph.ledger.replies import Asked, Replies, request_digest
from graph.ledger.sidetables import KEYS, REPLIES
from graph.ledger.tables import CHANGE_SETS

MORNING, NOON = "2026-11-20T08:00:00Z", "2026-11-20T12:00:00Z"


def make(ledger: Ledger, name: str = "counter", *scopes: str) -> tuple[str, str]:
    key, text = Keys(ledger).make(name, scopes or ("stock",), by="Ada", time=MORNING)
    return key.id, text


def test_a_key_opens_what_it_was_made_for_and_admin_opens_all(ledger: Ledger) -> None:
    keys = Keys(ledger)
    _, counter = make(ledger, "counter", "stock", "bench")
    _, chief = make(ledger, "chief", "admin")
    held, all_ = keys.holder(counter), keys.holder(chief)
    assert held is not None
    assert all_ is not None
    assert [s for s in ("read", "stock", "bench", "edit", "sign-off", "admin") if held.opens(s)] == [
        "read", "stock", "bench",
    ]  # fmt: skip
    assert all(all_.opens(s) for s in ("read", "stock", "bench", "edit", "sign-off", "admin"))


def test_only_the_digest_of_a_secret_is_kept(ledger: Ledger) -> None:
    id_, text = make(ledger)
    secret = text.split("_", 2)[2]
    assert len(secret) == 43  # 256 bits in base64url without padding: 256 / 6 rounded up
    with ledger.reading_beside() as connection:
        stored = connection.execute(select(KEYS)).one()
    assert secret not in "".join(str(cell) for cell in stored)
    assert stored.digest == hashlib.sha256(secret.encode()).hexdigest()
    assert stored.id == id_


@pytest.mark.parametrize("change", [lambda t: t[:-1], lambda t: t + "A", lambda t: "x" + t, lambda t: t.upper()])
def test_a_key_that_is_not_quite_right_opens_nothing(ledger: Ledger, change: Callable[[str], str]) -> None:
    _, text = make(ledger)
    assert Keys(ledger).holder(change(text)) is None


@pytest.mark.parametrize("text", ["", "_", "sw__", "sw_abc", "sw_\udcff_\udcff", "é" * 10_000, "sw_' OR 1=1_x"])
def test_nonsense_opens_nothing_and_breaks_nothing(ledger: Ledger, text: str) -> None:
    make(ledger)
    assert Keys(ledger).holder(text.encode("utf-8", "replace").decode()) is None


def test_a_revoked_key_opens_nothing_and_its_name_is_taken_for_ever(ledger: Ledger) -> None:
    keys = Keys(ledger)
    id_, text = make(ledger)
    assert keys.revoke(id_, by="Bea", time=NOON).revoked == NOON
    assert keys.holder(text) is None
    assert keys.any()  # the store has not become open again
    with pytest.raises(Conflict):
        make(ledger)
    with pytest.raises(NotFound):
        keys.revoke("nobody", by="Bea", time=NOON)


@pytest.mark.parametrize(("name", "scopes"), [("", ("stock",)), ("a\nb", ("stock",)), ("x", ()), ("x", ("root",))])
def test_a_key_without_name_or_scope_is_refused(ledger: Ledger, name: str, scopes: tuple[str, ...]) -> None:
    with pytest.raises(BadQuestion):
        Keys(ledger).make(name, scopes, by="Ada", time=MORNING)


def test_who_made_and_who_revoked_is_on_record_newest_first(ledger: Ledger) -> None:
    id_, _ = make(ledger)
    Keys(ledger).revoke(id_, by="Bea", time=NOON)
    assert [(a.who, a.did, a.time) for a in acts(ledger)] == [
        ("Bea", "key revoked", NOON),
        ("Ada", "key made", MORNING),
    ]


def test_a_ledger_of_an_earlier_program_gets_the_tables_it_lacks(ledger: Ledger) -> None:
    from graph.ledger.sidetables import LAST

    with ledger.engine.execution_options(writes=True).begin() as connection:
        for table in (LAST, KEYS):
            table.drop(connection)
    opened = Ledger(ledger.target)
    try:
        make(opened)
        assert Keys(opened).any()
    finally:
        opened.close()


def asked(key: str = "k1", body: bytes = b"{}", time: str = NOON, since: str = MORNING) -> Asked:
    return Asked("counter", key, request_digest("PUT", "/v1/x", body), time, since)


def rate(ledger: Ledger, minor: int) -> None:
    with ledger.writing("Ada", NOON) as draft:
        draft.add([row("rates", name="shop", per_hour=money(minor), currency="EUR")])
        draft.seal()


def test_a_write_and_its_key_are_committed_together_or_not_at_all(ledger: Ledger, tmp_path: Path) -> None:
    replies = Replies(ledger, tmp_path)
    with pytest.raises(RuntimeError), replies.noting(asked(), 1), ledger.writing("Ada", NOON) as draft:
        draft.add([row("rates", name="shop", per_hour=money(1), currency="EUR")])
        raise RuntimeError
    assert replies.earlier(asked()) is None
    with replies.noting(asked(), 1):
        rate(ledger, 1)
    found = replies.earlier(asked())
    assert found is not None
    assert (found.steps, found.status) == (1, 0)
    replies.keep(asked(), 201, "{}", b"done")
    found = replies.earlier(asked())
    assert found is not None
    assert (found.status, found.body) == (201, b"done")


def test_a_key_with_another_request_is_refused(ledger: Ledger, tmp_path: Path) -> None:
    replies = Replies(ledger, tmp_path)
    with replies.noting(asked(), 1):
        rate(ledger, 1)
    with pytest.raises(KeyReused):
        replies.earlier(asked(body=b'{"a": 1}'))


def test_a_key_is_forgotten_after_its_time(ledger: Ledger, tmp_path: Path) -> None:
    replies = Replies(ledger, tmp_path)
    with replies.noting(asked(), 1):
        rate(ledger, 1)
    later = asked(body=b"other", time="2026-11-22T00:00:00Z", since="2026-11-21T00:00:00Z")
    assert replies.earlier(later) is None
    with replies.noting(later, 1):
        rate(ledger, 2)
    with ledger.reading_beside() as connection:
        assert connection.execute(select(func.count()).select_from(REPLIES)).scalar() == 1


def test_two_with_one_key_at_the_same_moment_are_not_both_carried_out(ledger: Ledger, tmp_path: Path) -> None:
    replies = Replies(ledger, tmp_path)
    outcomes: list[str] = []
    gate = threading.Barrier(6)

    def write() -> None:
        gate.wait()
        try:
            with replies.alone(asked()):
                if replies.earlier(asked()) is None:
                    with replies.noting(asked(), 1):
                        rate(ledger, 1)
                    outcomes.append("written")
                else:
                    outcomes.append("known")
        except InFlight:
            outcomes.append("in flight")

    threads = [threading.Thread(target=write) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(set(outcomes) - {"known", "in flight"}) == ["written"]
    assert outcomes.count("written") == 1
    with ledger.reading() as reading:
        assert reading.connection.execute(select(func.count()).select_from(CHANGE_SETS)).scalar() == 1
    with replies.alone(asked()):
        pass  # nobody holds it any more
