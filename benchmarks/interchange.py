"""Derived interchange: all edges of a catalogue of up to 100,000 parts, and one question asked of its index.

Parts come in families that share an interface. In one growth there are more families, in another larger ones; in a
third, work on record lets the smaller bores of a family be opened to the larger ones. Times are of the processor,
from the opened index file on; nothing about pairs is kept in that.
"""

import random
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path
from statistics import median
from typing import TypeVar

from benchmarks.measurement import Measurement, peak
from graph.index.catalogue import Catalogue
from graph.index.compile import compile_all
from graph.interchange import Place, interchange, report
from graph.interchange.answer import EDGES, places
from graph.model.record import Joint, Rule, Snapshot
from graph.model.statement import Evidence, Statement, canonical, subject, value_json
from graph.model.value import Amount, Code, Value
from graph.model.verdict import Verdict

MM = 10_000_000
KIND, MAKER = "bearing housing", "Ostrel"
FEATURES = (
    {"feature": "bore", "type": "length", "unit": "mm"},
    {"feature": "pilot", "type": "length", "unit": "mm"},
    {"feature": "drain", "type": "code"},
    {"feature": "coolant", "type": "code"},
    {"feature": "speed_limit", "type": "speed", "unit": "rpm", "duty": True, "better": "larger"},
)
PAIRS = (("none", "none"), ("m14x1.5", "none"), ("m14x1.5", "m14x1.5"))
RULES = (
    Rule("journal", "bore", "clearance", ("housing", "bore"), (("shaft", "journal"),), MM // 20, MM // 10),
    Rule("pilot", "pilot", "clearance", ("plate", "pilot"), (("housing", "pilot"),), 0, MM // 10),
    Rule("drain", "flange", "same", ("housing", "drain"), (("engine", "drain"),)),
    Rule("coolant", "ports", "accepted", ("housing", "coolant"), (("engine", "coolant"),), set="coolant"),
)
JOINTS = tuple(Joint(r.joint, r.joint, r.seats) for r in RULES)
SEATS = {"housing": KIND, "plate": "plate", "shaft": "shaft"}
ASKED = 60
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Size:
    """So many parts, so many of them to a family, and whether a bore may be opened."""

    parts: int
    family: int
    opened: bool = False

    def __str__(self) -> str:
        return f"{self.parts:,} parts, families of {self.family}{', bores may be opened' if self.opened else ''}"


FAMILIES = (Size(10_000, 8), Size(30_000, 8), Size(100_000, 8))
WIDTHS = (Size(10_000, 4), Size(10_000, 16), Size(10_000, 32))
OPENED = (Size(5_000, 8, opened=True), Size(20_000, 8, opened=True))
FEW = Size(320, 8, opened=True)


def number(family: int, member: int) -> str:
    """The number of a part."""
    return f"{family}-{member}"


def values(size: Size) -> Iterator[tuple[str, dict[str, Value]]]:
    """Numbers with what is said of them: of a family half have smaller bores, some are cooled, some turn faster."""
    draw = random.Random(1)
    for family in range(size.parts // size.family):
        bore, pilot = 100_000 + 8 * draw.randrange(20_000), 400_000 + 8 * draw.randrange(20_000)
        drain = f"flange {draw.randrange(400)}"
        for member in range(size.family):
            yield number(family, member), {
                "bore": Amount((bore - 5_000 * (member % 2)) * 1000, "length"),
                "pilot": Amount(pilot * 1000, "length"),
                "drain": Code(drain, drain),
                "coolant": Code(draw.choice(["none", "m14x1.5"])),
                "speed_limit": Amount(draw.choice([110, 120, 130]) * 1_000_000, "speed"),
            }  # fmt: skip


def statements(size: Size) -> Iterator[tuple[str, str]]:
    """The catalogue as its index is made of it."""
    rows: list[tuple[str, dict[str, object]]] = [("sources", {"source": "d", "kind": "drawing"})]
    rows += [("kinds", {"kind": kind, "label": kind}) for kind in SEATS.values()]
    rows += [("features", {"label": f["feature"], **f}) for f in FEATURES]
    rows += [("layouts", {"layout": "unit", "seat": seat, "kind": kind}) for seat, kind in SEATS.items()]
    rows += [
        ("joints", {"layout": "unit", "joint": j.name, "label": j.label, "seats": list(j.seats)}) for j in JOINTS
    ]
    for rule in RULES:
        fields: dict[str, object] = {"layout": "unit", "joint": rule.joint, "rule": rule.name, "type": rule.type}
        fields |= {"left": ".".join(rule.left), "right": [".".join(one) for one in rule.right], "set": rule.set}
        ends = {"min": rule.min, "max": rule.max}
        fields |= {name: value_json(Amount(end, "length")) for name, end in ends.items() if end is not None}
        rows.append(("rules", fields))
    rows += [("accepted", {"set": "coolant", "left_value": a, "right_value": b}) for a, b in PAIRS]
    if size.opened:
        cut: dict[str, object] = {"operation": "open", "label": "open the bore", "kind": KIND, "feature": "bore"}
        rows.append(
            ("operations", cut | {"effect": "widen_to_suit", "tolerance": value_json(Amount(50_000, "length"))})
        )
    for sheet, fields in rows:
        yield _content(Statement(sheet, fields))
    for name, said in values(size):
        part = {"maker": MAKER, "number": name}
        yield _content(Statement("parts", {**part, "kind": KIND, "label": ""}))
        for feature, value in said.items():
            fields = {**part, "feature": feature, "value": value_json(value)}
            if isinstance(value, Amount):
                fields["tolerance"] = value_json(Amount(100_000, value.quantity))
            if feature == "bore" and isinstance(value, Amount):
                fields["limit_max"] = value_json(Amount(value.amount + MM, "length"))
            yield _content(Statement("values", fields, Evidence("d")))


def _content(statement: Statement) -> tuple[str, str]:
    return statement.id, canonical(statement.content())


def timed(work: Callable[[], T]) -> tuple[float, T]:
    """Processor time and what came of it."""
    start = time.process_time()
    found = work()
    return time.process_time() - start, found


def _index(size: Size, folder: str) -> Catalogue:
    file = Path(folder) / "index.sqlite"
    compile_all(file, str(size), statements(size))
    return Catalogue.open(file)


def measured(size: Size) -> dict[str, float]:
    """One size: seconds for all edges, how many there are, the median question both ways, and the most memory."""
    with tempfile.TemporaryDirectory() as folder:
        catalogue = _index(size, folder)
        draw = random.Random(2)
        times, found = [], 0
        for _ in range(ASKED):
            family, member = draw.randrange(size.parts // size.family), draw.randrange(size.family)
            key = subject("part", MAKER, number(family, member))
            spent, answer = timed(lambda key=key: interchange(catalogue, Snapshot("b", 1), key))  # type: ignore[misc]
            times.append(spent)
            found += sum(d.verdict in EDGES for d in (*answer.instead, *answer.stands_in))
        spent, whole = timed(lambda: report(catalogue, Snapshot("b", 1)))
        verdicts = Counter(edge.verdict for edge in whole.unasserted)
        return {
            "seconds": spent,
            "edges": len(whole.unasserted),
            "with work": verdicts[Verdict.WITH_WORK],
            "question": median(times),
            "found": found / ASKED,
            "peak_mib": peak(),
        }


def _alone(size: Size) -> dict[str, float]:
    """`measured` in a process of its own, so that its memory is its own."""
    command = [
        sys.executable,
        "-m",
        "benchmarks.interchange",
        str(size.parts),
        str(size.family),
        str(int(size.opened)),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=Path(__file__).parents[1])
    if done.returncode:
        raise RuntimeError(done.stderr)
    return {name: float(value) for name, value in (line.rsplit("=", 1) for line in done.stdout.splitlines())}


def run() -> Iterator[Measurement]:
    """All edges and one question at every size, their growth, and the report beside deciding every pair."""
    yield from _every_pair()
    found = {}
    for size in (*FAMILIES, *WIDTHS, *OPENED):
        one = found[size] = _alone(size)
        note = (
            f"{one['edges']:,.0f} edges, {one['seconds'] / one['edges'] * 1e6:.0f} µs each, {one['peak_mib']:.0f} MiB"
        )
        note += f", {one['with work']:,.0f} of them with work" if size.opened else ""
        yield Measurement(f"all edges: {size}", one["seconds"], None, None, "", True, note=note)
        note = f"{one['found']:.1f} edges both ways"
        yield Measurement(f"one question: {size}", one["question"] * 1e3, None, None, "", True, "ms", note)
    for sizes, most in (
        (FAMILIES, "the parts"),
        ((WIDTHS[0], WIDTHS[2]), "the parts to a family"),
        (OPENED, "the parts"),
    ):
        few, many = found[sizes[0]], found[sizes[-1]]
        work = (sizes[-1].parts + many["edges"]) / (sizes[0].parts + few["edges"])
        more = sizes[-1].parts * sizes[-1].family / (sizes[0].parts * sizes[0].family)
        grown = many["seconds"] / few["seconds"]
        apart = sizes[-1].parts / sizes[0].parts
        yield Measurement(
            f"all edges, {more:g} times {most}{', bores may be opened' if sizes[0].opened else ''}",
            many["seconds"],
            few["seconds"],
            grown,
            f"<= {1.5 * work:.3g}",
            grown <= 1.5 * work,
            note=f"parts and edges grow {work:.3g} times, half as much again is allowed"
            + (f"; pairs of all parts {apart**2:.3g} times" if apart > 1 else ""),
        )
    few, many = found[FAMILIES[0]], found[FAMILIES[-1]]
    slower = many["question"] / few["question"]
    yield Measurement(
        "one question, 10 times the parts",
        many["question"] * 1e3,
        few["question"] * 1e3,
        slower,
        "<= 2",
        slower <= 2,
        "ms",
    )


def _every_pair() -> Iterator[Measurement]:
    with tempfile.TemporaryDirectory() as folder:
        catalogue = _index(FEW, folder)
        spent, whole = timed(lambda: report(catalogue, Snapshot("b", 1)))
        seat: Place = next(p for p in places(catalogue) if p.seat.kind == KIND)
        parts = catalogue.parts_of_kinds([KIND])
        tried, every = timed(lambda: [seat.decide(a, b) for a, b in permutations(parts, 2)])
    edges = {(d.part, d.other, d.verdict, d.conditions) for d in every if d.verdict in EDGES}
    same = {(u.part, u.other, u.verdict, u.conditions) for u in whole.unasserted} == edges
    yield Measurement(
        f"all edges against deciding every pair: {FEW}",
        spent,
        tried,
        tried / spent,
        ">= 10, equal",
        same and tried / spent >= 10,
        note=f"{len(edges):,} edges {'equal' if same else 'NOT EQUAL'}",
    )


def main() -> None:
    """One size, for a process of its own."""
    parts, family, opened = map(int, sys.argv[1:])
    for name, value in measured(Size(parts, family, bool(opened))).items():
        print(f"{name}={value}")


if __name__ == "__main__":
    main()
