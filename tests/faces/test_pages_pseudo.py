"""No text of a page is outside the catalogue: each stands in brackets, and what is outside must be data."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pseudo_locale
import pytest

ROOT = Path(__file__).parents[2]
DAY = "2026-11-20"
PLAN = f"core=HB-017&build=larger-wheels&engine=BR6-C&as_of={DAY}"
PATHS = (
    "/",
    "/ask?q=OV64-220",
    "/machine?q=FW-12+2012",
    "/thing?name=46-50-310",
    f"/fits?unit=OV46-220&engine=BR6-C&both=yes&as_of={DAY}",
    f"/fits?unit=QN48-25&engine=BR6-F&as_of={DAY}",
    f"/others?unit=OV46-220&engine=BR6-C&as_of={DAY}",
    f"/plan?{PLAN}&best=3",
    f"/plan?{PLAN}&wish=keep:turbine-housing&wish=no-part:46-20-262",
    "/interchange?part=46-20-140",
    f"/settle?unit=QN48-25&engine=BR6-F&as_of={DAY}",
    "/identify?core=HB-013",
    "/cores",
    "/core/HB-017",
    "/intake",
    f"/pick?{PLAN}&plan=1",
    "/label?job=HB-017~larger-wheels~BR6-C~1",
    f"/quote?{PLAN}&plan=1&tax=19",
    "/credit?core=HB-017&rule=A:100",
    "/claim?core=HB-012&complaint=it+whistles",
    "/map",
    f"/sheet?{PLAN}&plan=1",
    f"/sign?{PLAN}&plan=1",
    "/plan?core=HB-999&build=larger-wheels",
)


@pytest.mark.slow
def test_what_stands_outside_the_brackets_is_data(tmp_path: Path, demo_folder: Path) -> None:
    pseudo_locale.write(tmp_path)
    env = {
        **os.environ,
        "SPOOLWRIGHT_LANGUAGE": pseudo_locale.LANGUAGE,
        "SPOOLWRIGHT_LOCALE": str(tmp_path),
        "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
    }
    told = subprocess.run(
        [sys.executable, str(Path(pseudo_locale.__file__)), str(demo_folder), *PATHS],
        cwd=ROOT, env=env, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    assert {path: texts for path, texts in json.loads(told.stdout).items() if texts} == {}


def test_a_text_outside_the_brackets_is_noticed() -> None:
    """The judge itself: data and bracketed texts pass, a word from nowhere does not."""
    data = pseudo_locale.Data(iter(["compressor wheel", "46-20-262", "K-NUT"]))
    assert pseudo_locale.outside("<p>⟦From ⟦x⟧⟧ 46-20-262, compressor wheel K-NUT 7</p>", data) == []
    assert pseudo_locale.outside('<p aria-label="Close">compressor wheel</p>', data) == ["Close"]
    assert pseudo_locale.outside("<p>wheel</p><datalist><option>other</datalist>", data) == ["wheel"]
