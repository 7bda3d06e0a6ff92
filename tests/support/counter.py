"""The counter in a real browser: a server on loopback over a store, and Debian's chromium, if it is there."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

CHROMIUM: Final = next((p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).exists()), "")
DAY: Final = "2026-11-20"
AXE: Final = Path(__file__).parents[1] / "data" / "axe" / "axe.min.js"
RULES: Final = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
JUDGE: Final = """async rules => (await axe.run(document, {runOnly: {type: 'tag', values: rules}})).violations
    .map(v => [v.id, v.nodes.map(n => [n.html, n.failureSummary]).slice(0, 3)])"""
SMALL: Final = (
    "() => [...document.querySelectorAll('button, select, input:not([type=hidden]):not([type=checkbox])"
    ":not([type=radio]), .go, nav a, .tick a')].filter(e => e.checkVisibility())"
    ".map(e => [e.outerHTML.slice(0, 80), Math.round(e.getBoundingClientRect().height)]).filter(e => e[1] < 44)"
)
SERVER: Final = """
import sys, uvicorn
from pathlib import Path
from api.app import create_app
uvicorn.run(create_app(Path(sys.argv[1]), demo=True), host="127.0.0.1", port=int(sys.argv[2]), log_level="warning")
"""


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def faults_of(page: Any) -> list[Any]:
    """What axe-core finds on a page: WCAG 2.2, A and AA."""
    page.evaluate(AXE.read_text())
    found: list[Any] = page.evaluate(JUDGE, list(RULES))
    return found


def small_targets(page: Any) -> list[Any]:
    """Controls lower than 44 px (WCAG 2.2, success criterion 2.5.5)."""
    found: list[Any] = page.evaluate(SMALL)
    return found


def tab_to(page: Any, wanted: str, most: int = 250) -> None:
    """Press Tab until the focus is on what the selector finds first.

    A page that has just opened, and the end of a page, have no focus at all: the key is then pressed again.
    """
    goal = page.locator(wanted).first.element_handle()
    for _ in range(most):
        page.keyboard.press("Tab")
        here = page.locator(":focus")
        if here.count() and here.first.evaluate("(e, g) => e === g", goal):
            return
    raise AssertionError(f"the keyboard does not reach {wanted}")


def enter(page: Any) -> None:
    """Press Enter and wait for the page it leads to."""
    with page.expect_navigation():
        page.keyboard.press("Enter")


def click(page: Any, control: Any) -> None:
    """Click a link or a button and wait for the page it leads to."""
    with page.expect_navigation():
        control.click()


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of a server over this store; it ends with the block."""
    port = free_port()
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    process = subprocess.Popen([sys.executable, "-c", SERVER, str(folder), str(port)], env=env)
    base = f"http://127.0.0.1:{port}"
    try:
        for _ in range(1200):
            try:
                urllib.request.urlopen(base + "/static/style.css", timeout=1).close()
                break
            except OSError:
                if process.poll() is not None:
                    raise RuntimeError("the server ended before it answered") from None
                time.sleep(0.1)
        yield base
    finally:
        process.terminate()
        process.wait(10)
