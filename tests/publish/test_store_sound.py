"""Recomputing a store from the command line, and backups that were cut short."""

import json
from pathlib import Path

import pytest
from store_rows import shop
from typer.testing import CliRunner, Result

from api.cli.main import app
from graph.errors import BadFile
from graph.index.store import Store
from graph.publish import publish_statements
from graph.publish.backing import backup, restore


def run(folder: Path, *words: str) -> Result:
    return CliRunner().invoke(app, ["sound", *words, "--store", str(folder)])


def test_a_store_is_told_to_be_sound_or_what_is_wrong_with_it(tmp_path: Path) -> None:
    store = Store.create(tmp_path / "store")
    publish_statements(store, shop(), author="Ada", time="t")
    index = store.catalogue().index.place
    store.close()
    told = run(tmp_path / "store")
    assert told.exit_code == 0 and "sound" in told.stdout and "change set 1" in told.stdout

    data = bytearray(index.read_bytes())
    place = data.index(b"Ostrel")
    data[place : place + 6] = b"Ostrex"
    index.write_bytes(data)
    told = run(tmp_path / "store", "--json")
    assert told.exit_code == 1
    assert json.loads(told.stdout)["faults"][0].startswith("the live index does not hold what the ledger says")
    assert run(tmp_path / "store").exit_code == 0  # it was made again

    ledger = tmp_path / "store" / "ledger.sqlite"
    ledger.write_bytes(ledger.read_bytes().replace(b"Ostrel", b"Ostrex"))
    told = run(tmp_path / "store")
    assert told.exit_code == 1 and "change set 1" in told.stdout


@pytest.mark.parametrize("kept", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_a_backup_that_was_cut_short_brings_nothing_back(tmp_path: Path, kept: float) -> None:
    store = Store.create(tmp_path / "store")
    publish_statements(store, shop(), author="Ada", time="t")
    backup(store, tmp_path / "one.sqlite")
    store.close()
    data = (tmp_path / "one.sqlite").read_bytes()
    (tmp_path / "short.sqlite").write_bytes(data[: int(len(data) * kept)])
    with pytest.raises(BadFile):
        restore(tmp_path / "short.sqlite", tmp_path / "back")
    assert not (tmp_path / "back").exists()
    assert restore(tmp_path / "one.sqlite", tmp_path / "back").change_set == 1
