"""Two machines that share one PostgreSQL ledger, each with an index folder of its own."""

from pathlib import Path

import store_postgres
from store_rows import money, row, shop

from graph.index.gather import plan_bundle
from graph.index.store import Store
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
