"""Publishing, look-ups, a correction, and memory: the store at 10,000 and 100,000 parts.

Times are of the processor, medians where something is done more than once; elapsed time stands in the notes.
"""

import json
import random
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from urllib.parse import quote

from benchmarks.measurement import Measurement
from benchmarks.store_catalogue import MAKER, number
from benchmarks.store_rivals import QUERIES, Answer, in_pyoxigraph, in_rdflib
from graph.identifiers import spelling
from graph.index.catalogue import Catalogue
from graph.index.store import Store
from graph.model.statement import Statement, subject
from graph.model.value import Amount, Code
from graph.publish import publish, record
from graph.publish.backing import backup

SMALL, LARGE = 10_000, 100_000
ASKED = 200
FLAT = 2.0
Ask = Callable[[str, str], Answer]


def run() -> Iterator[Measurement]:
    """Every measurement of this module."""
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        small, large = Path(name) / "small", Path(name) / "large"
        published = {SMALL: _published(SMALL, small), LARGE: _published(LARGE, large)}
        yield from _publishing(published)
        yield from _look_ups({SMALL: small / "store", LARGE: large / "store"})
        yield from _correction(large / "store", Path(name))


def _published(parts: int, folder: Path) -> dict[str, float]:
    command = [sys.executable, "-m", "benchmarks.store_publish", str(parts), str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[1])
    if done.returncode:
        raise RuntimeError(done.stderr)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def _publishing(published: dict[int, dict[str, float]]) -> Iterator[Measurement]:
    for parts, found in published.items():
        note = f"{found['rows']:,.0f} rows of CSV, checked, SHACL included"
        yield Measurement(f"publish {parts:,} parts", found["seconds"], None, None, "", True, "s", note)
        peak, most = found["peak_mib"], 2048
        yield Measurement(
            f"peak memory of that ({parts:,} parts)", peak, None, None, f"< {most} MiB", peak < most, "MiB"
        )


def _ours(catalogue: Catalogue) -> Ask:
    def ask(question: str, asked: str) -> Answer:
        if question == "part by number":
            return frozenset((subject("part", *one),) for one in catalogue.numbers("parts", "part", asked[1:]))
        if question == "claims of a part":
            return frozenset((c.feature, _said(c.value)) for c in catalogue.part(asked).claims)
        return frozenset((u.by, quote(u.seat)) for u in catalogue.where_used(asked) if u.sheet == "unit_seats")

    return ask


def _said(value: object) -> str:
    assert isinstance(value, Amount | Code)
    return str(value.amount) if isinstance(value, Amount) else value.code


def _questions(parts: int) -> dict[str, list[str]]:
    dice = random.Random(3)
    chosen = [number(dice.randrange(parts)) for _ in range(ASKED)]
    keys = [subject("part", MAKER, one) for one in chosen]
    return {
        "part by number": ["=" + spelling(one) for one in chosen],
        "claims of a part": keys,
        "where a part is used": keys,
    }


def _timed(ask: Ask, question: str, asked: list[str]) -> tuple[float, list[Answer]]:
    ask(question, asked[0])
    times, answers = [], []
    for one in asked:
        began = time.process_time()
        answers.append(ask(question, one))
        times.append(time.process_time() - began)
    return statistics.median(times) * 1e6, answers


def _look_ups(stores: dict[int, Path]) -> Iterator[Measurement]:
    own: dict[tuple[str, int], float] = {}
    for parts, folder in stores.items():
        store = Store.open(folder)
        ours = _ours(store.catalogue())
        for name, make in (("rdflib", in_rdflib), ("pyoxigraph", in_pyoxigraph)):
            rival = make(parts)
            for question in QUERIES:
                asked = _questions(parts)[question]
                mine, answers = _timed(ours, question, asked)
                theirs, others = _timed(rival, question, asked)
                own[question, parts] = mine
                equal = answers == others
                yield Measurement(
                    f"{question}, {parts:,} parts, against {name}",
                    mine, theirs, theirs / mine, "equal answers", equal, "µs",
                    "" if equal else "the answers differ",
                )  # fmt: skip
            del rival
        store.close()
    for question in QUERIES:
        small, large = own[question, SMALL], own[question, LARGE]
        ratio = large / small
        yield Measurement(
            f"{question}: {LARGE:,} against {SMALL:,} parts",
            large,
            small,
            ratio,
            f"<= {FLAT:g}x",
            ratio <= FLAT,
            "µs",
        )


def _correction(folder: Path, work: Path) -> Iterator[Measurement]:
    store = Store.open(folder)
    spent, waited = [], []
    key = subject("part", MAKER, number(5))
    for i in range(5):
        file = work / "values.csv"
        file.write_text(f"maker,number,feature,value,unit,source\n{MAKER},{number(5)},bore,{40 + i}.25,mm,bench\n")
        began, at = time.process_time(), time.perf_counter()
        report = publish(file, store, author="bench", time="2026-01-01T00:00:00Z")
        catalogue, _ = store.snapshot()
        shown = {c.value.text for c in catalogue.part(key).claims}
        spent.append(time.process_time() - began)
        waited.append(time.perf_counter() - at)
        assert report.published, report.findings
        assert f"{40 + i}.25" in shown
    seconds, elapsed = statistics.median(spent), statistics.median(waited)
    what, note = f"one corrected claim visible, {LARGE:,} parts", f"from file to answer; {elapsed:.2f} s elapsed"
    yield Measurement(what, seconds, None, None, "< 2 s", seconds < 2, "s", note)
    yield from _others(store, work)
    store.close()


def _others(store: Store, work: Path) -> Iterator[Measurement]:
    """What else is promised of a store of that size: shelf writes, a backup, opening, and the log's size."""
    price = {"maker": MAKER, "number": number(5), "currency": "EUR", "as_of": "2026-01-01"}
    spent = []
    for i in range(101):
        row = Statement("prices", price | {"price": {"minor": i, "text": f"{i / 100:.2f}"}})
        spent.append(_spent(lambda row=row: record(store, [row], author="bench", time="2026-01-01T00:00:00Z")))  # type: ignore[misc]
    worst = statistics.quantiles(spent, n=100)[-1] * 1e3
    yield Measurement(
        f"a price put on the shelf, p99 of {len(spent)}, {LARGE:,} parts", worst, None, None, "<= 100 ms",
        worst <= 100, "ms", f"median {statistics.median(spent) * 1e3:.1f} ms",
    )  # fmt: skip
    log = (store.folder / "ledger.sqlite-wal").stat().st_size / 2**20
    yield Measurement("the write-ahead log after that", log, None, None, "<= 64 MiB", log <= 64, "MiB")
    opened = _spent(lambda: Store.open(store.folder).snapshot())
    yield Measurement(f"opening the store, {LARGE:,} parts", opened, None, None, "<= 1 s", opened <= 1)
    taken = _spent(lambda: backup(store, work / "backup.sqlite"))
    size = (work / "backup.sqlite").stat().st_size / 2**20
    yield Measurement(f"a backup, {LARGE:,} parts", taken, None, None, "<= 60 s", taken <= 60, note=f"{size:.0f} MiB")


def _spent(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return time.process_time() - began
