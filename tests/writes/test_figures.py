"""The shop's own figures over HTTP and by form, on the small shop of store_rows: dated and versioned."""

import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner
from writing_desk import caller, key_for, problem, shop_app

from api.cli.main import app as command
from graph.desk import Desk
from graph.desk.figures import shop_figures
from graph.index.store import Store

NEW = {"If-None-Match": "*"}


def at(version: int) -> dict[str, str]:
    return {"If-Match": f'"{version}"'}


def put(client: TestClient, figure: str, said: dict[str, Any], headers: dict[str, str], of: str = "") -> Any:
    body = {"author": "ina", **said}
    return client.put("/v1/shop/figures", params={"figure": figure, "of": of}, json=body, headers=headers)


def test_nothing_is_set_until_somebody_sets_it(counter: TestClient) -> None:
    told = counter.get("/v1/shop/figures").json()
    assert told["figures"] == []
    assert [(r["name"], r["per_hour"], r["currency"], r["who"]) for r in told["rates"]] == [
        ("shop", 6000, "EUR", "Ada")
    ]  # store_rows


def test_a_figure_holds_from_its_day_and_the_earlier_one_for_earlier_days(counter: TestClient) -> None:
    first = put(counter, "tax", {"percent": "19", "as_of": "2026-02-01"}, NEW)
    assert (first.status_code, first.json()["percent"], first.json()["who"]) == (200, "19", "ina")
    later = put(counter, "tax", {"percent": "20,5 %", "as_of": "2026-07-01"}, at(first.json()["version"]))
    assert later.json()["percent"] == "20.5"
    assert later.headers["etag"] == f'"{later.json()["version"]}"'
    gone = put(counter, "tax", {"as_of": "2027-01-01"}, at(later.json()["version"]))
    assert gone.json()["percent"] == ""

    def on(day: str) -> list[str]:
        found = counter.get("/v1/shop/figures", params={"day": day}).json()["figures"]
        return [f["percent"] for f in found]

    assert on("2026-01-31") == []
    assert (on("2026-02-01"), on("2026-06-30"), on("2026-07-01")) == (["19"], ["19"], ["20.5"])
    assert (on("2026-12-31"), on("2027-01-01")) == (["20.5"], [""])


def test_a_figure_is_put_on_the_version_that_was_seen(counter: TestClient) -> None:
    done = put(counter, "credit", {"percent": "75"}, NEW, of=" b ")
    version = done.json()["version"]
    assert (done.json()["of"], version) == ("B", 2)
    assert problem(put(counter, "credit", {"percent": "70"}, NEW, of="B")) == (412, "version-mismatch")
    assert problem(put(counter, "credit", {"percent": "70"}, at(version + 1), of="B")) == (412, "version-mismatch")
    assert problem(put(counter, "credit", {"percent": "70"}, {}, of="B")) == (428, "version-wanted")
    assert put(counter, "credit", {"percent": "70"}, at(version), of="b").json()["percent"] == "70"


@pytest.mark.parametrize(
    ("figure", "of", "said"),
    [
        ("tax", "", {"percent": "101"}),
        ("tax", "", {"days": 14}),
        ("credit", "", {"percent": "50"}),
        ("validity", "quotes", {"days": 14}),
        ("sublet", "no such work", {"price": "9", "currency": "EUR"}),
        ("sublet", "balance", {"price": "9"}),
        ("warranty", "", {"days": 0}),
        ("discount", "", {"percent": "5"}),
        ("tax", "", {"percent": "nineteen"}),
    ],
)
def test_a_figure_that_cannot_be_is_refused_and_nothing_is_written(
    counter: TestClient, figure: str, of: str, said: dict[str, Any]
) -> None:
    before = counter.get("/v1/history").json()
    assert put(counter, figure, said, NEW, of).status_code == 422
    assert counter.get("/v1/history").json() == before


def test_a_rate_is_put_and_plans_reckon_with_it(counter: TestClient) -> None:
    said = {"per_hour": "72.00", "currency": "EUR", "author": "ina"}
    done = counter.put("/v1/shop/rates", params={"name": "shop"}, json=said, headers=at(1))
    assert (done.status_code, done.json()["per_hour"], done.json()["version"]) == (200, 7200, 2)
    stale = counter.put("/v1/shop/rates", params={"name": "shop"}, json=said, headers=at(1))
    assert problem(stale) == (412, "version-mismatch")
    wrong = counter.put("/v1/shop/rates", params={"name": "x"}, json={**said, "per_hour": "1.005"}, headers=NEW)
    assert problem(wrong) == (422, "findings")


