"""Frozen records to plain JSON and back, by their annotations; unknown or missing fields are refused."""

import types
from dataclasses import MISSING, fields, is_dataclass
from enum import Enum
from functools import cache
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from graph.errors import BadFile
from graph.model.statement import value_json, value_of
from graph.model.value import Amount, Code, CodeSet

T = TypeVar("T")
VALUES = (Amount, Code, CodeSet)


def to_json(thing: object) -> Any:
    """Plain dicts, lists, strings, numbers; enums by value; feature values as statements write them."""
    if isinstance(thing, VALUES):
        return value_json(thing)
    if is_dataclass(thing) and not isinstance(thing, type):
        return {f.name: to_json(getattr(thing, f.name)) for f in fields(thing)}
    if isinstance(thing, Enum):
        return thing.value
    if isinstance(thing, tuple | list):
        return [to_json(item) for item in thing]
    if isinstance(thing, dict):
        return {str(key): to_json(item) for key, item in thing.items()}
    return thing


@cache
def _hints(cls: type) -> dict[str, Any]:
    return get_type_hints(cls)


def from_json(cls: type[T], data: Any) -> T:
    """The record that `to_json` wrote.

    Raises
    ------
    BadFile
        A field that the record does not have, lacks, or holds in another type.
    """
    return _read(cls, data, cls.__name__)  # type: ignore[no-any-return]


def _read(kind: Any, data: Any, where: str) -> Any:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        return _read_union(get_args(kind), data, where)
    if origin is tuple:
        return _read_tuple(get_args(kind), data, where)
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(data)
        except ValueError as error:
            raise BadFile(f"{where}: {data!r} is not one of the words known here") from error
    if kind in VALUES:
        return _read_value(data, where)
    if is_dataclass(kind):
        return _read_record(kind, data, where)
    if (kind is int and isinstance(data, bool)) or not isinstance(data, kind):
        raise BadFile(f"{where}: {data!r} is not a {kind.__name__}")
    return data


def _read_union(kinds: tuple[Any, ...], data: Any, where: str) -> Any:
    if data is None and type(None) in kinds:
        return None
    rest = [k for k in kinds if k is not type(None)]
    if any(k in VALUES for k in rest):
        return _read_value(data, where)
    if len(rest) != 1:
        raise BadFile(f"{where}: no reading for {data!r}")
    return _read(rest[0], data, where)


def _read_value(data: Any, where: str) -> Any:
    try:
        return value_of(data)
    except (KeyError, TypeError, ValueError) as error:
        raise BadFile(f"{where}: {data!r} is not a value") from error


def _read_tuple(kinds: tuple[Any, ...], data: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(data, list):
        raise BadFile(f"{where}: a list is expected, {type(data).__name__} found")
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        return tuple(_read(kinds[0], item, f"{where}[{i}]") for i, item in enumerate(data))
    if len(kinds) != len(data):
        raise BadFile(f"{where}: {len(kinds)} entries are expected, {len(data)} found")
    return tuple(_read(kind, item, f"{where}[{i}]") for i, (kind, item) in enumerate(zip(kinds, data, strict=True)))


def _read_record(kind: Any, data: Any, where: str) -> Any:
    if not isinstance(data, dict):
        raise BadFile(f"{where}: an object is expected, {type(data).__name__} found")
    hints = _hints(kind)
    strangers = sorted(set(data) - {f.name for f in fields(kind)})
    missing = sorted(
        f.name for f in fields(kind) if f.name not in data and f.default is MISSING and f.default_factory is MISSING
    )
    if strangers or missing:
        raise BadFile(f"{where}: unknown fields {strangers}, missing fields {missing}")
    return kind(**{name: _read(hints[name], value, f"{where}.{name}") for name, value in data.items()})
