import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
import store_postgres
from fastapi import FastAPI
from starlette.testclient import TestClient
from store_rows import shop
from writing_desk import caller, shop_app

from graph.index.store import Store
from graph.publish import publish_statements


@pytest.fixture(name="folder")
def folder_fixture(demo_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_folder, tmp_path / "store"))


@pytest.fixture(name="app")
def app_fixture(folder: Path) -> FastAPI:
    return shop_app(folder)


@pytest.fixture(name="here")
def here_fixture(app: FastAPI) -> Iterator[TestClient]:
    with caller(app) as client:
        yield client


@pytest.fixture(scope="session", name="small_folder")
def small_folder_fixture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with the invented small shop of store_rows; tests copy it."""
    folder = tmp_path_factory.mktemp("small") / "store"
    store = Store.create(folder)
    publish_statements(store, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    store.close()
    return folder


@pytest.fixture(name="small")
def small_fixture(small_folder: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(small_folder, tmp_path / "small"))


@pytest.fixture(name="counter")
def counter_fixture(small: Path) -> Iterator[TestClient]:
    """Someone at the small shop's own machine, before there are keys."""
    with caller(shop_app(small)) as client:
        yield client


@pytest.fixture(scope="session", name="postgres")
def postgres_fixture() -> str:
    if not store_postgres.PROGRAMS:
        pytest.skip("NOT TESTED: PostgreSQL is not installed (Debian's package postgresql)")
    return store_postgres.shared()
