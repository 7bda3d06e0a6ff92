"""Other turbochargers side by side: how many there are is said, and of several originals each is told."""

import re
from dataclasses import replace
from pathlib import Path

from starlette.testclient import TestClient

from api.app import create_app
from api.pages.view import alternatives, differing
from graph.desk import Desk

DAY = "2026-11-20"


def test_the_page_says_how_many_others_there_are_and_shown(demo_folder: Path, demo_desk: Desk) -> None:
    with TestClient(create_app(demo_folder, demo=True)) as client:
        page = client.get(f"/others?unit=OV46-220&engine=BR6-C&as_of={DAY}").text
    said = re.search(r"Of (\d+) other units on record (\d+) were looked at, .*?; the best (\d+) are shown\.", page)
    assert said is not None
    there, looked_at, shown = map(int, said.groups())
    assert there == len(demo_desk.catalogue.units()) - 1
    assert page.count('<th scope="col"><a ') == shown + 1  # and the one that was asked for
    assert shown < looked_at <= there


def test_of_several_originals_each_is_told_once(demo_desk: Desk) -> None:
    asked = demo_desk.fits("OV46-220", "BR6-C", day=DAY)[0]
    line = asked.match[0]
    same, larger = replace(line, compared="same"), replace(line, compared="larger")
    both = replace(asked, match=(larger, same, larger))
    label = f"{line.seat} {line.feature}".replace("-", " ").replace("_", " ")
    (cells,) = [cells for name, cells in differing([both, replace(asked, match=(same,))]) if name == label]
    assert cells == [(f"{line.ours} (larger) | {line.ours}", False), (line.ours, True)]
    found = alternatives(demo_desk, asked, DAY, 2)
    assert (len(found.shown), found.looked_at, found.there) == (2, 4, len(demo_desk.catalogue.units()) - 1)
