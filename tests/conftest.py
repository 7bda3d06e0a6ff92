"""What many tests share: the demo shop in a store, published once a worker."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from demo_graph.tours import publish_demo
from graph.desk import Desk, open_desk

# The same examples on every machine, and no clock: a slow machine is no fault.
settings.register_profile("spoolwright", deadline=None, derandomize=True, database=None)
settings.load_profile("spoolwright")


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store's folder with the demo shop in it; tests only read it."""
    folder = tmp_path_factory.mktemp("demo") / "store"
    publish_demo(folder)
    return folder


@pytest.fixture(scope="session")
def demo_desk(demo_folder: Path) -> Iterator[Desk]:
    """A desk over the demo shop."""
    desk = open_desk(demo_folder)
    yield desk
    desk.close()
