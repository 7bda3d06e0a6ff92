"""Derived interchange at 10,000 and 100,000 parts: building the book of a seat, its edges, one question by the index.

Parts come in interfaces of eight; the number of interfaces grows, the number that share one does not. All that is
compared with is trying every pair, at a size that can be waited for.
"""

import random
import tempfile
import time
from collections.abc import Callable, Iterator
from itertools import permutations
from pathlib import Path
from statistics import median
from typing import TypeVar

from benchmarks.measurement import Measurement
from graph.index.catalogue import Catalogue
from graph.index.compile import compile_all
from graph.interchange import Book, Place, interchange
from graph.model.claim import Claim, Rank
from graph.model.record import Feature, Joint, Kind, Layout, Part, Rule, Seat, Snapshot
from graph.model.statement import Evidence, Statement, canonical, subject, value_json
from graph.model.value import Amount, Code, Value
from graph.model.verdict import Verdict

MM = 10_000_000
SHARE = 8  # parts an interface
FEATURES = (
    Feature("bore", "bore", "length", "mm"),
    Feature("pilot", "pilot", "length", "mm"),
    Feature("oil_feed", "oil feed thread", "code"),
    Feature("drain", "oil drain flange", "code"),
    Feature("coolant", "coolant ports", "code"),
    Feature("speed_limit", "speed limit", "speed", "rpm", duty=True, better="larger"),
)
PAIRS = frozenset({("none", "none"), ("m14x1.5", "none"), ("m14x1.5", "m14x1.5")})
KIND = "bearing_housing"
RULES = (
    Rule("journal", "bore", "clearance", ("housing", "bore"), (("shaft", "journal"),), MM // 20, MM // 10),
    Rule("pilot", "pilot", "clearance", ("plate", "pilot"), (("housing", "pilot"),), 0, MM // 10),
    Rule("oil", "thread", "thread", ("housing", "oil_feed"), (("engine", "oil_feed"),)),
    Rule("drain", "flange", "same", ("housing", "drain"), (("engine", "drain"),)),
    Rule("coolant", "ports", "accepted", ("housing", "coolant"), (("engine", "coolant"),), set="coolant"),
)
LAYOUT = Layout(
    "unit",
    tuple(Seat(name, KIND if name == "housing" else name) for name in ("housing", "plate", "shaft")),
    tuple(Joint(j, j, tuple(s for r in RULES if r.joint == j for s in r.seats)) for j in {r.joint: 0 for r in RULES}),
    RULES,
)
T = TypeVar("T")


def values(count: int) -> Iterator[tuple[str, dict[str, Value]]]:
    """Numbers with their values; some of an interface are cooled, some turn faster."""
    draw = random.Random(1)
    for interface in range(count // SHARE):
        bore, pilot = 100_000 + 40 * draw.randrange(4000), 400_000 + 40 * draw.randrange(4000)
        thread, drain = draw.choice(["m12x1.5", "m10x1", "m14x1.5"]), f"flange {draw.randrange(1 + count // 200)}"
        for member in range(SHARE):
            yield (
                f"{interface}-{member}",
                {
                    "bore": Amount(bore * 1000, "length"),
                    "pilot": Amount(pilot * 1000, "length"),
                    "oil_feed": Code(thread, thread),
                    "drain": Code(drain, drain),
                    "coolant": Code(draw.choice(["none", "m14x1.5"])),
                    "speed_limit": Amount(draw.choice([110, 120, 130]) * 1_000_000, "speed"),
                },
            )


def parts(count: int) -> list[Part]:
    out = []
    for number, said in values(count):
        key = subject("part", "Ostrel", number)
        claims = tuple(Claim(f"{key}{f}", key, f, v, "d", Rank.DRAWING, "", 100_000) for f, v in said.items())
        out.append(Part(key, "Ostrel", number, KIND, "", claims))
    return out


def place() -> Place:
    seat = LAYOUT.seat("housing")
    assert seat is not None
    return Place(LAYOUT, seat, features=FEATURES, accepted={"coolant": PAIRS}, kinds=(Kind(KIND, KIND),))


def statements(count: int) -> Iterator[tuple[str, str]]:
    """The same as catalogue statements."""
    rows: list[tuple[str, dict[str, object]]] = [("sources", {"source": "d", "kind": "drawing"})]
    kinds = (KIND, "plate", "shaft")
    rows += [("kinds", {"kind": k, "label": k}) for k in kinds]
    rows += [
        ("features", {"feature": f.name, "label": f.label, "type": f.type, "duty": f.duty, "better": f.better})
        for f in FEATURES
    ]
    rows += [("layouts", {"layout": "unit", "seat": s.name, "kind": s.kind}) for s in LAYOUT.seats]
    rows += [
        ("joints", {"layout": "unit", "joint": j.name, "label": j.label, "seats": list(j.seats)})
        for j in LAYOUT.joints
    ]
    for rule in RULES:
        fields: dict[str, object] = {"layout": "unit", "joint": rule.joint, "rule": rule.name, "type": rule.type}
        fields |= {"left": ".".join(rule.left), "right": [".".join(o) for o in rule.right]}
        for name, end in (("min", rule.min), ("max", rule.max)):
            if end is not None:
                fields[name] = value_json(Amount(end, "length"))
        rows.append(("rules", fields | ({"set": rule.set} if rule.set else {})))
    rows += [("accepted", {"set": "coolant", "left_value": a, "right_value": b}) for a, b in sorted(PAIRS)]
    for sheet, fields in rows:
        yield _content(Statement(sheet, fields))
    for number, said in values(count):
        name = {"maker": "Ostrel", "number": number}
        yield _content(Statement("parts", {**name, "kind": KIND, "label": ""}))
        for feature, value in said.items():
            fields = {**name, "feature": feature, "value": value_json(value)}
            if isinstance(value, Amount):
                fields["tolerance"] = value_json(Amount(100_000, value.quantity))
            yield _content(Statement("values", fields, Evidence("d")))


def _content(statement: Statement) -> tuple[str, str]:
    return statement.id, canonical(statement.content())


def timed(work: Callable[[], T]) -> tuple[float, T]:
    start = time.perf_counter()
    found = work()
    return time.perf_counter() - start, found


def by_index(count: int, folder: Path) -> tuple[float, int]:
    """The median time of a question asked of an index file, and how many stand-ins they found together."""
    file = folder / f"{count}.sqlite"
    compile_all(file, str(count), statements(count))
    catalogue = Catalogue.open(file)
    draw = random.Random(2)
    times, found = [], 0
    for _ in range(15):
        key = subject("part", "Ostrel", f"{draw.randrange(count // SHARE)}-{draw.randrange(SHARE)}")
        spent, answer = timed(lambda key=key: interchange(catalogue, Snapshot("b", 1), key))  # type: ignore[misc]
        times.append(spent)
        found += sum(d.verdict is Verdict.YES for d in answer.instead)
    return median(times), found


def run() -> list[Measurement]:
    """Building, edges and questions at both sizes, their growth, and the book beside trying every pair."""
    sizes = (10_000, 100_000)
    built, drawn, asked, edges = {}, {}, {}, {}
    for count in sizes:
        made = parts(count)
        built[count], book = timed(lambda made=made: Book(place(), made))  # type: ignore[misc]
        drawn[count], edges[count] = timed(lambda book=book: sum(1 for _ in book.edges()))  # type: ignore[misc]
        draw = random.Random(3)
        asked[count] = median(timed(lambda p=p, book=book: list(book.instead(p)))[0] for p in draw.sample(made, 101))  # type: ignore[misc]
    few = parts(320)
    where = place()
    pairs, every = timed(lambda: {(a.key, b.key) for a, b in permutations(few, 2) if where.surely(a, b)})
    booked, found = timed(lambda: {(a.key, b.key) for a, b in Book(place(), few).edges()})
    assert found == every
    small, large = sizes
    rows = [Measurement(f"book of one seat, {count:,} parts", built[count], None, None, "", True) for count in sizes]
    rows += [
        Measurement(
            f"all sure edges, {count:,} parts", drawn[count], None, None, "", True, note=f"{edges[count]:,} edges"
        )
        for count in sizes
    ]
    growth = (built[large] + drawn[large]) / (built[small] + drawn[small])
    rows.append(
        Measurement(
            "book and edges, ten times the parts, same number an interface",
            built[large] + drawn[large],
            built[small] + drawn[small],
            growth,
            "<= 15 (every pair: 100)",
            growth <= 15,
        )
    )
    slower = asked[large] / asked[small]
    rows.append(
        Measurement(
            "one question of the book, ten times the parts", asked[large], asked[small], slower, "<= 4", slower <= 4
        )
    )
    rows.append(
        Measurement(
            "trying every pair / the book, 320 parts", booked, pairs, pairs / booked, ">= 10", pairs / booked >= 10
        )
    )
    with tempfile.TemporaryDirectory() as folder:
        index = {count: by_index(count, Path(folder)) for count in sizes}
    slower = index[large][0] / index[small][0]
    rows.append(
        Measurement(
            "one question by the index file, ten times the parts",
            index[large][0],
            index[small][0],
            slower,
            "<= 4",
            slower <= 4,
            note=f"{index[large][1]} stand-ins in 15 questions",
        )
    )
    return rows


if __name__ == "__main__":
    from benchmarks.measurement import as_line

    for row in run():
        print(as_line(row), flush=True)
