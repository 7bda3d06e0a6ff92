"""A server that stays: what it does before the first question changes no answer and takes no longer than it may."""

import json
from pathlib import Path

from api.current import Current
from api.resident import rehearse
from graph.index.store import Store
from graph.model.codec import to_json

DAY = "2026-11-20"


def test_a_rehearsed_desk_remembers_and_answers_as_one_that_is_fresh(demo_folder: Path) -> None:
    rehearsed, fresh = Current(demo_folder).desk(), Current(demo_folder).desk()
    rehearse(rehearsed, DAY)
    assert rehearsed.recall.kept().size > 1_000
    answers = [d.plan("HB-018", "stock-101", best=2, day=DAY) for d in (rehearsed, fresh)]
    one, other = (json.dumps(to_json(answer), sort_keys=True) for answer in answers)
    assert one == other


def test_no_time_means_no_rehearsal(demo_folder: Path) -> None:
    desk = Current(demo_folder).desk()
    rehearse(desk, DAY, 0.0)
    assert desk.recall.kept().size == 0


def test_an_empty_store_has_nothing_to_rehearse(tmp_path: Path) -> None:
    Store.create(tmp_path / "store")
    rehearse(Current(tmp_path / "store").desk(), DAY)
