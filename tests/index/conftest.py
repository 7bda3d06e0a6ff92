import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from store_rows import shop

from graph.index.store import Store
from graph.publish import publish_statements


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    made = Store.create(tmp_path / "store")
    yield made
    made.close()


@pytest.fixture(scope="session")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("published") / "store"
    made = Store.create(folder)
    publish_statements(made, shop(), author="Ada", time="2026-01-02T03:04:05Z")
    made.close()
    return folder


@pytest.fixture
def shop_store(published: Path, tmp_path: Path) -> Iterator[Store]:
    folder = tmp_path / "shop"
    shutil.copytree(published, folder)
    made = Store.open(folder)
    yield made
    made.close()
