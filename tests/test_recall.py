"""A desk that remembers what earlier questions worked out answers every question as one that remembers nothing."""

import json
import random
import shutil
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from api.current import Current
from graph.desk import Desk, depth
from graph.desk.recall import Recall
from graph.errors import SpoolwrightError
from graph.index.store import Store
from graph.model.bundle import Bundle
from graph.model.claim import Claim, Rank
from graph.model.codec import to_json
from graph.model.record import Feature
from graph.model.value import Amount
from graph.planning.check import Shared
from graph.planning.check.memory import Memory
from graph.planning.kept import Kept
from graph.publish import enter_reading, put_stock
from graph.rules.facts import settle

DAYS = ("2026-11-20", "2026-02-01")
Question = tuple[str, dict[str, Any]]
WAYS: dict[str, Callable[..., object]] = {
    "plan": Desk.plan,
    "fits": Desk.fits,
    "rank": depth.rank,
    "reach": depth.reach,
    "least": depth.least,
}
PLAN: Question = ("plan", {"core": "HB-017", "build": "larger-wheels", "best": 2, "day": DAYS[0]})


def told(desk: Desk, question: Question) -> str:
    way, asked = question
    try:
        return json.dumps(to_json(WAYS[way](desk, **asked)), sort_keys=True)
    except SpoolwrightError as error:
        return f"{error.code}: {error}"


def questions(desk: Desk, seed: int, ways: list[str]) -> list[Question]:
    """Of many cores, builds, units, engines, days and wishes."""
    draw = random.Random(seed)
    builds = [b.name for b in desk.catalogue.builds if b.engine]
    cores = [c.tag for c in desk.shelf.cores()]
    units = [u.name for u in desk.catalogue.units()]
    engines = [e.name for e in desk.catalogue.engines()]
    wishes: list[tuple[str, ...]] = [(), (), (), ("no-donor",), ("no-machining",), ("only-stock",)]

    def asked(way: str) -> dict[str, Any]:
        core, build, unit, engine = (draw.choice(of) for of in (cores, builds, units, engines))
        wished = {"wishes": draw.choice(wishes), "day": draw.choice(DAYS)}
        if way == "plan":
            return {"core": core, "build": build, "best": draw.choice((1, 2, 3)), **wished}
        if way == "rank":
            return {"build": build, "best": 2, **wished}
        if way == "reach":
            return {"core": core, **wished}
        return {"unit": unit, "engine": engine, "day": draw.choice(DAYS)} | ({"both": True} if way == "fits" else {})

    return [(way, asked(way)) for way in ways]


def test_answers_are_those_of_a_desk_without_memory(demo_folder: Path) -> None:
    current = Current(demo_folder)
    desk = current.desk()
    for question in questions(
        desk, 1, ["plan", "rank", "fits", "plan", "reach", "least", "plan", "fits", "plan", "rank", "least", "plan"]
    ):
        fresh = Current(demo_folder)
        assert told(desk, question) == told(fresh.desk(), question), question[0]
        fresh.close()
    assert desk.recall.kept().size > 1_000, "something was remembered"
    current.close()


def test_answers_keep_up_with_the_shelf(demo_folder: Path, tmp_path: Path) -> None:
    folder = tmp_path / "store"
    shutil.copytree(demo_folder, folder)
    store = Store.open(folder)
    current = Current(folder)
    asked = questions(current.desk(), 2, ["plan", "plan", "fits", "rank"])
    before = [told(current.desk(), q) for q in asked]
    recall = current.desk().recall
    said = {"author": "t", "time": "2026-11-20T08:00:00Z"}
    wheel = current.desk().catalogue.parts_of_kinds(["compressor-wheel"])[0]
    put_stock(store, (wheel.maker, wheel.number), "Z9", 3, version=0, **said).sound()
    reading = {"tag": "HB-017", "seat": "bearing-housing", "feature": "bearing_bore", "value": "17.690", "unit": "mm"}
    enter_reading(store, {**reading, "instrument": "bore gauge", "source": "HB-BENCH"}, **said).sound()
    after = [told(current.desk(), q) for q in (*asked, PLAN)]
    assert current.desk().recall is recall, "the catalogue is the same"
    assert after == [told(Current(folder).desk(), q) for q in (*asked, PLAN)]
    assert before != after[:-1]


def test_threads_that_share_a_memory_get_the_answers_of_one(demo_folder: Path) -> None:
    asked = questions(Current(demo_folder).desk(), 3, ["plan", "fits", "plan", "rank", "plan", "least"])
    alone = [told(Current(demo_folder).desk(), q) for q in asked]
    shared = Current(demo_folder).desk()
    with ThreadPoolExecutor(4) as pool:
        twice = list(pool.map(lambda q: told(shared, q), [*asked, *reversed(asked)]))
    assert twice == [*alone, *reversed(alone)]


def test_a_number_stands_for_one_thing_though_many_threads_ask() -> None:
    kept, memory = Kept(), Memory()
    said = [Claim(f"c{n}", "part/a", "inducer", Amount(n, "length"), "s", Rank.DRAWING) for n in range(400)]
    facts = [settle((claim,), Feature("inducer", "inducer", "length"), subject="part/a") for claim in said]
    with ThreadPoolExecutor(8) as pool:
        numbers = list(pool.map(kept.number, facts * 3))
        marks = list(pool.map(memory.number, list(range(400)) * 3))
    for given in (numbers, marks):
        assert len(set(given)) == 400
        assert given == given[:400] * 3


def test_a_full_memory_starts_anew(demo_desk: Desk) -> None:
    small = Recall(50)
    desk = Desk(demo_desk._store, demo_desk.catalogue, demo_desk.shelf, small)
    first = small.kept()
    bundle = desk.plan("HB-017", "larger-wheels", day=DAYS[0]).bundle
    assert isinstance(bundle, Bundle)
    assert first.size > 50
    assert small.kept() is not first
    assert isinstance(small.shared(bundle), Shared)
    assert small.shared(bundle).size == 0
    assert told(desk, PLAN) == told(demo_desk, PLAN)
