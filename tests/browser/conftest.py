"""A shop of a test file's own, served, and a person in front of it."""

from collections.abc import Iterator
from typing import Any

import pytest
from counter import CHROMIUM, served


@pytest.fixture(scope="module")
def base(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of a demo shop that the tests of one file may write into."""
    from demo_graph.tours import publish_demo

    folder = tmp_path_factory.mktemp("counter") / "store"
    publish_demo(folder)
    with served(folder) as address:
        yield address


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Chromium, once for a file."""
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as play:
        opened = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture
def person(browser: Any, base: str) -> Iterator[Any]:
    """A page of a browser without JavaScript."""
    context = browser.new_context(java_script_enabled=False, base_url=base)
    context.set_default_timeout(120_000)
    yield context.new_page()
    context.close()
