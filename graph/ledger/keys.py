"""Keys of callers: shown once, kept as digests, each with a name and what it opens.

A key reads `sw_ID_SECRET`: the id is kept in clear, of the secret (256 random bits) only its SHA-256. A slow hash
would add nothing, since there is nothing to guess, and would let anyone keep the server busy.
"""

import hashlib
import hmac
import secrets
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection, Row, func, insert, select, update

from graph.errors import BadQuestion, Conflict, NotFound
from graph.ledger.audit import note_act
from graph.ledger.ledger import Ledger
from graph.ledger.sidetables import KEYS

SCOPES: Final = ("read", "stock", "bench", "edit", "sign-off", "admin")
"""What a key may open. Every key reads; `admin` opens all."""

_ID_LETTERS: Final = "abcdefghijkmnpqrstuvwxyz23456789"
_ID_LONG: Final = 8
_SECRET_BYTES: Final = 32
_NAME_LONG: Final = 80
_NOBODY: Final = hashlib.sha256(b"").hexdigest()


@dataclass(frozen=True, slots=True)
class Key:
    """What may be told about a key; the secret is kept nowhere. `revoked`: when, empty while it opens."""

    id: str
    name: str
    scopes: tuple[str, ...]
    made: str
    made_by: str
    revoked: str = ""

    def opens(self, scope: str) -> bool:
        """Whether it opens what asks for this scope."""
        return not self.revoked and (scope == "read" or scope in self.scopes or "admin" in self.scopes)


def key_name(text: str) -> str:
    """The name of a key as it stands in change sets.

    Raises
    ------
    BadQuestion
        Nothing, too much, or what is no printable text.
    """
    name = text.strip()
    if not name or len(name) > _NAME_LONG or not name.isprintable():
        raise BadQuestion(f"{text!r} is no name for a key", fix=f"say who will hold it, in 1 to {_NAME_LONG} letters")
    return name


class Keys:
    """The keys of one ledger."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger

    def make(self, name: str, scopes: tuple[str, ...], *, by: str, time: str) -> tuple[Key, str]:
        """A new key, and the text to hand over, which is never shown again.

        Raises
        ------
        BadQuestion
            No scope, or one that there is not.
        Conflict
            There is or was a key of that name; its author would be two.
        """
        strangers = sorted(set(scopes) - set(SCOPES))
        if strangers or not scopes:
            said = f"there is no scope {strangers[0]!r}" if strangers else "a key needs a scope"
            raise BadQuestion(said, fix=f"scopes: {', '.join(SCOPES)}")
        id_ = "".join(secrets.choice(_ID_LETTERS) for _ in range(_ID_LONG))
        secret = secrets.token_urlsafe(_SECRET_BYTES)
        key = Key(id_, key_name(name), tuple(s for s in SCOPES if s in scopes), time, by)
        values = {
            "id": id_, "name": key.name, "scopes": " ".join(key.scopes), "digest": _digest(secret),
            "made": time, "made_by": by, "revoked": None,
        }  # fmt: skip
        with self._ledger.writing_beside() as connection:
            if connection.execute(select(KEYS.c.id).where(KEYS.c.name == key.name)).first():
                raise Conflict(
                    f"there is or was a key {key.name!r}", fix="take another name: it signs what is written"
                )
            connection.execute(insert(KEYS), [values])
            note_act(connection, time, by, "key made", f"{key.name} ({id_}): {', '.join(key.scopes)}")
        return key, f"sw_{id_}_{secret}"

    def renew(self, id_: str, *, by: str, time: str) -> tuple[Key, str]:
        """The same key with a new secret, and the text to hand over; what was handed over before opens nothing.

        Raises
        ------
        NotFound
            There is none of that id.
        Conflict
            It is revoked.
        """
        secret = secrets.token_urlsafe(_SECRET_BYTES)
        with self._ledger.writing_beside() as connection:
            key = _key(_row(connection, id_))
            if key.revoked:
                raise Conflict(f"key {key.name!r} is revoked", fix="make another one")
            connection.execute(update(KEYS).where(KEYS.c.id == id_).values(digest=_digest(secret)))
            note_act(connection, time, by, "key given a new secret", f"{key.name} ({id_})")
        return key, f"sw_{id_}_{secret}"

    def revoke(self, id_: str, *, by: str, time: str) -> Key:
        """Let a key open nothing any more.

        Raises
        ------
        NotFound
            There is none of that id.
        """
        with self._ledger.writing_beside() as connection:
            row = _row(connection, id_)
            if not row.revoked:
                connection.execute(update(KEYS).where(KEYS.c.id == id_).values(revoked=time))
                note_act(connection, time, by, "key revoked", f"{row.name} ({id_})")
                row = connection.execute(select(KEYS).where(KEYS.c.id == id_)).one()
            return _key(row)

    def all(self) -> tuple[Key, ...]:
        """All keys, those revoked too, by name."""
        with self._ledger.reading_beside() as connection:
            return tuple(_key(row) for row in connection.execute(select(KEYS).order_by(KEYS.c.name)))

    def any(self) -> bool:
        """Whether there is or was a key: from the first on, writing takes one."""
        with self._ledger.reading_beside() as connection:
            return bool(connection.execute(select(func.count()).select_from(KEYS)).scalar())

    def holder(self, text: str) -> Key | None:
        """The key that this text is, if it is one and opens anything."""
        mark, _, rest = text.strip().partition("_")
        id_, _, secret = rest.partition("_")
        with self._ledger.reading_beside() as connection:
            row = connection.execute(select(KEYS).where(KEYS.c.id == id_)).first()
        # The comparison is made for an unknown id too, so that the time tells nothing.
        same = hmac.compare_digest((row.digest if row else _NOBODY).encode(), _digest(secret).encode())
        return _key(row) if row and same and mark == "sw" and not row.revoked else None


def _row(connection: Connection, id_: str) -> Row[tuple[object, ...]]:
    row = connection.execute(select(KEYS).where(KEYS.c.id == id_)).first()
    if row is None:
        raise NotFound(f"there is no key {id_!r}", fix="the list of keys shows their ids")
    return row


def _digest(secret: str) -> str:
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def _key(row: Row[tuple[object, ...]]) -> Key:
    said = row._mapping
    return Key(
        said["id"], said["name"], tuple(said["scopes"].split()), said["made"], said["made_by"], said["revoked"] or ""
    )
