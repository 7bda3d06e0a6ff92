"""The plain form of a question, answered before the routes, against the same question as the routes answer it.

The routes are the witness: a parameter that changes nothing (`shelf=false`, `both=false`) makes the question theirs.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.settings import Serving
from graph.desk import Desk
from graph.desk.standing import fits_standing

TOLD_ANEW = ("x-request-id", "date")


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True, serving=Serving(workers=0))) as client:
        yield client


def told(answer: Any) -> tuple[int, dict[str, str], bytes]:
    headers = {name: text for name, text in answer.headers.items() if name not in TOLD_ANEW}
    return answer.status_code, headers, answer.content


def same(client: TestClient, path: str, neutral: str, headers: dict[str, str] | None = None) -> Any:
    mark = "&" if "?" in path else "?"
    direct = client.get(path, headers=headers)
    assert told(direct) == told(client.get(f"{path}{mark}{neutral}", headers=headers))
    return direct


def test_every_part_is_told_as_its_route_tells_it(client: TestClient, demo_desk: Desk) -> None:
    keys = demo_desk.catalogue.keys("part", most=10_000)
    assert len(keys) > 100
    for key in keys:
        found = same(client, f"/v1/parts/{key.removeprefix('part/')}", "shelf=false")
        assert found.status_code == 200 and found.json()["part"]["key"] == key


def test_pairs_that_need_no_plan_are_answered_as_their_route_answers_them(
    client: TestClient, demo_desk: Desk
) -> None:
    found = []
    for unit in demo_desk.catalogue.units():
        for engine in demo_desk.catalogue.engines():
            if fits_standing(demo_desk, unit.name, engine.name, day="2026-11-20") is not None:
                path = f"/v1/fits?unit={quote(unit.name)}&engine={quote(engine.name)}&as_of=2026-11-20"
                found.append(same(client, path, "both=false").json()[0]["verdict"])
    assert len(found) > 10 and set(found) == {"fits"}


def test_a_part_of_another_kind_than_the_seat_s_does_not_fit_here_nor_there(client: TestClient) -> None:
    path = "/v1/fits?unit=OV46-220&seat=turbine-housing&part=46-30-220&as_of=2026-11-20"
    assert same(client, path, "both=false").json()[0]["verdict"] == "does not fit"


@pytest.mark.parametrize(
    "query",
    [
        "day=2026-13-99",
        "day=tomorrow",
        "day=2026-11-20&day=2026-11-21",
        "format=ttl",
        "format=pdf",
        "shelf=true&day=2026-11-20",
        "as-of=1",
        "as-of=never",
        "strange=1",
    ],
)
def test_what_is_not_plain_is_left_to_the_route(client: TestClient, query: str) -> None:
    found = same(client, f"/v1/parts/Ostrel/46-30-220?{query}", "shelf=true" if "shelf" in query else "shelf=false")
    plain = client.get("/v1/parts/Ostrel/46-30-220")
    assert plain.status_code == 200
    assert found.status_code in (200, 404, 406, 422)


@pytest.mark.parametrize(
    "path",
    ["/v1/parts/Ostrel/", "/v1/parts/Ostrel/none-such", "/v1/parts/Ostrel/a/b", "/v1/parts//x", "/v1/parts/%00/%FF"],
)
def test_a_part_that_is_not_there_is_the_route_s_to_refuse(client: TestClient, path: str) -> None:
    assert same(client, path, "shelf=false").status_code == 404


@pytest.mark.parametrize(
    "query",
    [
        "",
        "unit=",
        "unit=OV46-220",
        "unit=OV46-220&engine=none-such",
        "unit=OV46-220&engine=BR6-D&as_of=soon",
        "unit=OV46-220&engine=BR6-D&strange=1",
        "unit=OV46-220&engine=BR6-D&seat=no-seat&part=46-30-220",
        f"unit={'x' * 201}&engine=BR6-D",
    ],
)
def test_a_question_that_cannot_be_answered_is_the_route_s_to_refuse(client: TestClient, query: str) -> None:
    assert same(client, f"/v1/fits?{query}", "both=false").status_code in (404, 409, 422)


def test_of_a_repeated_name_the_last_counts_here_as_there(client: TestClient) -> None:
    same(client, "/v1/fits?unit=OV46-140&unit=OV46-220&engine=BR6-D&as_of=2026-11-20", "both=false")


def test_forms_and_conditions_hold_as_on_the_route(client: TestClient) -> None:
    path = "/v1/parts/Ostrel/46-30-220"
    turtle = same(client, path, "shelf=false", {"accept": "text/turtle"})
    assert turtle.headers["content-type"].startswith("text/turtle")
    tag = client.get(path + "?day=2026-11-21").headers["etag"]
    assert same(client, path, "shelf=false", {"if-none-match": tag}).status_code == 304
    assert client.head(path + "?day=2026-11-22").status_code == 200
    packed = same(client, path, "shelf=false", {"accept-encoding": "gzip"})
    assert packed.headers["content-encoding"] == "gzip"


def test_stock_and_price_stay_live(client: TestClient) -> None:
    """What is on hand is read for every question; the part beside it is the same."""
    path = "/v1/parts/Ostrel/46-30-220"
    live = client.get(path + "?shelf=true&day=2026-11-20").json()
    plain = client.get(path + "?day=2026-11-20").json()
    assert plain["shelf"] is None and live["shelf"]["day"] == "2026-11-20"
    assert live["part"] == plain["part"] and live["facts"] == plain["facts"] and live["links"] == plain["links"]
