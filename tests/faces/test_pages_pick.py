"""Pick lists on paper and for several jobs: what was struck out is left out everywhere, and every code decodes again.

PDF pages are drawn by poppler (pdftoppm) and their codes read by zxing-cpp: neither knows our code.
"""

import csv
import re
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from io import BytesIO, StringIO
from pathlib import Path

import openpyxl
import pytest
import zxingcpp
from PIL import Image
from pypdf import PdfReader
from starlette.testclient import TestClient

from api.app import create_app
from graph.desk import Desk
from graph.model.picking import PickLine

DAY = "2026-11-20"
JOBS = [("job", "HB-017~larger-wheels~BR6-C~1"), ("job", "HB-001~stock-101~~1"), ("as_of", DAY)]
ASKED = [("HB-017", "larger-wheels", "BR6-C", 1, ()), ("HB-001", "stock-101", "", 1, ())]
WHEEL = "46-20-262"
drawn = pytest.mark.skipif(
    not shutil.which("pdftoppm"), reason="PDF PAGES NOT LOOKED AT: pdftoppm is not installed (apt: poppler-utils)"
)


@pytest.fixture(scope="module")
def client(demo_folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(demo_folder, demo=True)) as opened:
        yield opened


def codes(pdf: bytes, folder: Path) -> list[tuple[str, str]]:
    """What is read on all pages, printed at 300 dots an inch."""
    (folder / "paper.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "300", "-png", "paper.pdf", "page"], cwd=folder, check=True)
    found = []
    for file in sorted(folder.glob("page*.png")):
        found += [(one.format.name, one.text) for one in zxingcpp.read_barcodes(Image.open(file).convert("L"))]
    return found


def written(line: PickLine) -> str:
    """What a scanner is to read on a line: its number, or the core's tag where the part has none."""
    return line.number or line.lot


@drawn
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_every_line_of_a_printed_pick_list_can_be_scanned(
    client: TestClient, demo_desk: Desk, tmp_path: Path, paper: str
) -> None:
    made = client.get("/pick", params=[*JOBS, ("format", "pdf"), ("paper", paper)])
    read = codes(made.content, tmp_path)
    lines = demo_desk.pick(ASKED, day=DAY).lines
    bars = Counter(text for kind, text in read if kind == "Code128")
    assert bars == Counter(written(line) for line in lines if line.section != "in-kit")
    assert [text for kind, text in read if kind == "QRCode"] == ["HB-017 into larger-wheels; HB-001 into stock-101"]


@drawn
def test_every_label_of_the_pdf_can_be_scanned(client: TestClient, demo_desk: Desk, tmp_path: Path) -> None:
    """A label a page, 100 by 50 mm; a point is 1/72 in."""
    made = client.get("/label", params=[*JOBS, ("format", "pdf")])
    pages = PdfReader(BytesIO(made.content)).pages
    assert {(round(p.mediabox.width), round(p.mediabox.height)) for p in pages} == {(283, 142)}
    read = codes(made.content, tmp_path)
    wanted = [
        written(x) for x in demo_desk.pick(ASKED, day=DAY).lines if x.section in ("part", "consumed", "kit", "donor")
    ]
    assert Counter(text for kind, text in read if kind == "Code128") == Counter(["HB-017", "HB-001", *wanted])
    addresses = [text for kind, text in read if kind == "QRCode"]
    assert len(addresses) == 2
    assert all(client.get(address).status_code == 200 for address in addresses)


def test_what_is_struck_out_is_in_no_form_of_the_list(client: TestClient) -> None:
    struck = [*JOBS, ("out", WHEEL)]
    whole = list(csv.DictReader(StringIO(client.get("/pick", params=[*JOBS, ("format", "csv")]).text)))
    left = list(csv.DictReader(StringIO(client.get("/pick", params=[*struck, ("format", "csv")]).text)))
    assert [row for row in whole if row["number"] != WHEEL] == left
    assert len(left) == len(whole) - 1
    book = openpyxl.load_workbook(BytesIO(client.get("/pick", params=[*struck, ("format", "xlsx")]).content))
    cells = [[str(cell.value or "") for cell in row] for row in book.active.iter_rows()]
    assert WHEEL not in {cell for row in cells for cell in row}
    assert any(cell.startswith(f"struck out: 1 x Ostrel {WHEEL}") for row in cells for cell in row)
    pdf = client.get("/pick", params=[*struck, ("format", "pdf")]).content
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    assert text.count(WHEEL) == 1  # named once, below "Struck out"
    assert text.index("Struck out") < text.index(WHEEL)
    assert f"<h2>Ostrel {WHEEL}</h2>" in client.get("/label", params=JOBS).text
    assert f"<h2>Ostrel {WHEEL}</h2>" not in client.get("/label", params=struck).text


def test_a_kit_is_struck_out_with_all_that_is_in_it(client: TestClient, demo_desk: Desk) -> None:
    lines = demo_desk.pick(ASKED, day=DAY).lines
    kits = [at for at, line in enumerate(lines) if line.section == "kit"]
    assert kits
    at = kits[0]
    inside = next((n for n, line in enumerate(lines[at + 1 :], at + 1) if line.section != "in-kit"), len(lines))
    left = list(csv.DictReader(StringIO(
        client.get("/pick", params=[*JOBS, ("out", lines[at].number), ("format", "csv")]).text
    )))  # fmt: skip
    assert [row["number"] for row in left] == [line.number for line in (*lines[:at], *lines[inside:])]


@pytest.fixture
def writing(tmp_path: Path, demo_folder: Path) -> Iterator[TestClient]:
    shutil.copytree(demo_folder, tmp_path / "store")
    app = create_app(tmp_path / "store", demo=True)
    with TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 5000)) as opened:
        yield opened


def test_several_jobs_are_reserved_at_once_each_under_its_number(writing: TestClient) -> None:
    token = re.search(r'name="token" value="(\w+)"', writing.get("/pick", params=JOBS).text)
    assert token
    form = {"job": [v for k, v in JOBS if k == "job"], "as_of": DAY, "who": "counter", "token": token[1]}
    before = len(writing.get("/v1/history").json())
    assert writing.post("/pick/reserve", data={**form, "name": ["J-1", ""]}).status_code == 422
    assert writing.post("/pick/reserve", data={**form, "name": ["J-1", "J-1"]}).status_code == 422
    assert len(writing.get("/v1/history").json()) == before
    said = writing.post("/pick/reserve", data={**form, "name": ["J-1", "J-2"], "out": [WHEEL]}).text
    assert "Reserved for J-1, J-2" in said
    promised = [p for p in writing.get("/v1/shelf/promises").json() if p["job"] in ("J-1", "J-2")]
    cores = {(p["job"], p["tag"]) for p in promised if p["tag"] and not p["seat"]}
    assert cores == {("J-1", "HB-017"), ("J-2", "HB-001")}
    parts = {(p["job"], p["part"]) for p in promised if not p["tag"]}
    assert parts
    assert WHEEL not in {name.rpartition("/")[2] for _job, name in parts}
