"""Answers per second and CPU per answer over HTTP, beside a bare FastAPI route that returns the same bytes.

Both servers run at once in processes of their own, with the same server settings; the asker is this process. Each
pair is measured in turns, so that what else the machine does falls on both.

Fresh: the same part, or pair of unit and engine, asked for another day each time, so that this answer was not given
before; what is known of the part or the unit, and what the pair's joints come to, was worked out for the first of
them. Asked once each: a server just started, and no part, pair, or part in a seat asked for twice; the pairs are few,
so that their rate says little and their CPU counts.
"""

import asyncio
import itertools
import json
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import repeat
from pathlib import Path
from urllib.parse import urlencode

import psutil

from benchmarks.measurement import Measurement
from demo_graph.tours import publish_demo
from graph.desk import Desk
from graph.desk.standing import fits_standing
from graph.index.store import Store
from graph.model.statement import name_in

SECONDS, ROUNDS = 1.2, 3
CONNECTIONS = 4
CROWD = 32
DAYS = 90_000
SEATS = 150
UNIT, ENGINE = "OV46-220", "BR6-D"
PLAN = {"core": "HB-017", "build": "larger-wheels", "engine": "BR6-C"}

SERVERS = {
    "ours": """
import sys, uvicorn
from datetime import date
from pathlib import Path
from api.app import create_app
from api.pages.frame import warm
from api.resident import rehearse, stay
from api.settings import Serving
app = create_app(Path(sys.argv[2]), demo=True, serving=Serving(workers=1))
desk = app.state.current.desk()
warm(app, desk)
rehearse(desk, date.today().isoformat())
stay()
uvicorn.run(app, port=int(sys.argv[1]), log_level="warning", http="h11", access_log=False, server_header=False)
""",
    "bare": """
import sys, uvicorn
from pathlib import Path
from fastapi import FastAPI
from fastapi.responses import Response
app = FastAPI()
for file in Path(sys.argv[2]).glob("*.bytes"):
    def route(body=file.read_bytes()):
        async def answer() -> Response:
            return Response(body, media_type="application/json")
        return answer
    app.get("/" + file.stem)(route())
each = [file.read_bytes() for file in sorted(Path(sys.argv[2]).glob("*.each"))]
@app.get("/each/{n}")
async def one(n: int) -> Response:
    return Response(each[n % len(each)], media_type="application/json")
uvicorn.run(app, port=int(sys.argv[1]), log_level="warning", http="h11", access_log=False, server_header=False)
""",
}
"""The same server under both, and ours made ready for questions, as `spoolwright serve` does it."""


@dataclass
class Server:
    """One server's process and where it listens."""

    process: psutil.Popen
    port: int

    @classmethod
    def start(cls, which: str, folder: Path) -> "Server":
        """Start it and wait until it answers."""
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = int(probe.getsockname()[1])
        command = [sys.executable, "-c", SERVERS[which], str(port), str(folder)]
        made = cls(psutil.Popen(command, stdout=subprocess.DEVNULL), port)
        for _ in range(1200):
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                return made
            except OSError:
                time.sleep(0.1)
        made.stop()
        raise RuntimeError(f"{which} did not start")

    def cpu(self) -> float:
        """Seconds of processor time that it and its workers took, as the kernel's scheduler counts them."""
        everyone = [self.process.pid, *(one.pid for one in self.process.children(recursive=True))]
        threads = (file for pid in everyone for file in Path(f"/proc/{pid}/task").glob("*/schedstat"))
        return sum(int(file.read_text().split()[0]) for file in threads) / 1e9

    def stop(self) -> None:
        """End it and its workers."""
        self.process.terminate()
        self.process.wait(15)


@dataclass
class Load:
    """What one stretch of asking came to."""

    rate: float
    cpu: float  # seconds an answer
    p99: float


