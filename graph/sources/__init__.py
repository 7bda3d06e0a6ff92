"""Files that shops have, read into statements and findings, and statements written as such files again."""

from graph.sources.known import EmptyKnown, Known, KnownStatements
from graph.sources.reading import Progress, read, read_tables
from graph.sources.write import write_folder, write_workbook

__all__ = [
    "EmptyKnown", "Known", "KnownStatements", "Progress", "read", "read_tables", "write_folder", "write_workbook",
]  # fmt: skip
