"""A process of its own that writes a catalogue as CSV and publishes it; prints CPU seconds and peak memory as JSON.

`python -m benchmarks.store_publish PARTS FOLDER`
"""

import csv
import json
import sys
import time
from pathlib import Path
from typing import Any

from benchmarks.measurement import peak
from benchmarks.store_catalogue import catalogue
from graph.index.store import Store
from graph.model.sheet import BY_NAME
from graph.model.statement import Statement
from graph.publish import publish


def cell(value: Any) -> str:
    """A field as a shop would type it."""
    return str(value["text"]) if isinstance(value, dict) else str(value)


def cells(statement: Statement) -> dict[str, str]:
    """A row of a sheet."""
    made = {name: cell(value) for name, value in statement.fields.items()}
    value = statement.fields.get("value")
    if isinstance(value, dict) and "unit" in value:
        made["unit"] = value["unit"]
    return made | ({"source": statement.evidence.source} if statement.evidence.source else {})


def write_csv(parts: int, folder: Path) -> None:
    """The catalogue as a folder of CSV, one file a sheet."""
    folder.mkdir(parents=True)
    files: dict[str, Any] = {}
    for statement in catalogue(parts):
        writer = files.get(statement.sheet)
        if writer is None:
            names = [c.name for c in BY_NAME[statement.sheet].columns]
            extra = [] if "source" in names else ["source"]
            handle = (folder / f"{statement.sheet}.csv").open("w", newline="", encoding="utf-8")
            writer = files[statement.sheet] = (csv.DictWriter(handle, names + extra), handle)
            writer[0].writeheader()
        writer[0].writerow(cells(statement))
    for _, handle in files.values():
        handle.close()


def main() -> None:
    parts, folder = int(sys.argv[1]), Path(sys.argv[2])
    write_csv(parts, folder / "csv")
    store = Store.create(folder / "store")
    began = time.process_time()
    report = publish(folder / "csv", store, author="bench", time="2026-01-01T00:00:00Z")
    seconds = time.process_time() - began
    assert report.published, report.findings[:5]
    print(json.dumps({"seconds": seconds, "peak_mib": peak(), "rows": report.rows}))
    store.close()


if __name__ == "__main__":
    main()
