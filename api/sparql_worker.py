"""A process that holds the newest statements as RDF and runs queries in children of its own.

`python -m api.sparql_worker DESCRIPTOR FOLDER`; it has one thread, since each query is a fork of it.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import pyoxigraph

from api.current import Current
from api.http.crew import serve
from api.http.refusals import BadQuery, QueryStopped
from graph.desk import Desk
from graph.errors import BadQuestion, SpoolwrightError
from graph.model.record import Snapshot
from graph.sparql.answer import Query, Result, answer, loaded
from graph.sparql.confined import Stopped, confined
from graph.triples import serialise


@dataclass(frozen=True, slots=True)
class SparqlAsked:
    """A query, how long it may take, and the change set or day that is asked (empty: the newest)."""

    query: Query
    seconds: float
    as_of: str = ""


class Copy:
    """The statements of one snapshot as RDF, loaded anew when another is asked."""

    def __init__(self, current: Current) -> None:
        self._current = current
        self._snapshot: Snapshot | None = None
        self._store = pyoxigraph.Store()

    def answered(self, asked: SparqlAsked) -> tuple[Result, Snapshot]:
        """The answer and where it comes from.

        Raises
        ------
        BadQuery
            It is no query, or one that is not answered here.
        QueryStopped
            It took too long or too much.
        """
        desk: Desk = self._current.desk_at(asked.as_of) if asked.as_of else self._current.desk()
        if desk.snapshot != self._snapshot:
            self._store = loaded(b"".join(serialise(desk.everything(), "application/n-quads")))
            self._snapshot = desk.snapshot
        self._current.close()  # a fork must not take the ledger's connections along
        try:
            found: Result = confined(lambda: answer(self._store, asked.query), asked.seconds)
        except Stopped as error:
            raise QueryStopped(str(error), fix="ask for less, or export the graph and ask it elsewhere") from None
        except BadQuestion as error:
            raise BadQuery(error.message, fix=error.fix) from None
        return found, desk.snapshot


def main() -> None:
    """Answer until the server closes the line."""
    serve(int(sys.argv[1]), Copy(Current(Path(sys.argv[2]))).answered, SpoolwrightError)


if __name__ == "__main__":
    main()
