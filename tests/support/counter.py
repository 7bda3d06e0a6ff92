"""The counter in a real browser: a server on loopback over a store, and Debian's chromium, if it is there."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

CHROMIUM: Final = next((p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).exists()), "")
DAY: Final = "2026-11-20"
SERVER: Final = """
import sys, uvicorn
from pathlib import Path
from api.app import create_app
uvicorn.run(create_app(Path(sys.argv[1]), demo=True), host="127.0.0.1", port=int(sys.argv[2]), log_level="warning")
"""


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """The address of a server over this store; it ends with the block."""
    port = free_port()
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    process = subprocess.Popen([sys.executable, "-c", SERVER, str(folder), str(port)], env=env)
    base = f"http://127.0.0.1:{port}"
    try:
        for _ in range(300):
            try:
                urllib.request.urlopen(base + "/static/style.css", timeout=1).close()
                break
            except OSError:
                if process.poll() is not None:
                    raise RuntimeError("the server ended before it answered") from None
                time.sleep(0.1)
        yield base
    finally:
        process.terminate()
        process.wait(10)
