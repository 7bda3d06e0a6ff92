"""Kill -9 of the whole server while a client writes and retries: nothing acknowledged is lost, nothing is done twice.

Three outcomes are told apart, as RELIABILITY asks: acknowledged, refused, unknown. An unknown one is sent again under
its key until it is acknowledged. The control, that a retry fails where nothing is put on record, is in test_retries.
"""

import http.client
import json
import os
import random
import signal
import socket
import subprocess
import sys
import threading
import time
import uuid
from pathlib import Path

import pytest
from hook_receiver import receiver

from graph.index.store import Store
from graph.ledger.outbox import STOCK, Outbox
from graph.publish import verify_store

KILLS = 4


class Server:
    """The program as an operator starts it, and killed without a word."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self._process = self._started()

    def _started(self) -> "subprocess.Popen[bytes]":
        words = [sys.executable, "-m", "api.cli", "serve", "--store", str(self._folder), "--port", str(self.port)]
        environment = {**os.environ, "SPOOLWRIGHT_PRIVATE_HOOKS": "1", "SPOOLWRIGHT_WORKERS": "1"}
        return subprocess.Popen(
            words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=environment, start_new_session=True
        )

    def kill(self) -> None:
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait()

    def again(self) -> None:
        self._process = self._started()


class Unknown(Exception):
    """No answer came: it may have been carried out or not."""


def put(port: int, quantity: int, version: int, key: str) -> tuple[int, int]:
    """Status, and the version there is afterwards."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    headers = {"Content-Type": "application/json", "If-Match": f'"{version}"', "Idempotency-Key": key}
    try:
        body = json.dumps({"quantity": quantity, "author": "ina"})
        connection.request("PUT", "/v1/stock?part=OS-201&place=A3", body, headers)
        answer = connection.getresponse()
        told = json.loads(answer.read())
    except (OSError, http.client.HTTPException, ValueError) as error:
        raise Unknown from error
    finally:
        connection.close()
    return answer.status, told["places"][0]["version"] if answer.status == 200 else 0


def write_on(port: int, done: threading.Event) -> tuple[list[int], list[int]]:
    """The quantities that were acknowledged, and the statuses of retries that were neither done nor in flight."""
    acknowledged: list[int] = []
    refused: list[int] = []
    version, quantity = 1, 100
    while not done.is_set():
        quantity += 1
        key = str(uuid.uuid4())
        while True:
            try:
                status, after = put(port, quantity, version, key)
            except Unknown:
                time.sleep(0.05)
                continue
            if status == 200:
                acknowledged.append(quantity)
                version = after
                break
            if status in (409, 503):
                time.sleep(0.05)
                continue
            refused.append(status)
            return acknowledged, refused
    return acknowledged, refused


def run(folder: Path, *, kills: int, seed: int) -> tuple[list[int], list[int]]:
    """Write while the server is killed so often, each time in the midst of writing."""
    dice = random.Random(seed)
    server, done = Server(folder), threading.Event()
    result: list[tuple[list[int], list[int]]] = []
    client = threading.Thread(target=lambda: result.append(write_on(server.port, done)))
    client.start()
    try:
        for _ in range(kills):
            _until_up(server.port)
            time.sleep(dice.uniform(0.05, 0.6))
            server.kill()
            server.again()
            if not client.is_alive():
                break
        _until_up(server.port)
        time.sleep(1.5)
        done.set()
        client.join(60)
    finally:
        done.set()
        time.sleep(1.5)  # the courier's next turn brings what is left
        server.kill()
    return result[0]


def _until_up(port: int) -> None:
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        try:
            socket.create_connection(("127.0.0.1", port), 1).close()
            return
        except OSError:
            time.sleep(0.05)
    raise AssertionError("the server did not come up")


@pytest.mark.slow
def test_what_was_acknowledged_is_there_once_after_kills_and_events_keep_their_ids(small: Path) -> None:
    seed = int(os.environ.get("WRITES_SEED", random.randrange(10**6)))
    print(f"WRITES_SEED={seed}")  # noqa: T201 (pytest shows it with a failure)
    store = Store.open(small)
    with receiver() as listening:
        listening.secret = "whsec_c2VjcmV0"
        Outbox(store.ledger).make_hook(listening.url, (STOCK,), listening.secret, by="Ada", time="t")
        store.close()
        acknowledged, refused = run(small, kills=KILLS, seed=seed)
        got = list(listening.got)
    assert refused == []
    assert len(acknowledged) > KILLS  # the client did get work done between the kills
    store = Store.open(small)
    with store.ledger.reading() as reading:
        titles = [c.title for c in reading.history(1)]
    # Each quantity is another one: what was written, in order, is what was acknowledged, each once. The very last may
    # have been written without an answer.
    written = [int(title.split(": ")[1].split()[0]) for title in titles]
    assert written[: len(acknowledged)] == acknowledged
    assert len(written) - len(acknowledged) in (0, 1)
    assert verify_store(store) == []
    events = [e for e in Outbox(store.ledger).events(0, 100_000) if e.type == STOCK and e.n > 1]
    assert [e.n for e in events] == list(range(2, len(written) + 2))  # one for each change, no more
    ids = {e.id: e.n for e in events}
    assert {id_: payload["data"]["change_set"] for id_, payload in got}.items() <= ids.items()
    assert len({id_ for id_, _ in got}) > KILLS
    store.close()
