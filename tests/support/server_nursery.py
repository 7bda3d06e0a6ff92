"""A process with the server's modules loaded and none running, that servers are forked from in a moment.

Each server is a process group of its own, so that a kill takes its workers along.
"""

import asyncio
import json
import os
import socket
import subprocess
import sys
from collections.abc import MutableMapping
from pathlib import Path
from typing import Any

from fastapi import FastAPI


class ServerNursery:
    """Starts servers over one store, on one port, to be killed without a word."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        path = os.pathsep.join(folder for folder in sys.path if folder)
        self._process = subprocess.Popen(
            [sys.executable, __file__, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "PYTHONPATH": path, "SPOOLWRIGHT_PRIVATE_HOOKS": "1"},
        )

    def _ask(self, **what: object) -> int:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(what) + "\n")
        self._process.stdin.flush()
        return int(self._process.stdout.readline())

    def start(self) -> int:
        """A server; its process id."""
        return self._ask(start=self.port)

    def kill(self, server: int) -> None:
        """SIGKILL to it and all that it started; returns when it is gone."""
        assert self._ask(kill=server) == server

    def close(self) -> None:
        """End the nursery; servers that run are killed."""
        self._process.communicate()


async def _asked_once(app: FastAPI) -> None:
    """One request that opens no store and starts no thread: routes are built when the first one comes."""
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
        "path": "/health", "raw_path": b"/health", "root_path": "", "query_string": b"", "headers": [],
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 1),
    }  # fmt: skip

    async def receive() -> dict[str, object]:
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message: MutableMapping[str, Any]) -> None:
        assert message.get("status", 200) == 200

    await app(scope, receive, send)


def _nursery() -> None:
    import signal
    from contextlib import ExitStack

    import uvicorn

    from api.app import create_app
    from graph.publish.checking import gathered

    with ExitStack() as stack:
        gathered([], stack)  # loads what a write needs; no store is opened
    app = create_app(Path(sys.argv[1]))
    asyncio.run(_asked_once(app))

    def serve(port: int) -> None:
        os.setsid()
        uvicorn.run(app, host="127.0.0.1", port=port, log_level="error", http="h11")

    running: set[int] = set()
    for line in sys.stdin:
        asked = json.loads(line)
        if "kill" in asked:
            child = asked["kill"]
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            running.discard(child)
        else:
            child = os.fork()
            if child == 0:
                try:
                    serve(asked["start"])
                finally:
                    os._exit(1)
            running.add(child)
        print(child, flush=True)  # noqa: T201
    for child in running:
        os.killpg(child, signal.SIGKILL)


if __name__ == "__main__":
    _nursery()
