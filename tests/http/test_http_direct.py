"""The plain form of a question, answered before the routes, against the same question as the routes answer it.

The routes are the witness: a parameter that changes nothing (`shelf=false`, `both=false`) makes the question theirs.
Where answers are kept, so is the same question put to a catalogue that was just opened, with nothing kept.
"""

import random
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import pytest
from fastapi.testclient import TestClient
from http_store import copied, shelf_row

from api.app import create_app
from api.settings import Serving
from api.work import FITS
from api.written import Writing
from graph import publish
from graph.desk import Desk, open_desk
from graph.desk.standing import fits_standing
from graph.index.catalogue import Catalogue
from graph.index.gather import fits_evidence
from graph.index.shelf import Shelf
from graph.index.store import Store
from graph.model.fits import FitsQuestion
from graph.model.statement import Evidence, Statement, name_in
from graph.model.verdict import Verdict
from graph.swap import fits

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


Question = tuple[str, str, str, str, str]
"""Unit, engine, seat, part and day."""


def afresh(store: Store, asked: Question, n: int = 0) -> bytes | None:
    """The answer of the newest version, or after change set `n`, with nothing kept; None where it needs a plan."""
    shelf = store.as_of(n)[1] if n else store.snapshot()[1]
    catalogue = Catalogue.open(store.as_of(n)[0].index.place if n else store.catalogue().index.place)
    evidence = fits_evidence(catalogue, Shelf(store.ledger, shelf.n, catalogue), FitsQuestion(*asked), mend=False)
    answer = fits(evidence, lambda bundle: pytest.fail(f"{bundle.question} is planned"))
    return FITS.dump_json([answer]) if answer.verdict in (Verdict.YES, Verdict.NO) else None


def address(asked: Question) -> str:
    unit, engine, seat, part, day = asked
    given = {"unit": name_in(unit), "engine": name_in(engine), "seat": seat, "part": name_in(part), "as_of": day}
    return "/v1/fits?" + urlencode({name: text for name, text in given.items() if text})


def questions(desk: Desk, days: tuple[str, ...]) -> list[Question]:
    """Every pair, so that both directions are among them, on every day; and some parts in seats."""
    draw, catalogue = random.Random(19), desk.catalogue
    engines = [one.key for one in catalogue.engines()]
    asked = [(unit.key, engine, "", "", day) for unit in catalogue.units() for engine in engines for day in days]
    parts = catalogue.keys("part", most=10_000)
    for unit in catalogue.units():
        for seat, own in unit.parts:
            asked += [(unit.key, engine, seat, own, days[0]) for engine in ("", draw.choice(engines))]
            asked.append((unit.key, draw.choice(["", *engines]), seat, draw.choice(parts), days[0]))
    draw.shuffle(asked)
    return asked


def held_against(client: TestClient, folder: Path, every: list[Question]) -> dict[Question, bytes]:
    """Those that need no plan, each answered to the byte as if nothing had been asked before."""
    desk = open_desk(folder)
    store = Store.open(folder)
    found: dict[Question, bytes] = {}
    for asked in every:
        expected = afresh(store, asked)
        unit, engine, seat, part, day = asked
        standing = fits_standing(desk, name_in(unit), name_in(engine), seat=seat, part=name_in(part), day=day)
        assert (standing is None) == (expected is None), asked
        if expected is not None:
            found[asked] = client.get(address(asked)).content
            assert found[asked] == expected, asked
    desk.close()
    store.close()
    return found


@pytest.fixture
def own(demo_folder: Path, tmp_path: Path) -> Iterator[tuple[TestClient, Path]]:
    folder = copied(demo_folder, tmp_path)
    with TestClient(create_app(folder, demo=True, serving=Serving(workers=0))) as client:
        yield client, folder


DAYS = ("2014-11-19", "2026-11-20")
"""Before and after a supersession of the demo comes into force."""


PAIR: Question = ("unit/Ostrel/OV46-220", "engine/Brackmoor/BR6-D", "", "", DAYS[1])


@pytest.fixture
def some(demo_desk: Desk) -> list[Question]:
    return [*questions(demo_desk, DAYS[1:])[:80], PAIR]


def test_every_question_is_answered_as_if_nothing_had_been_asked_before(
    client: TestClient, demo_folder: Path, demo_desk: Desk
) -> None:
    found = held_against(client, demo_folder, questions(demo_desk, DAYS))
    assert len(found) > 100
    assert {asked[4] for asked in found} == set(DAYS) and any(asked[2] for asked in found)
    assert {FITS.validate_json(body)[0].verdict for body in found.values()} == {Verdict.YES, Verdict.NO}


def test_several_answers_and_none_are_an_array_too(demo_desk: Desk) -> None:
    pairs = [("OV46-220", "BR6-D"), ("OV46-140", "BR5-C")]
    answers = [answer for unit, engine in pairs if (answer := fits_standing(demo_desk, unit, engine)) is not None]
    writing = Writing()
    for some in (answers, answers[:1], [], [replace(answers[0], joints=(), match=())]):
        assert writing.answers(some) == FITS.dump_json(some)
    assert len(answers) == 2


def correction(feature: str, value: dict[str, object], **more: str) -> Statement:
    """What the engine's maker says anew, a day later."""
    fields = {"maker": "Brackmoor", "engine": "BR6-D", "feature": feature, "value": value, **more}
    return Statement("engine_values", fields, Evidence(source="BR-PUB", date="2026-11-21"))


def test_a_correction_that_is_published_counts_from_the_next_question_on(
    own: tuple[TestClient, Path], some: list[Question]
) -> None:
    client, folder = own
    before = held_against(client, folder, some)
    store = Store.open(folder)
    first = store.snapshot()[1].n
    room = {"amount": 1_910_000_000, "quantity": "length", "text": "191", "unit": "mm"}
    said = [correction("cover_room", room, unit="mm")]
    publish.publish_statements(store, said, author="test", time="2026-11-21T08:00:00Z")
    after = held_against(client, folder, some)
    assert b"191 mm" in after[PAIR] and b"191 mm" not in before[PAIR]
    assert client.get(address(PAIR) + f"&as-of={first}").content == before[PAIR] == afresh(store, PAIR, first)

    said = [correction("foot", {"code": "4-stud 70x70", "text": "4-stud 70x70"})]
    publish.publish_statements(store, said, author="test", time="2026-11-22T08:00:00Z")
    assert PAIR not in held_against(client, folder, some)
    now = client.get(address(PAIR)).json()[0]
    assert now["as_it_stands"] == "does not fit" and now["verdict"] != "fits"
    store.close()


def test_a_change_of_the_shelf_is_told_and_changes_nothing_else(
    own: tuple[TestClient, Path], some: list[Question]
) -> None:
    client, folder = own
    before = held_against(client, folder, some)
    shelf_row(folder)
    after = held_against(client, folder, some)
    assert before.keys() == after.keys()
    for asked, body in after.items():
        shelf = FITS.validate_json(body)[0].snapshot.shelf
        assert body.replace(b'"shelf":%d' % shelf, b'"shelf":%d' % (shelf - 1)) == before[asked] != body


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
