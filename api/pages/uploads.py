"""Files that a person sends: what each is by its content and name; several CSV files are one item."""

import io
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import Final

from graph.model.finding import Finding, Origin
from graph.sources.codes import finding

FORMS: Final = {
    ".xlsx": "xlsx", ".xlsm": "xlsx", ".csv": "csv", ".zip": "zip", ".ttl": "ttl", ".nq": "nq", ".nt": "nq",
    ".jsonld": "jsonld",
}  # fmt: skip
TAKEN: Final = ",".join(FORMS)
"""What a field for files lists."""

_NAME_LONG: Final = 150
_PACKED: Final = b"PK\x03\x04"
_WORKBOOK: Final = "xl/workbook.xml"


@dataclass(frozen=True, slots=True)
class Sent:
    """One file as it came."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Part:
    """What a change set takes as one item."""

    form: str
    name: str
    data: bytes


def parts_of(files: Sequence[Sent], taken: Sequence[str] = ()) -> tuple[list[Part], list[Finding]]:
    """The items that the files make, and a finding for each file that is none.

    CSV files that come together are read together, so that each may rest on the others. `taken`: names of items that
    are there already.
    """
    parts: list[Part] = []
    faults: list[Finding] = []
    sheets: dict[str, bytes] = {}
    for one in files:
        name = PurePosixPath(one.name.replace("\\", "/")).name[-_NAME_LONG:] or "file"
        form = _form(name, one.data)
        if not form or not one.data:
            suffix = PurePosixPath(name).suffix
            detail = "it is empty" if not one.data else f"{suffix or 'a file without suffix'} is not read here"
            faults.append(finding("file-unreadable", Origin(name), name, detail=detail))
        elif form == "csv":
            if name.casefold() in {n.casefold() for n in sheets}:
                faults.append(finding("file-unreadable", Origin(name), name, detail="it was sent twice"))
            sheets[name] = one.data
        else:
            parts.append(Part(form, name, one.data))
    if len(sheets) == 1:
        parts += [Part("csv", name, data) for name, data in sheets.items()]
    elif sheets:
        parts.append(Part("zip", f"{len(sheets)} CSV files.zip", _together(sheets)))
    names = set(taken)
    for place, part in enumerate(parts):
        parts[place] = Part(part.form, _free(part.name, names), part.data)
        names.add(parts[place].name)
    return parts, faults


def _form(name: str, data: bytes) -> str:
    form = FORMS.get(PurePosixPath(name).suffix.casefold(), "")
    if form in ("xlsx", "zip") and data.startswith(_PACKED):
        try:
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                return "xlsx" if _WORKBOOK in archive.namelist() else "zip"
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
            return form
    return form


def _together(sheets: dict[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for name, data in sheets.items():
            archive.writestr(name, data)
    return out.getvalue()


def _free(name: str, taken: set[str]) -> str:
    """A name that no other item has: findings tell items apart by it. A CSV file's name is its sheet's, and stays."""
    if name not in taken or name.endswith(".csv"):
        return name
    path = PurePosixPath(name)
    number = next(n for n in range(2, 10_000) if f"{path.stem} {n}{path.suffix}" not in taken)
    return f"{path.stem} {number}{path.suffix}"
