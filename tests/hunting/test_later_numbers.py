"""Where a number leads, as it is told over HTTP: never "the latest" of a number that something leads on from."""

import pytest
from asked_shop import Book, Shop, added, book
from starlette.testclient import TestClient

from api.app import create_app


def led(*steps: dict[str, str]) -> Book:
    rows = book()
    for number in ("W-3", "W-4"):
        rows = added(rows, "parts", maker="Ostrel", number=number, kind="wheel")
    for step in steps:
        rows = added(rows, "supersession", maker="Ostrel", **step)
    return rows


def told(rows: Book, part: str, day: str) -> dict[str, object]:
    with Shop(rows) as shop, TestClient(create_app(shop.path / "store", demo=True)) as client:
        assert shop.report.published, shop.report.findings
        found = client.get("/v1/supersession", params={"part": part, "day": day}).json()
        assert isinstance(found, dict)
        return found


STEP = {"old": "W-2", "new": "W-3"}


@pytest.mark.parametrize(
    ("step", "day", "latest"),
    [
        ({**STEP, "from_date": "2026-11-28"}, "2026-11-27", "W-2"),
        ({**STEP, "from_date": "2026-11-28"}, "2026-11-28", "W-3"),  # the day itself counts
        ({**STEP, "from_date": "2026-11"}, "2026-11-01", "W-3"),
        ({**STEP, "from_serial": "500"}, "2026-11-28", "W-2"),
        ({**STEP, "condition": "cooled units"}, "2026-11-28", "W-2"),
        ({"old": "W-3", "new": "W-2"}, "2026-11-28", "W-2"),  # the way back is not open
    ],
)
def test_a_step_counts_from_its_day_without_condition_and_one_way(
    step: dict[str, str], day: str, latest: str
) -> None:
    found = told(led(step), "W-2", day)
    assert found["latest"] == f"part/Ostrel/{latest}"
    waits = latest == "W-2" and step["old"] == "W-2"
    assert ("the latest number" in str(found["sentence"])) is (latest == "W-2" and not waits)
    assert ("1 row leads on" in str(found["sentence"])) is waits


def test_of_several_later_numbers_none_is_chosen_and_the_old_one_is_not_the_latest() -> None:
    found = told(led(STEP, {"old": "W-2", "new": "W-4"}), "W-2", "2026-11-28")
    assert found["latest"] == "part/Ostrel/W-2" and found["steps"] == []
    assert found["sentence"] == (
        "No one number takes the place of Ostrel W-2 in every case. "
        "Ostrel W-2 is superseded by several: Ostrel W-3, Ostrel W-4; choose one."
    )