async def _one(port: int, paths: Iterator[str], until: float, took: list[float]) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    for path in paths:
        began = time.perf_counter()
        if began > until:
            break
        writer.write(f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
        head = await reader.readuntil(b"\r\n\r\n")
        if not head.startswith(b"HTTP/1.1 200"):
            raise RuntimeError(f"{path}: {head[:200]!r}")
        length = int(head.lower().partition(b"content-length:")[2].partition(b"\r\n")[0])
        await reader.readexactly(length)
        took.append(time.perf_counter() - began)
    writer.close()


def load(server: Server, paths: Iterator[str], connections: int = CONNECTIONS, seconds: float = SECONDS) -> Load:
    """Ask over so many connections for so long, or until there is nothing left to ask."""
    took: list[float] = []
    cpu, began = server.cpu(), time.perf_counter()

    async def crowd() -> None:
        until = time.perf_counter() + seconds
        await asyncio.gather(*(_one(server.port, paths, until, took) for _ in range(connections)))

    asyncio.run(crowd())
    lasted = time.perf_counter() - began
    p99 = statistics.quantiles(took, n=100)[98] if len(took) > 1 else took[0]
    return Load(len(took) / lasted, (server.cpu() - cpu) / len(took), p99)


def fetch(server: Server, path: str) -> bytes:
    """One answer."""
    import urllib.request  # noqa: PLC0415 - only here, and before anything is measured

    with urllib.request.urlopen(f"http://127.0.0.1:{server.port}{path}") as answer:
        return bytes(answer.read())


def fresh(path: str, name: str) -> Iterator[str]:
    """The question with another day each time, so that no answer was given before."""
    mark = "&" if "?" in path else "?"
    for n in itertools.cycle(range(DAYS)):
        yield f"{path}{mark}{name}={2027 + n // 336:04d}-{n // 28 % 12 + 1:02d}-{n % 28 + 1:02d}"


def compared(
    what: str, ours: Server, bare: Server, paths: Iterator[str], stem: str, goal: float | None
) -> Iterator[Measurement]:
    """Both, in turns."""
    bytes_ = repeat(f"/{stem}")
    yield from told(what, [(load(ours, paths), load(bare, bytes_)) for _ in range(ROUNDS)], goal)


def told(what: str, pairs: Sequence[tuple[Load, Load]], goal: float | None) -> Iterator[Measurement]:
    """Answers per second and CPU per answer of both; medians."""
    rate, other = (statistics.median(pair[side].rate for pair in pairs) for side in (0, 1))
    yield Measurement(
        f"answers: {what}",
        rate,
        other,
        rate / other,
        f"at least {goal:g} of a bare route" if goal else "",
        goal is None or rate / other >= goal,
        "/s",
    )
    cpu, own = (statistics.median(pair[side].cpu for pair in pairs) * 1000 for side in (0, 1))
    yield Measurement(f"CPU an answer: {what}", cpu, own, cpu / own, "", True, "ms", "the server and its workers")


def run() -> Iterator[Measurement]:
    """Each question given before and asked anew; then both kinds of server while plans are made."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        publish_demo(folder / "store")
        ours = Server.start("ours", folder / "store")
        parts = json.loads(fetch(ours, "/v1/parts?limit=1000"))["items"]
        part = max(parts, key=lambda one: (len(one["claims"]), one["key"]))["key"].removeprefix("part/")
        asked = {
            "parts": f"/v1/parts/{part}",
            "fits": "/v1/fits?" + urlencode({"unit": UNIT, "engine": ENGINE, "as_of": "2026-11-20"}),
            "plans": "/v1/plans?" + urlencode({**PLAN, "as_of": "2026-11-20"}),
        }
        (folder / "bytes").mkdir()
        for stem, path in asked.items():
            (folder / "bytes" / f"{stem}.bytes").write_bytes(fetch(ours, path))
        bare = Server.start("bare", folder / "bytes")
        try:
            for stem, path in asked.items():
                size = (folder / "bytes" / f"{stem}.bytes").stat().st_size
                again = repeat(path)
                yield from compared(f"/v1/{stem} ({size / 1000:,.1f} kB), given before", ours, bare, again, stem, 0.6)
            yield from compared("/v1/parts, fresh", ours, bare, fresh(asked["parts"], "day"), "parts", 0.4)
            bare_fits = asked["fits"].partition("&as_of")[0]
            yield from compared("/v1/fits as it stands, fresh", ours, bare, fresh(bare_fits, "as_of"), "fits", 0.15)
            for what, paths in once(folder / "store").items():
                yield from asked_once(what, paths, folder)
            plans = fresh("/v1/plans?" + urlencode(PLAN), "as_of")
            alone = load(ours, plans, 1, 4.0)
            yield Measurement("answers: /v1/plans, fresh", alone.rate, None, None, "", True, "/s", "one worker")
            yield from crowded(ours, bare, asked)
        finally:
            ours.stop()
            bare.stop()


def once(store: Path) -> dict[str, list[str]]:
    """Every part, pair of unit and engine, and part in a seat of its unit that is answered without a plan.

    Of the last there are many: every so many of them, spread over all.
    """
    desk = Desk.over(Store.open(store))
    units, engines = desk.catalogue.units(), desk.catalogue.engines()
    pairs = [
        {"unit": unit.name, "engine": engine.name}
        for unit in units
        for engine in engines
        if fits_standing(desk, unit.name, engine.name) is not None
    ]
    seats = [
        {"unit": unit.name, "engine": engine, "seat": seat, "part": name_in(part)}
        for unit in units
        for seat, part in unit.parts
        for engine in ("", *(engine.name for engine in engines))
        if fits_standing(desk, unit.name, engine, seat=seat, part=name_in(part)) is not None
    ]
    parts = [key.removeprefix("part/") for key in desk.catalogue.keys("part", most=10_000)]
    desk.close()
    return {
        "/v1/parts, each asked once": [f"/v1/parts/{part}" for part in parts],
        "/v1/fits as it stands, each asked once": [f"/v1/fits?{urlencode(asked)}" for asked in pairs],
        "/v1/fits of a part in its seat, each asked once": [
            f"/v1/fits?{urlencode(asked)}" for asked in seats[:: max(1, len(seats) // SEATS)]
        ],
    }


def asked_once(what: str, paths: Sequence[str], folder: Path) -> Iterator[Measurement]:
    """Each of them of a server just started; the bare route has the same bytes."""
    each = folder / "each"
    each.mkdir(exist_ok=True)
    for old in each.glob("*.each"):
        old.unlink()
    pairs = []
    for _ in range(ROUNDS):
        ours = Server.start("ours", folder / "store")
        try:
            fetch(ours, "/v1/engines?limit=1")
            mine = load(ours, iter(paths))
            if not any(each.iterdir()):
                for n, path in enumerate(paths):
                    (each / f"{n:06d}.each").write_bytes(fetch(ours, path))
        finally:
            ours.stop()
        bare = Server.start("bare", each)
        try:
            fetch(bare, "/each/0")
            pairs.append((mine, load(bare, (f"/each/{n}" for n in range(len(paths))))))
        finally:
            bare.stop()
    yield from told(f"{what} ({len(paths):,})", pairs, None)


def crowded(ours: Server, bare: Server, asked: dict[str, str]) -> Iterator[Measurement]:
    """The slowest hundredth of answers at 32 connections while a worker makes plans without pause."""
    planner = subprocess.Popen(
        [sys.executable, "-c", _PLANNING, str(ours.port), "/v1/plans?" + urlencode(PLAN)], stdout=subprocess.DEVNULL
    )
    try:
        time.sleep(1.0)
        for stem in ("parts", "fits"):
            pairs = [
                (load(ours, repeat(asked[stem]), CROWD), load(bare, repeat(f"/{stem}"), CROWD)) for _ in range(ROUNDS)
            ]
            p99, other = (statistics.median(pair[side].p99 for pair in pairs) * 1000 for side in (0, 1))
            yield Measurement(
                f"p99 of /v1/{stem} at {CROWD} connections while plans are made",
                p99,
                other,
                p99 / other,
                "at most 2 times a bare route",
                p99 / other <= 2,
                "ms",
            )
    finally:
        planner.kill()
        planner.wait()


_PLANNING = """
import itertools, sys, urllib.request, urllib.error
for n in itertools.count():
    day = f"{2030 + n // 336:04d}-{n // 28 % 12 + 1:02d}-{n % 28 + 1:02d}"
    try:
        urllib.request.urlopen(f"http://127.0.0.1:{sys.argv[1]}{sys.argv[2]}&as_of={day}").read()
    except urllib.error.HTTPError:
        pass
"""
