"""The guided tours: which commands show what, and a throw-away store of the demo shop to run them on."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final
from urllib.parse import urlencode

from demo_graph.data import workbook
from graph import publish
from graph.errors import FindingsInTheWay
from graph.index.store import Store

DAY: Final = "2026-11-20"
"""The day on which the tours read prices and supersessions, so that they answer alike whenever they are run."""

AUTHOR: Final = "demo"
TIME: Final = "2026-11-20T08:00:00Z"
"""Author and time of the demo's change set: the same data gives the same snapshot on every machine."""

CORE, BUILD, ENGINE = "HB-017", "larger-wheels", "BR6-C"


@dataclass(frozen=True, slots=True)
class Tour:
    """Commands in order. `page` is the same question on the page; `answer` the command whose JSON is the tour's."""

    text: str
    commands: tuple[tuple[str, ...], ...]
    page: str = ""
    answer: int = -1


FAULTY: Final = workbook().parent / "faulty"
"""A folder of CSV with a dozen faults in it, for the tour that shows how they are named."""

MAP: Final = workbook().parent / "maps" / "ov46-62.csv"
"""An invented compressor map with its own reference state."""

JOBS: Final = workbook().parent / "jobs.csv"
"""The jobs of one day, for the shelf."""

_SITE = ("--manifold", "270 kPa", "--height", "1600 m")
_CUT = ("--removal", "1.535", "--uncertainty", "0.1", "--core-shift", "0.5", "--limit", "4.5")
_SPEEDS = ("--speed", "1400 rpm", "--speed", "1800 rpm", "--speed", "2200 rpm")
_AIR = ("--displacement", "7.2 L", "--pressure", "270 kPa", "--temperature", "325 K")
_DRAWN = (*_AIR, *_SPEEDS, "--height", "0 m", "--height", "1600 m", "--limit", "112000 rpm")
_THIN = ("--core", "HB-031", "--build", "own-castings-angled", "--engine", "BR6-D")
_PLAN = ("plan", "--core", CORE, "--build", BUILD, "--engine", ENGINE, "--as-of", DAY)

