"""The program over a record in PostgreSQL: command line, server and a second machine, as over a file.

The ledger's own tests run on both databases (tests/ledger); here it is what stands on it.
"""

import json
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
import store_postgres
from store_rows import money, row, shop
from writing_desk import caller, problem, shop_app

from graph.errors import Conflict
from graph.index.store import Store
from graph.publish import publish_statements, record

READ = "/v1/fits?unit=OU 10&engine=B6"
FLANGE = {"maker": "Brackmoor", "engine": "B6", "feature": "flange", "value": "A4", "source": "drawing 7"}


@pytest.fixture(name="url")
def url_fixture(postgres: str) -> str:
    store_postgres.empty(postgres)
    return postgres


def machine(folder: Path, url: str) -> Path:
    """A folder of indexes over the shared record, as one machine has it."""
    Store.create(folder, url).close()
    return folder


def run(*words: str, **env: str) -> Any:
    """A command in a process of its own, as it ends with its connections."""
    line = [sys.executable, "-m", "api.cli", *words, "--json"]
    done = subprocess.run(line, env={**os.environ, **env}, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr + done.stdout
    return json.loads(done.stdout)


@pytest.mark.slow
def test_the_command_line_makes_a_store_there_and_finds_it_again(url: str, tmp_path: Path) -> None:
    sheet, folder = tmp_path / "kinds.csv", str(tmp_path / "store")
    sheet.write_text("kind,label\nclamp,band clamp\n")
    made = run("publish", str(sheet), "--store", folder, "--author", "Ada", SPOOLWRIGHT_LEDGER=url)
    assert made["published"] is True
    assert not (tmp_path / "store" / "ledger.sqlite").exists()
    assert (tmp_path / "store" / "LEDGER").stat().st_mode & 0o077 == 0, "an address may hold a password"
    assert [one["author"] for one in run("history", "--store", folder)] == ["Ada"], "found without the variable"


def test_a_folder_keeps_to_its_record(url: str, tmp_path: Path) -> None:
    machine(tmp_path / "there", url)
    Store.create(tmp_path / "there", url).close()
    Store.create(tmp_path / "there").close()  # the same one, remembered
    with pytest.raises(Conflict, match="another database"):
        Store.create(tmp_path / "there", url + "&application_name=other")
    Store.create(tmp_path / "own").close()
    with pytest.raises(Conflict, match="file of its own"):
        Store.create(tmp_path / "own", url)


def test_the_server_reads_and_writes_there(url: str, tmp_path: Path) -> None:
    folder = machine(tmp_path / "one", url)
    store = Store.open(folder)
    publish_statements(store, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    store.close()
    with caller(shop_app(folder)) as client:
        assert client.get(READ).json()[0]["verdict"] == "not known"
        sent = {"If-Match": '"1"', "Idempotency-Key": "p-1"}
        stock = {"quantity": 7, "author": "ina"}
        first, again = (client.put("/v1/stock?part=OS-201&place=A3", json=stock, headers=sent) for _ in range(2))
        assert (first.status_code, again.headers["idempotency-replayed"]) == (200, "true")
        change = client.post("/v1/changes", json={"title": "flange", "author": "ina"}).json()["id"]
        body = {"sheet": "engine_values", "rows": [FLANGE], "author": "ina"}
        client.post(f"/v1/changes/{change}/rows", json=body)
        found = client.post(f"/v1/changes/{change}/check").json()
        assert (found["faulty"], found["shift"]["come"], found["head"]) == (False, 1, 2)
        asked = {"version": found["version"], "author": "ina"}
        done = client.post(f"/v1/changes/{change}/commit", json=asked, headers={"If-Match": '"2"'})
        assert done.json()["change_set"]["n"] == 3
        assert client.get(READ).json()[0]["verdict"] == "fits"
        assert client.get(f"{READ}&as-of=2").json()[0]["verdict"] == "not known"
        assert [e["type"] for e in client.get("/v1/events?after=2").json()["events"]] == [
            "stock.changed", "catalogue.published",
        ]  # fmt: skip
        task = client.post("/v1/backups?author=Ada")
        for _ in range(200):
            state = client.get(task.headers["location"]).json()
            if state["state"] != "running":
                break
            time.sleep(0.05)
        assert (state["state"], state["problem"]) == ("failed", "the record is a PostgreSQL database")


def test_a_server_follows_what_another_machine_writes(url: str, tmp_path: Path) -> None:
    one, two = machine(tmp_path / "one", url), machine(tmp_path / "two", url)
    other = Store.open(two)
    publish_statements(other, shop(), author="Ada", time="2026-01-01T00:00:00Z")
    with caller(shop_app(one)) as client:
        record(other, [row("rates", name="night", per_hour=money(7000), currency="EUR")], author="Ada", time="t")
        behind = client.get("/v1/snapshot", headers={"Spoolwright-At-Least": "9"})
        assert problem(behind) == (503, "behind")
        for _ in range(100):
            told = client.get("/v1/snapshot", headers={"Spoolwright-At-Least": "2"})
            if told.status_code == 200:
                break
            time.sleep(0.1)
        assert (told.status_code, told.json()["shelf"]) == (200, 2)
    other.close()
