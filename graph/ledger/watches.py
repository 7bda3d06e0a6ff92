"""Kept questions in the ledger's database, each with the answer it had when it was last asked."""

import json
import secrets

from sqlalchemy import Connection, Row, insert, select, update

from graph.errors import NotFound
from graph.ledger.ledger import Ledger
from graph.ledger.sidetables import WATCHES
from graph.model.codec import from_json, to_json
from graph.model.statement import canonical
from graph.model.watch import Question, Said, Watch


class Watches:
    """The kept questions of one ledger."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def make(self, label: str, question: Question, said: Said, n: int, *, by: str, time: str) -> Watch:
        """Keep a question, with its answer of now after change set `n`."""
        made = Watch("w" + secrets.token_hex(5), label, question, time, by, n, said.word, said.sentence)
        values = {f: getattr(made, f) for f in Watch.__slots__} | {
            "question": canonical(to_json(question)), "ended": None,
        }  # fmt: skip
        with self._ledger.writing_beside() as connection:
            connection.execute(insert(WATCHES), [values])
        return made

    def all(self, *, ended: bool = False) -> tuple[Watch, ...]:
        """All that are watched, oldest first, then by label; with `ended` those given up too."""
        query = select(WATCHES).order_by(WATCHES.c.made, WATCHES.c.label, WATCHES.c.id)
        if not ended:
            query = query.where(WATCHES.c.ended.is_(None))
        with self._ledger.reading_beside() as connection:
            return tuple(_watch(row) for row in connection.execute(query))

    def get(self, id_: str) -> Watch:
        """One.

        Raises
        ------
        NotFound
            There is none of that id.
        """
        with self._ledger.reading_beside() as connection:
            return _get(connection, id_)

    def end(self, id_: str, *, time: str) -> Watch:
        """Watch it no longer."""
        with self._ledger.writing_beside() as connection:
            if not _get(connection, id_).ended:
                connection.execute(update(WATCHES).where(WATCHES.c.id == id_).values(ended=time))
            return _get(connection, id_)


def answered(connection: Connection, watch: Watch, said: Said, n: int) -> bool:
    """Put another answer after change set `n` on record; False when somebody else did, or it was given up."""
    done = connection.execute(
        update(WATCHES)
        .where(
            WATCHES.c.id == watch.id, WATCHES.c.n <= n, WATCHES.c.word == watch.word, WATCHES.c.ended.is_(None)
        )
        .values(n=n, word=said.word, sentence=said.sentence)
    )  # fmt: skip
    return bool(done.rowcount)


def _get(connection: Connection, id_: str) -> Watch:
    row = connection.execute(select(WATCHES).where(WATCHES.c.id == id_)).first()
    if row is None:
        raise NotFound(f"there is no watched question {id_!r}", fix="the list of watched questions shows their ids")
    return _watch(row)


def _watch(row: Row[tuple[object, ...]]) -> Watch:
    said = row._mapping
    return Watch(
        said["id"], said["label"], from_json(Question, json.loads(said["question"])), said["made"], said["made_by"],
        said["n"], said["word"], said["sentence"], said["ended"] or "",
    )  # fmt: skip
