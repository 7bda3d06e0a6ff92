"""A receiver of webhooks on loopback, that verifies each delivery with the reference library and answers as told."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from standardwebhooks import Webhook


class Receiver:
    """`answers`: the statuses of the next deliveries, then 204. `got`: id and payload of each that was verified."""

    def __init__(self, url: str) -> None:
        self.url = url
        self.secret = ""
        self.answers: list[int] = []
        self.got: list[tuple[str, dict[str, Any]]] = []
        self.came = 0


@contextmanager
def receiver() -> Iterator[Receiver]:
    """A receiver that listens until the block ends."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            made.came += 1
            status = made.answers.pop(0) if made.answers else 204
            if made.secret:
                Webhook(made.secret).verify(body, dict(self.headers.items()))  # raises, and answers nothing, if wrong
                made.got.append((self.headers["webhook-id"], json.loads(body)))
            self.send_response(status)
            if status in (301, 302, 307, 308):
                self.send_header("Location", made.url + "elsewhere")
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    made = Receiver(f"http://127.0.0.1:{server.server_port}/")
    thread = threading.Thread(target=server.serve_forever, args=(0.05,))
    thread.start()
    try:
        yield made
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
