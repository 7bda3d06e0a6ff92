"""Writing everything that holds to a file that reads back to the same rows."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from graph.errors import BadQuestion
from graph.model.statement import Statement

RDF: Final = {"ttl": "text/turtle", "nq": "application/n-quads", "jsonld": "application/ld+json"}
FORMS: Final = ("xlsx", "csv", *RDF)


def write_all(statements: Iterable[Statement], target: Path, form: str) -> int:
    """Write the statements in one form; how many there were. A folder is made for csv.

    Raises
    ------
    BadQuestion
        A form that there is not.
    """
    # rdflib and the readers cost a second to import, which every question at the desk would wait for.
    from graph.sources.write import write_folder, write_workbook
    from graph.triples import serialise

    if form not in FORMS:
        raise BadQuestion(f"there is no form {form!r}", fix=f"take one of {', '.join(FORMS)}")
    counted = _Counted(statements)
    if form == "xlsx":
        write_workbook(counted, target)
    elif form == "csv":
        write_folder(counted, target)
    else:
        with target.open("wb") as file:
            for chunk in serialise(counted, RDF[form]):
                file.write(chunk)
    return counted.count


class _Counted:
    """Passes statements on and counts them."""

    def __init__(self, statements: Iterable[Statement]) -> None:
        self._statements = statements
        self.count = 0

    def __iter__(self) -> Iterator[Statement]:
        for statement in self._statements:
            self.count += 1
            yield statement
