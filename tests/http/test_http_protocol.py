"""What is no HTTP/1.1 request (RFC 9112), sent as it is over a socket, to a server that runs as `serve` runs it."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from http.client import HTTPResponse

import pytest
import uvicorn

from api.app import create_app
from api.http.protocol import Protocol


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    application = create_app(tmp_path_factory.mktemp("none"))
    server = uvicorn.Server(uvicorn.Config(application, port=0, log_level="critical", http=Protocol))
    running = threading.Thread(target=server.run)
    running.start()
    while not server.started:
        time.sleep(0.01)
    yield server.servers[0].sockets[0].getsockname()[1]
    server.should_exit = True
    running.join()


def told(port: int, sent: bytes) -> tuple[HTTPResponse, bytes]:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        line.sendall(sent)
        answer = HTTPResponse(line)
        answer.begin()
        body = answer.read()
        assert line.recv(1) == b"", "the connection is closed"
    return answer, body


# RFC 9112: the request line (section 3), field lines (5), Content-Length (6.3), chunks (7.1).
@pytest.mark.parametrize(
    "sent",
    [
        b"POST /v1/fits HTTP/1.1\r\nHost: x\r\nContent-Length: abc\r\n\r\n{}",
        b"POST /v1/fits HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n{}",
        b"POST /v1/fits HTTP/1.1\r\nHost: x\r\nContent-Length: 2\r\nContent-Length: 3\r\n\r\n{}",
        b"POST /v1/fits HTTP/1.1\r\nHost: x\r\nContent-Length: 1e3\r\n\r\n{}",
        b"POST /v1/fits HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\nxyz\r\n",
        b"GET\r\n\r\n",
        b"GET /v1/parts\r\n\r\n",
        b"GET /a b HTTP/1.1\r\nHost: x\r\n\r\n",
        b"GET /v1/parts HTTP/1.1\r\n\r\n",
        b"GET /v1/parts HTTP/1.1\r\nHost: x\r\nno field\r\n\r\n",
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03",
    ],
)
def test_what_is_no_request_is_told_as_a_problem(port: int, sent: bytes) -> None:
    answer, body = told(port, sent)
    assert answer.status == 400
    assert answer.headers["content-type"] == "application/problem+json"
    assert int(answer.headers["content-length"]) == len(body)
    assert json.loads(body) == {**json.loads(body), "code": "broken-request", "status": 400}


def test_a_request_that_is_one_is_answered_after_others_were_not(port: int) -> None:
    answer, body = told(port, b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
    assert (answer.status, json.loads(body)) == (200, {"status": "alive"})


def test_a_body_that_breaks_off_while_it_is_answered_breaks_nothing(port: int) -> None:
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        line.sendall(b"POST /nowhere HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n")
        assert line.recv(12) == b"HTTP/1.1 404"
        line.sendall(b"no chunk\r\n")
        while line.recv(65_536):
            pass
    assert told(port, b"GET /health HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")[0].status == 200