TOURS: Final = {
    "plan": Tour(
        f"what parts and machining turn core {CORE} into the build {BUILD}",
        ((*_PLAN, "--best", "3"),),
        "/plan?" + urlencode({"core": CORE, "build": BUILD, "engine": ENGINE, "best": 3, "as_of": DAY}),
    ),
    "fits": Tour(
        "will the angled unit OV46-220 go onto the engine BR6-C, and the other way round",
        (("fits", "--unit", "OV46-220", "--engine", "BR6-C", "--both", "--as-of", DAY),),
        "/fits?" + urlencode({"unit": "OV46-220", "engine": "BR6-C", "both": "yes", "as_of": DAY}),
    ),
    "pick": Tour(
        f"the pick list for core {CORE}",
        ((*_PLAN, "--save", "plan.json"), ("pick", "plan.json", "--as-of", DAY)),
        "/pick?" + urlencode({"core": CORE, "build": BUILD, "engine": ENGINE, "plan": 1, "as_of": DAY}),
    ),
    "identify": Tour(
        "what is this core: by what is seen, and HB-013 whose plate and rotor disagree",
        (
            ("identify", "--see", "boost control=vanes", "--see", "downpipe=angled"),
            ("identify", "--core", "HB-013", "--arithmetic"),
        ),
    ),
    "inspect": Tour(
        "what becomes of the parts of HB-017, and a reading that is too close to call",
        (
            ("core", "show", "--tag", "HB-017"),
            ("core", "inspect", "--tag", "HB-017"),
            ("core", "inspect", "--tag", "HB-012"),
        ),
    ),
    "settle": Tour(
        "what to measure so that it is known",
        (
            ("core", "settle", "--unit", "QN48-25", "--engine", "BR6-F", "--as-of", DAY),
            ("core", "settle", "--tag", "HB-023", "--build", "own-castings-angled", "--as-of", DAY),
        ),
    ),
    "sheet": Tour(
        f"the route sheet for core {CORE}: a page a part, assembly, records, what else changes",
        ((*_PLAN, "--save", "plan.json"), ("sheet", "plan.json", *_SITE)),
        "/sheet?" + urlencode({"core": CORE, "build": BUILD, "engine": ENGINE, "plan": 1, "as_of": DAY}),
    ),
    "calc": Tour(
        "shop calculations, each with its source: a fit, balance, air, the wall that a cut leaves",
        (
            ("calc", "fit", "25", "H7/g6"),
            ("calc", "balance", "180 g", "98000 rpm"),
            ("calc", "air", "7.2 L", "2200 rpm", "--pressure", "270 kPa", "--temperature", "325 K"),
            ("calc", "wall", "12h=7.4", "3h=7.1", "6h=6.9", "9h=7.6", *_CUT),
        ),
    ),
    "map": Tour(
        "a compressor map at sea level and at 1600 m: where it surges, what is left of the speed limit",
        (("calc", "map", str(MAP), *_DRAWN),),
    ),
    "why": Tour(
        "why HB-031 cannot get the larger wheels in its own castings, what would, and the proof judged",
        (
            ("why", *_THIN, "--as-of", DAY, "--save", "why.json"),
            ("verify", "why.json"),
        ),
        answer=0,
    ),
    "unknown": Tour(
        "a plan that hangs on one wall and one that hangs on one journal: each case, and what settles it",
        (
            ("unknown", "--core", "HB-023", "--build", "own-castings-angled", "--as-of", DAY),
            ("unknown", "--core", "HB-012", "--build", "own-rotor-140", "--as-of", DAY),
        ),
    ),
    "weigh": Tour(
        "cheap or quick: the plans for HB-022 that none beats in both, and the proof judged",
        (
            ("weigh", "--core", "HB-022", "--build", BUILD, "--as-of", DAY, "--save", "weigh.json"),
            ("verify", "weigh.json"),
        ),
        answer=0,
    ),
    "rank": Tour(
        f"which core on the shelf is the best start for {BUILD}, and with the shop's own parts only",
        (
            ("rank", "--build", BUILD, "--as-of", DAY, "--best", "3", "--wish", "only-stock"),
            ("rank", "--build", BUILD, "--as-of", DAY),
        ),
    ),
    "reach": Tour(
        "all that HB-022 can become, cheapest first, and the least that puts OV46-140 onto BR6-E",
        (
            ("least", "--unit", "OV46-140", "--engine", "BR6-E", "--as-of", DAY),
            ("reach", "--core", "HB-022", "--as-of", DAY),
        ),
    ),
    "shelf": Tour("the day's jobs against one shelf", (("shelf", "plan", str(JOBS), "--as-of", DAY),)),
    "interchange": Tour(
        "what may sit in place of a bearing housing, then every assertion held against the features",
        (("interchange", "46-30-140"), ("interchange", "--report")),
    ),
    "check": Tour(
        "a workbook with faults in it: every one is named, nothing is published",
        (("check", str(FAULTY)),),
    ),
}


def publish_demo(folder: Path) -> None:
    """Publish the demo shop into a store; publishing it twice changes nothing.

    Raises
    ------
    FindingsInTheWay
        The workbook has faults, which its own tests forbid.
    """
    report = publish.publish(
        workbook(), Store.create(folder), author=AUTHOR, time=TIME, title="Hollin Beck's workbook"
    )
    if not report.published:
        faults = [f for f in report.findings if f.severity == "error"]
        raise FindingsInTheWay(f"the demo workbook has {len(faults)} faults: {faults[:3]}")


@contextmanager
def demo_store() -> Iterator[Path]:
    """A store with the demo shop in it, gone when the block ends."""
    with tempfile.TemporaryDirectory(prefix="spoolwright-demo-") as name:
        folder = Path(name) / "store"
        publish_demo(folder)
        yield folder
