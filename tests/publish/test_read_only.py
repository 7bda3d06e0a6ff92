"""A disk that takes no more writes: what is open goes on reading, a write says why not, nothing is lost."""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from power_cut import Disk
from starlette.testclient import TestClient
from store_crash import rows, shown
from typer.testing import CliRunner

from api.app import create_app
from api.cli.main import app
from graph.errors import StoreReadOnly
from graph.index.store import Store
from graph.publish import enter_core, publish_statements, record, verify_store


def publish(store: Store, i: int) -> None:
    publish_statements(store, rows(i), author="Ada", time="t", title=str(i))


def test_a_disk_that_stops_taking_writes_is_read_on_and_said_to_be_so(disk: Disk, tmp_path: Path) -> None:
    folder = disk.place / "store"
    store = Store.create(folder)
    publish(store, 1)
    enter_core(store, {"tag": "K1"}, author="ina", time="2026-01-01T00:00:00Z")
    os.sync()
    with TestClient(create_app(folder), base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as client:
        assert client.get("/v1/cores/K1").status_code == 200
        disk.refuses()
        with pytest.raises(StoreReadOnly):
            publish(store, 2)
        with pytest.raises(StoreReadOnly):
            record(store, rows(2)[1:2], author="Ada", time="t")
        assert shown(store) == (1, 1, 1)
        answer = client.post("/v1/cores", json={"tag": "K2", "author": "ina"})
        assert (answer.status_code, answer.json()["code"]) == (503, "store-read-only")
        assert client.get("/v1/cores/K1").json()["tag"] == "K1"
    store.close()
    again = Store.open(Path(shutil.copytree(folder, tmp_path / "other disk")))
    assert verify_store(again) == []
    publish(again, 2)  # and goes on where there is a disk that does
    assert shown(again) == (2, 2, 2)
    again.close()


def test_a_store_that_was_closed_is_not_opened_where_nothing_may_be_written(disk: Disk) -> None:
    folder = disk.place / "store"
    store = Store.create(folder)
    publish(store, 1)
    store.close()
    del store
    disk.for_reading()
    for asked in (Store.open, Store.create):
        with pytest.raises(StoreReadOnly, match="cannot be written here"):
            asked(folder)
    with pytest.raises(StoreReadOnly):  # which is no damage
        verify_store(Store(folder))
    told = CliRunner().invoke(app, ["sound", "--store", str(folder)])
    assert told.exit_code != 0
    assert "store-read-only" in told.stderr
    assert not (folder / "DAMAGED").exists()


@pytest.fixture
def open_place() -> Iterator[Path]:
    """A folder that every user may look into; pytest's own are their owner's."""
    with tempfile.TemporaryDirectory() as place:
        Path(place).chmod(0o755)
        yield Path(place)


def test_another_user_s_store_is_said_to_be_so(open_place: Path) -> None:
    if os.getuid() != 0:
        pytest.skip("NOT TESTED: only root may become another user")
    folder = open_place / "store"
    store = Store.create(folder)
    publish(store, 1)
    store.close()
    asked = (
        "import os, sys\nfrom pathlib import Path\nfrom graph.errors import StoreReadOnly\n"
        "from graph.index.store import Store\nos.setgroups([])\nos.setgid(65534)\nos.setuid(65534)\n"
        "try:\n    Store.open(Path(sys.argv[1]))\nexcept StoreReadOnly as error:\n    print(error.code)\n"
    )
    path = os.pathsep.join(place for place in sys.path if place)
    done = subprocess.run(
        [sys.executable, "-c", asked, str(folder)],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": path},
    )  # fmt: skip
    assert (done.stdout.strip(), done.returncode) == ("store-read-only", 0), done.stderr
