"""Pictures of the pages for the documents: the demo shop served on loopback, seen by Debian's chromium.

    .venv/bin/python tests/support/screenshots.py [FOLDER]

Playwright and chromium belong to the tests; where they are missing, this says so and writes nothing.
"""

import sys
from pathlib import Path
from typing import Any, Final

from counter import CHROMIUM, served

from demo_graph.tours import BUILD, CORE, DAY, ENGINE, demo_store
from graph.index.store import Store
from graph.ledger.staging import Staging

FOLDER: Final = Path(__file__).parents[2] / "docs" / "screenshots"
LARGEST: Final = 200 * 1024
"""Bytes of one picture; the documents stay small."""
PLAN: Final = f"core={CORE}&build={BUILD}&engine={ENGINE}&as_of={DAY}"
WIDE, PHONE = (1100, 1000), (375, 812)

SHOTS: Final = (
    ("ask", "/", WIDE, "light"),
    ("machine", "/machine?q=FW-12+2012", WIDE, "light"),
    ("fits", f"/fits?unit=OV46-220&engine=BR6-C&both=yes&as_of={DAY}", WIDE, "light"),
    ("plan", f"/plan?{PLAN}&best=3", (1100, 1300), "light"),
    ("plan-dark", f"/plan?{PLAN}&best=3", WIDE, "dark"),
    ("part", "/thing?name=46-50-310", WIDE, "light"),
    ("identify", "/identify?see=boost+control%3Dvanes&skip=plate", WIDE, "light"),
    ("core-phone", f"/core/{CORE}", PHONE, "light"),
    ("sign-phone", f"/sign?{PLAN}&plan=1", PHONE, "dark"),
    ("pick", f"/pick?{PLAN}&plan=1", WIDE, "light"),
    ("quote", f"/quote?{PLAN}&plan=1&customer=Forest+contractor&sublet=balance+the+core+at+speed", WIDE, "light"),
    ("shop", f"/shop?as_of={DAY}", WIDE, "light"),
    ("ask-phone-dark", "/", PHONE, "dark"),
    ("change", "/changes/{change}", (1100, 1200), "light"),
    ("disputes", "/conflicts", WIDE, "light"),
)
SETTLED: Final = (
    b"maker,number,feature,value,unit,tolerance,source,date\n"
    b"Quenby,0048-5025,contour_exit,61.20,mm,0.01,QB-DWG,2026-11-20\n"
    b"Quenby,0048-4021,turbine_exducer,60.20,mm,0.01,QB-DWG,2026-11-20\n"
)
"""What settles the demo's disputed contour, as it would be sent."""


def main(folder: Path) -> int:
    """Write every picture; the number of pictures that are too large or missing."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        sys.stderr.write("no pictures: playwright is not installed (it comes with the tests)\n")
        return 1
    if not CHROMIUM:
        sys.stderr.write("no pictures: Debian's chromium is not there\n")
        return 1
    folder.mkdir(parents=True, exist_ok=True)
    faults = 0
    with demo_store() as store, served(store) as base, sync_playwright() as play:
        change = _staged(store)
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for name, path, (wide, high), scheme in SHOTS:
            faults += _shot(browser, base + path.format(change=change), folder / f"{name}.png", wide, high, scheme)
        browser.close()
    return faults


def _staged(folder: Path) -> str:
    """A change in the making in the demo's store; its id."""
    store = Store.open(folder)
    staging = Staging(store.ledger)
    made = staging.make("Two sizes from Quenby's drawing", by="ina", time=f"{DAY}T09:12:00Z")
    staging.add(made.id, "csv", "values.csv", SETTLED, by="ina", time=f"{DAY}T09:12:00Z")
    store.close()
    return made.id


def _shot(browser: Any, address: str, file: Path, wide: int, high: int, scheme: str) -> int:
    context = browser.new_context(viewport={"width": wide, "height": high}, color_scheme=scheme)
    page = context.new_page()
    page.goto(address)
    page.screenshot(path=str(file))
    context.close()
    if file.stat().st_size > LARGEST:
        sys.stderr.write(f"{file.name} has {file.stat().st_size} bytes, more than {LARGEST}\n")
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER))
