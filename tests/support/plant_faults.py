"""Write a small workbook with planted faults, and say what was planted where: `plant_faults.py SEED FOLDER [xlsx]`.

`spoolwright check` on what is written must name each of them, and nothing else.
"""

import sys
from pathlib import Path
from random import Random

from faults import FAULTS, Planted, plant
from small_workbook import small_workbook, write_csv, write_xlsx


def planted(seed: int, folder: Path, kind: str = "csv") -> tuple[Path, list[Planted]]:
    """Every kind of fault that such a file can have, each at a place that the seed picks: the file, and the list."""
    names = sorted(name for name, fault in FAULTS.items() if fault.only in ("", kind))
    random = Random(seed)
    random.shuffle(names)
    book, faults = plant(small_workbook(), names, random)
    if kind == "csv":
        return write_csv(book, folder / "faulty"), faults
    return write_xlsx(book, folder / "faulty.xlsx"), faults


if __name__ == "__main__":
    where, faults = planted(int(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:4])
    for one in faults:
        print(f"{one.code:32} {one.sheet:14} row {one.row}, {one.column}")  # noqa: T201 (this is its answer)
    print(f"{len(faults)} faults of {len({one.code for one in faults})} kinds in {where}")  # noqa: T201
