"""First answers of the counter's pages on the demo shop: processor time, an address each in a process of its own.

The process has begun as the server begins: it has looked into the builds, and no page was asked for. Warm: it has
answered other questions too, so that only this answer is new. Given: the same page once more, which is what the page
itself costs. Processor time, not the clock's, since the clock also counts what else the machine does; a quiet
machine's clock is within some hundredths of it.
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.measurement import Measurement
from demo_graph.tours import publish_demo

GOAL = 0.3
"""Seconds of a first answer."""
DAY = "2026-11-20"
WARM = (f"/fits?unit=OV46-140&engine=BR6-D&as_of={DAY}", f"/plan?core=HB-018&build=larger-wheels&best=1&as_of={DAY}")
PAGES = {
    "/": "/",
    "/fits, both ways": f"/fits?unit=OV46-220&engine=BR6-C&both=yes&as_of={DAY}",
    "/plan, three ways": f"/plan?core=HB-017&build=larger-wheels&engine=BR6-C&best=3&as_of={DAY}",
    "/rank": f"/rank?build=larger-wheels&as_of={DAY}",
    "/reach": f"/reach?core=HB-017&as_of={DAY}",
}
ASK = """
import json, sys, time
from pathlib import Path
from starlette.testclient import TestClient
from api.app import create_app
from api.pages.frame import warm
from api.resident import rehearse, stay
app = create_app(Path(sys.argv[1]), demo=True)
warm(app, app.state.current.desk())
rehearse(app.state.current.desk(), sys.argv[3])
stay()
times = []
with TestClient(app) as client:
    for path in json.loads(sys.argv[2]):
        start = time.process_time()
        assert client.get(path).status_code == 200
        times.append(time.process_time() - start)
print(json.dumps(times))
"""


def _times(store: Path, paths: list[str]) -> list[float]:
    asked = [sys.executable, "-c", ASK, str(store), json.dumps(paths), DAY]
    told: list[float] = json.loads(subprocess.run(asked, check=True, capture_output=True, text=True).stdout)
    return told


def run() -> Iterator[Measurement]:
    """Each page at once, warm, and given again."""
    with tempfile.TemporaryDirectory() as folder:
        store = Path(folder) / "store"
        publish_demo(store)
        for name, path in PAGES.items():
            cold = _times(store, [path])[0]
            *_, warm, given = _times(store, [*WARM, path, path])
            for when, seconds in (("first in a new process", cold), ("first, warm", warm), ("given before", given)):
                yield Measurement(
                    f"page {name}, {when}", seconds, None, None, f"{GOAL} s", seconds <= GOAL, note="processor time"
                )
