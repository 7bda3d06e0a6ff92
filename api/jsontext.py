"""JSON text as it is read here: each key once, numbers that can be kept, UTF-8 (RFC 8259); all faults are told."""

import json
import math
from collections.abc import Iterator
from typing import Any, Final

DIGITS_MOST: Final = 100
"""Digits of a number; reading one takes time by their square."""

TOLD_MOST: Final = 100
"""Faults that are told one by one."""

SHOWN: Final = 60
"""Letters of a key that are shown."""

Fault = dict[str, str]


class NotJson(Exception):
    """A text that is not read; `faults` says where and why."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("; ".join(f"{one['where']}: {one['why']}" for one in faults))
        self.faults = faults


class _Twice(dict[str, Any]):
    """An object with some key more than once."""

    def __init__(self, pairs: list[tuple[str, Any]]) -> None:
        super().__init__()
        self.pairs = pairs


class _Odd:
    """A value that is none."""

    def __init__(self, why: str) -> None:
        self.why = why


def read(data: bytes, name: str = "body") -> Any:
    """The value that a text holds; one byte order mark before it is passed over (RFC 8259 section 8.1).

    Raises
    ------
    NotJson
        With every key that stands twice and every number that is none, by their places below `name`.
    """
    reading = _Reading()
    try:
        made = reading.decoder.decode(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise NotJson([_fault(name, f"no UTF-8 from byte {error.start} on")]) from error
    except json.JSONDecodeError as error:
        why = f"no JSON, line {error.lineno}, column {error.colno}: {error.msg}"
        raise NotJson([_fault(name, why)]) from error
    except RecursionError:
        raise NotJson([_fault(name, "objects and lists are nested too deep")]) from None
    if reading.faulty:
        found = list(_faults(made, name))
        more = len(found) - TOLD_MOST
        raise NotJson([*found[:TOLD_MOST], _fault(name, f"{more} more faults like these")] if more > 0 else found)
    return made


class _Reading:
    """One reading of a text: it notes whether there was anything wrong."""

    def __init__(self) -> None:
        self.faulty = False
        self.decoder = json.JSONDecoder(
            object_pairs_hook=self._object,
            parse_int=self._int,
            parse_float=self._float,
            parse_constant=self._constant,
        )

    def _object(self, pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        made = dict(pairs)
        if len(made) == len(pairs):
            return made
        self.faulty = True
        return _Twice(pairs)

    def _int(self, text: str) -> Any:
        return int(text) if len(text) <= DIGITS_MOST else self._odd(f"a number of {len(text)} digits")

    def _float(self, text: str) -> Any:
        made = float(text) if len(text) <= DIGITS_MOST else math.inf
        return made if math.isfinite(made) else self._odd("a number too large or too long to be kept")

    def _constant(self, text: str) -> Any:
        return self._odd(f"{text} is no number")

    def _odd(self, why: str) -> _Odd:
        self.faulty = True
        return _Odd(why)


def _faults(made: Any, name: str) -> Iterator[Fault]:
    """Where the faults are, in the order of the text."""
    waiting: list[tuple[str, Any]] = [(name, made)]
    while waiting:
        where, one = waiting.pop()
        below: list[tuple[str, Any]] = []
        if isinstance(one, _Odd):
            yield _fault(where, one.why)
        elif isinstance(one, _Twice):
            told: dict[str, int] = {}
            for key, value in one.pairs:
                told[key] = told.get(key, 0) + 1
                below.append((f"{where}.{key[:SHOWN]}", value))
            for key, count in told.items():
                if count > 1:
                    yield _fault(f"{where}.{key[:SHOWN]}", f"this key stands {count} times in one object; keep one")
        elif isinstance(one, dict):
            below = [(f"{where}.{key[:SHOWN]}", value) for key, value in one.items()]
        elif isinstance(one, list):
            below = [(f"{where}.{place}", value) for place, value in enumerate(one)]
        waiting += reversed(below)


def _fault(where: str, why: str) -> Fault:
    return {"where": where, "why": why}
