"""Two machines that share one PostgreSQL ledger, each with an index folder of its own."""

from pathlib import Path

import pytest
import store_postgres
from sqlalchemy import text
from store_rows import money, row, shop

from graph.errors import StoreUnreachable
from graph.index.gather import plan_bundle
from graph.index.store import Store
from graph.ledger.connect import engine_for
from graph.model.bundle import PlanQuestion
from graph.publish import publish_statements, record, undo, verify_store


def test_two_machines_serve_the_same_snapshot(postgres: str, tmp_path: Path) -> None:
    store_postgres.empty(postgres)
    one, two = (Store.create(tmp_path / name, postgres) for name in ("one", "two"))
    publish_statements(one, shop(), author="Ada", time="t")
    assert two.snapshot()[1].n == 0  # it has not looked yet, and serves what it had, whole
    two.recover()
    question = PlanQuestion("core/C-1", "build/stage%201", "engine/Brackmoor/B5", day="2025-06-01")
    assert plan_bundle(*one.snapshot(), question) == plan_bundle(*two.snapshot(), question)
    record(two, [row("rates", name="shop", per_hour=money(1), currency="EUR")], author="Ada", time="t")
    assert plan_bundle(*one.snapshot(), question).rates[0].per_hour == 1
    undo(two, 2, author="Ada", time="t")
    for store in (one, two):
        assert verify_store(store) == []
        store.close()


def test_the_same_rows_give_the_same_catalogue_on_either_database(postgres: str, tmp_path: Path) -> None:
    store_postgres.empty(postgres)
    embedded = Store.create(tmp_path / "embedded")
    publish_statements(embedded, shop(), author="Ada", time="t")
    shared = Store.create(tmp_path / "shared", postgres)
    publish_statements(shared, reversed(shop()), author="Bob", time="later")
    assert shared.catalogue().id == embedded.catalogue().id
    for store in (embedded, shared):
        store.close()


def test_a_database_that_is_lost_on_the_way_is_said_to_be_so_and_found_again(postgres: str, tmp_path: Path) -> None:
    store_postgres.empty(postgres)
    store = Store.create(tmp_path / "shop", postgres)
    publish_statements(store, shop(), author="Ada", time="t")
    admin = engine_for(postgres)
    with pytest.raises(StoreUnreachable, match="does not answer"), store.ledger.reading() as reading:
        with admin.begin() as other:
            ended = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid()"
            other.execute(text(ended + " AND datname = current_database()"))
        reading.head()
    assert verify_store(store) == []
    store.close()
    admin.dispose()
