"""A zip of CSV files: its directory is looked at before anything is unpacked, and only plain CSV files come out."""

import zipfile
from pathlib import Path, PurePosixPath
from typing import Final

from graph.model.finding import Finding, Origin
from graph.sources.codes import finding
from graph.sources.workbook import refusal

_PIECE: Final = 1 << 20
ADDED: Final = "__MACOSX"
"""The folder that an archiver adds by itself; files whose name begins with a dot are such, too."""


def unpack(path: Path, folder: Path) -> Finding | None:
    """Unpack the CSV files of an archive into `folder`, without its folders; or why it is not read.

    A file that is no CSV file stops the reading: nothing that was sent is passed over unseen.
    """
    refused = refusal(path)
    if refused:
        return refused
    origin = Origin(path.name)
    taken: set[str] = set()
    try:
        with zipfile.ZipFile(path) as archive:
            for member in archive.infolist():
                inside = PurePosixPath(member.filename.replace("\\", "/"))
                if member.is_dir() or ADDED in inside.parts or inside.name.startswith("."):
                    continue
                name = inside.name
                if inside.suffix.casefold() != ".csv" or "\0" in name:
                    detail = f"it holds {name!r}, which is no .csv file"
                    return finding("file-unreadable", origin, path.name, detail=detail)
                if name.casefold() in taken:
                    return finding("file-unreadable", origin, path.name, detail=f"it holds {name!r} twice")
                taken.add(name.casefold())
                with archive.open(member) as packed, (folder / name).open("wb") as out:
                    while piece := packed.read(_PIECE):
                        out.write(piece)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError, RuntimeError) as error:
        return finding("file-unreadable", origin, path.name, detail=error)
    if not taken:
        return finding("file-unreadable", origin, path.name, detail="it holds no .csv file")
    return None