def test_a_retry_sets_a_figure_once(counter: TestClient) -> None:
    sent = {**NEW, "Idempotency-Key": "one-figure"}
    first, again = (put(counter, "validity", {"days": 14}, sent) for _ in range(2))
    assert again.headers["Idempotency-Replayed"] == "true"
    assert first.json() == again.json()
    assert len(counter.get("/v1/history").json()) == 2


def test_setting_a_figure_takes_sign_off(small: Path) -> None:
    app = shop_app(small)
    with caller(app) as here:
        boss = caller(app, key=key_for(here, "boss", "admin"))
        stock, chief = key_for(boss, "clerk", "stock", "bench", "edit"), key_for(boss, "chief", "sign-off")
        assert problem(put(caller(app), "tax", {"percent": "19"}, NEW)) == (401, "no-key")
        assert problem(put(caller(app, key=stock), "tax", {"percent": "19"}, NEW)) == (403, "no-scope")
        assert put(caller(app, key=chief), "tax", {"percent": "19"}, NEW).json()["who"] == "chief"


FIELDS = re.compile(r'name="(token|once|seen|what)" value="([^"]*)"')


def form(client: TestClient, what: str) -> dict[str, str]:
    html = client.get("/shop").text
    at = html.index(f'id="set-{what}"')
    return {**dict(FIELDS.findall(html[at : html.index("</form>", at)])), "who": "ina"}


def test_the_page_sets_a_figure_and_says_who_did(counter: TestClient) -> None:
    before = counter.get("/shop").text
    assert before.count("<td>not set</td>") == 3  # tax, validity, warranty
    done = counter.post("/shop", data={**form(counter, "tax"), "percent": "19", "as_of": "2026-01-01"})
    assert done.status_code == 200
    assert "Written." in done.text
    assert "<td>19 %</td>" in done.text
    assert re.search(r"ina, \d{4}-\d\d-\d\d", done.text)


def test_a_form_that_is_sent_twice_writes_once(counter: TestClient) -> None:
    sent = {**form(counter, "validity"), "days": "21"}
    first, again = (counter.post("/shop", data=sent) for _ in range(2))
    assert (first.status_code, again.status_code) == (200, 200)
    assert len(counter.get("/v1/history").json()) == 2


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"percent": "lots"}, "lots"),
        ({"percent": "140"}, "share of the whole"),
        ({"who": ""}, "nobody is named"),
        ({"token": "0"}, "did not come from this page"),
        ({"seen": "soon"}, "this form is incomplete"),
        ({"what": "discount"}, "there is no figure"),
    ],
)
def test_a_faulty_form_writes_nothing_and_keeps_what_was_typed(
    counter: TestClient, change: dict[str, str], told: str
) -> None:
    sent = {**form(counter, "tax"), "percent": "17", **change}
    answer = counter.post("/shop", data=sent)
    assert answer.status_code == 422
    assert told in answer.text
    if "what" not in change:
        assert f'value="{sent["percent"]}"' in answer.text
    assert len(counter.get("/v1/history").json()) == 1


def test_a_page_that_was_opened_before_somebody_else_set_the_figure_writes_nothing(counter: TestClient) -> None:
    opened = {**form(counter, "warranty"), "days": "365"}
    assert put(counter, "warranty", {"days": 180}, NEW).status_code == 200
    answer = counter.post("/shop", data=opened)
    assert answer.status_code == 422
    assert "somebody set this since you opened the page" in answer.text
    assert [f["days"] for f in counter.get("/v1/shop/figures").json()["figures"]] == [180]


def test_the_command_line_sets_and_shows_the_same(small: Path) -> None:
    runner = CliRunner()
    asked = ["shop", "set", "sublet", "--of", "balance", "--price", "95", "--currency", "EUR", "--author", "ina"]
    done = runner.invoke(command, [*asked, "--as-of", "2026-02-01", "--store", str(small)])
    assert done.exit_code == 0, done.output
    assert "Done elsewhere: balance: 95.00 EUR, the shop's figure as of 2026-02-01, set by ina" in done.output
    store = Store.open(small)
    held = shop_figures(Desk.over(store)).one("sublet", "balance")
    store.close()
    assert held is not None
    assert (held.price, held.who, held.as_of) == (9500, "ina", "2026-02-01")
    refused = runner.invoke(command, ["shop", "set", "tax", "--days", "9", "--author", "i", "--store", str(small)])
    assert refused.exit_code != 0
    rate = runner.invoke(command, ["shop", "rate", "shop", "61", "EUR", "--author", "ina", "--store", str(small)])
    assert "an hour of shop: 61.00 EUR" in rate.output
    assert (
        "95.00 EUR"
        not in runner.invoke(command, ["shop", "show", "--day", "2026-01-31", "--store", str(small)]).output
    )
