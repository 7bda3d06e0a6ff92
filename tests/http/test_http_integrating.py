"""`docs/integrating.md` is run as it stands: its lines against a server of the demo, its answers compared."""

import json
import re
import shlex
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

PAGE = Path(__file__).parents[2] / "docs" / "integrating.md"
BLOCK = re.compile(r"^```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A server as the page starts it, on a free port."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    folder = tmp_path_factory.mktemp("served") / "store"
    command = [sys.executable, "-m", "api.cli", "serve", "--demo", "--store", str(folder), "--port", str(port)]
    running = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(1800):  # a machine at work on other things takes minutes to load it
            if running.poll() is not None:
                raise AssertionError(running.stderr.read() if running.stderr else "")
            try:
                urllib.request.urlopen(f"{address}/v1/snapshot", timeout=1)
                break
            except OSError:
                time.sleep(0.1)
        yield address
    finally:
        running.terminate()
        running.wait(15)
        if running.stderr:
            running.stderr.close()


def blocks() -> list[str]:
    return [block for block in BLOCK.findall(PAGE.read_text()) if "curl" in block]


@pytest.mark.slow
def test_five_requests_lead_from_nothing_to_a_priced_pick_list(server: str, tmp_path: Path) -> None:
    steps = [block for block in blocks() if "# step" in block]
    assert [int(re.search(r"# step (\d)", block)[1]) for block in steps] == [1, 2, 3, 4, 5]  # type: ignore[index]
    told: list[str] = []
    for block in steps:
        assert block.count("curl") == 1, "one request a step"
        script = block.replace("http://127.0.0.1:8321", server)
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", script],
            check=False,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stderr + done.stdout
        told.append(done.stdout)
    hits, fits, plan, rows = told[0], json.loads(told[1]), json.loads(told[2]), told[4].splitlines()
    assert "HB-017" in hits
    assert fits[0]["verdict"] in ("fits", "fits with work", "not known", "does not fit")
    cost = plan["answer"]["plans"][0]["cost"]
    assert cost["currency"] if isinstance(cost, dict) else cost
    assert "price" in rows[0] and len(rows) > 5


@pytest.mark.slow
def test_every_other_line_of_the_page_runs(server: str, tmp_path: Path) -> None:
    for block in blocks():
        if "# step" in block or "# another server" in block:
            continue
        script = block.replace("http://127.0.0.1:8321", server)
        done = subprocess.run(
            ["bash", "-euo", "pipefail", "-c", script],
            check=False,
            cwd=tmp_path,
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, f"{block}\n{done.stderr}\n{done.stdout}"


def test_the_page_asks_for_no_status_but_success() -> None:
    for block in blocks():
        for line in block.splitlines():
            if line.startswith("curl"):
                assert "--fail" in shlex.split(line.rstrip("\\")) or "-f" in line, line
