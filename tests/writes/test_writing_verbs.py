"""Keys, jobs and stock on the command line: the same rules and the same records as over HTTP."""

import json
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from typer.testing import CliRunner, Result

from api.cli.main import app
from api.http.protocol import Protocol
from graph.index.store import Store
from graph.ledger.keys import Keys


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(app, [*words, "--store", str(folder)])


def test_a_key_is_made_shown_once_listed_and_revoked(small: Path) -> None:
    made = run(small, "key", "make", "front counter", "--scope", "stock", "--scope", "bench", "--author", "Ada")
    assert made.exit_code == 0, made.output
    text = made.stdout.strip().splitlines()[0]
    assert text.startswith("sw_")
    listed = run(small, "key", "list")
    assert "front counter  stock, bench" in listed.stdout
    assert text.split("_", 2)[2] not in listed.stdout
    id_ = text.split("_")[1]
    renewed = run(small, "key", "renew", id_).stdout.strip().splitlines()[0]
    assert renewed.startswith(f"sw_{id_}_") and renewed != text
    keys = Keys(Store.open(small).ledger)
    assert keys.holder(text) is None and keys.holder(renewed) is not None
    assert "revoked" in run(small, "key", "revoke", id_).stdout
    assert run(small, "key", "renew", id_).exit_code == 2
    assert run(small, "key", "make", "x", "--scope", "root").exit_code == 2


def test_a_job_is_taken_moved_and_its_deposit_counted(small: Path) -> None:
    taken = run(small, "job", "take", "J-1", "--core", "C-1", "--build", "stage 1", "--customer", "mill")
    assert "J-1: received, core C-1 into stage 1, mill" in taken.stdout
    refused = run(small, "job", "move", "J-1", "boxed")
    assert refused.exit_code == 2
    assert "after that may come: stripped, collected" in refused.stderr
    assert "may come next: measured, collected" in run(small, "job", "move", "J-1", "stripped").stdout
    run(small, "job", "deposit", "J-1", "taken", "80.00", "EUR")
    shown = json.loads(run(small, "job", "show", "J-1", "--json").stdout)
    assert (shown["stage"], shown["held"], len(shown["steps"])) == ("stripped", 8000, 2)
    assert "J-1" in run(small, "job", "list", "--stage", "stripped").stdout


def test_stock_and_prices_are_put_and_shown(small: Path) -> None:
    put = run(small, "stock", "put", "OS-201", "5", "--place", "A3")
    assert "Ostrel OS-201: 5 on hand, 0 promised, 5 free" in put.stdout
    priced = run(small, "stock", "price", "OS-201", "140.00", "EUR", "--as-of", "2026-06-01")
    assert "new: 140.00 EUR as of 2026-06-01" in priced.stdout
    assert run(small, "stock", "show", "OS-999").exit_code == 2


@pytest.mark.parametrize(
    ("host", "keyed", "said", "open_"),
    [
        ("127.0.0.1", False, "programs on this machine may write, no others", True),
        ("::1", True, "Writing takes a key.", True),
        ("192.0.2.1", False, "nobody may write", False),
        ("0.0.0.0", True, "Writing takes a key.", False),
    ],
)
def test_serving_says_at_the_start_who_may_write(
    small: Path, monkeypatch: pytest.MonkeyPatch, host: str, keyed: bool, said: str, open_: bool
) -> None:
    import uvicorn

    begun: list[Any] = []

    def until_it_answers(app: FastAPI, **how: object) -> None:
        assert how["http"] is Protocol, "which tells of broken requests as of all else"
        with TestClient(app):
            begun.append(app)

    monkeypatch.setattr(uvicorn, "run", until_it_answers)
    monkeypatch.setenv("SPOOLWRIGHT_WORKERS", "0")
    if keyed:
        run(small, "key", "make", "x", "--scope", "stock")
    done = run(small, "serve", "--host", host)
    assert said in done.stdout, done.output
    assert [app.state.open_here for app in begun] == [open_]
