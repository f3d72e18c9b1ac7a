"""Frozen dataclasses to plain JSON data and back: the checklist frozen into a batch, and the data of entries.

Frozen data was checked as a file before, so nobody needs to be told how to fix it. Reading it back only makes sure,
because a record may come from elsewhere. That takes a hundredth of the time to build pydantic's validator, every time
the shop is opened.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Sequence
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from functools import cache
from sys import float_info
from types import UnionType
from typing import Annotated, Any, Literal, NamedTuple, TypeVar, Union, get_args, get_origin, get_type_hints

from floor.checklist.field_types import Limits, Strict, Tagged, Text, read_defaults
from floor.checklist.model import Checklist
from floor.checklist.units import LARGEST_NUMBER, Measure, Unit

Part = TypeVar("Part")
Place = tuple[str | int, ...]
_EXACT: frozenset[Any] = frozenset({str, bool, int})
Reader = Callable[[Any, Place], Any]
"""Makes a value from its data, or raises with the place."""


def freeze_checklist(part: Any) -> dict[str, Any]:
    """Plain JSON data of a frozen dataclass, such as a checklist or a part of one; default values are left out.

    A field's name in the data is ``name`` from its metadata, else its own.
    """
    return {
        _names(part.__class__)[name]: _plain(value)
        for name, default in read_defaults(part).items()
        if (value := getattr(part, name)) != default
    }


def read_frozen_checklist(data: object) -> Checklist:
    """Read back what `freeze_checklist` made from a checklist.

    Raises:
        ValueError: the data is damaged; names the place as a JSON Pointer (RFC 6901).
    """
    return thaw_checklist(Checklist, data)


def thaw_checklist(kind: type[Part], data: object) -> Part:
    """Read back what `freeze_checklist` made from a part of this kind. Raises like `read_frozen_checklist`.

    Unknown fields are refused in a part of a checklist and skipped in any other dataclass.
    """
    part: Part = _part(kind, data, ())
    return part


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return freeze_checklist(value)
    if isinstance(value, tuple):  # a `Measure` too
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    return value.isoformat() if isinstance(value, date) else value


def _damaged(place: Place, wrong: str) -> ValueError:
    pointer = "".join("/" + str(part).replace("~", "~0").replace("/", "~1") for part in place)
    return ValueError(f"{pointer!r}: {wrong}")  # quoted, so nothing in it acts on a terminal


def _build_reader(kind: Any) -> Reader:
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Annotated:
        return _annotated(kind.__origin__, kind.__metadata__)
    if origin is Literal:
        return _literal(inner)
    if origin is tuple:
        if inner[-1] is not ...:
            return _row([_build_reader(one) for one in inner])
        return _list(_build_reader(inner[0]), frozenset({inner[0]} & _EXACT))
    if origin is dict:
        return _table(_build_reader(inner[0]), _build_reader(inner[1]))
    if origin in (Union, UnionType):
        return _build_union_reader(inner)
    if kind is Measure:
        return _measure(_build_reader(float), _build_reader(Text))
    if isinstance(kind, type) and issubclass(kind, tuple):
        return _named_row(kind)
    return _SIMPLE[kind] if kind in _SIMPLE else lambda data, place: _part(kind, data, place)


def _build_union_reader(kinds: tuple[Any, ...]) -> Reader:
    if all(isinstance(kind, type) and issubclass(kind, tuple) for kind in kinds):
        return _by_length(kinds)
    plain = {str, bool, int, type(None)}.issuperset(kinds)
    return _one_of(kinds) if plain else _either([_build_reader(kind) for kind in kinds])


@cache
def _names(kind: Any) -> dict[str, str]:
    """What each field is called in the data."""
    return {field.name: field.metadata.get("name", field.name) for field in fields(kind)}


class _Field(NamedTuple):
    """How one field is read."""

    name: str
    """In the data."""
    own: str
    exact: type | None
    """Data of exactly this type is taken as it is; a record has it by the thousands."""
    read: Reader
    required: bool


def _exact(kind: Any) -> type | None:
    return kind if kind in _EXACT else None


@cache
def _fields(kind: Any) -> dict[str, _Field]:
    needs = {name for name, default in read_defaults(kind).items() if default is MISSING}
    return {
        name: _Field(name, field.name, _exact(field.type), _build_reader(field.type), field.name in needs)
        for field in fields(kind)
        for name in (_names(kind)[field.name],)
    }


def _part(kind: Any, data: Any, place: Place) -> Any:
    if not isinstance(data, dict):
        raise _damaged(place, "is not a table")
    known = _fields(kind)
    if issubclass(kind, Strict) and (unknown := data.keys() - known.keys()):
        raise _damaged(place, f"unknown fields: {sorted(unknown)}")
    values = {}
    for name, own, exact, read, required in known.values():
        if name in data:
            value = data[name]
            values[own] = value if type(value) is exact else read(value, (*place, name))
        elif required:
            raise _damaged((*place, name), "is missing")
    return kind(**values)


def _annotated(kind: Any, metadata: tuple[Any, ...]) -> Reader:
    for mark in metadata:
        if isinstance(mark, Tagged):
            return _tagged(mark)
    reader = _build_reader(kind)
    if any(isinstance(mark, Unit) and mark.dimension == "time" for mark in metadata):
        reader = _bounded(reader)
    marks = [mark for mark in metadata if isinstance(mark, Limits)]
    limits = [(name, _KEEPS[name], limit) for mark in marks for name, limit in mark.limits.items()]
    if not limits:
        return reader

    def read(data: Any, place: Place) -> Any:
        value = reader(data, place)
        for name, keeps, limit in limits:
            if not keeps(value, limit):
                raise _damaged(place, f"does not keep to {name} {limit!r}")
        return value

    return read


_KEEPS: dict[str, Callable[[Any, Any], bool]] = {
    "ge": operator.ge,
    "gt": operator.gt,
    "le": operator.le,
    "min_length": lambda value, least: len(value) >= least,
    "max_length": lambda value, most: len(value) <= most,
    "pattern": lambda value, pattern: re.fullmatch(pattern, value) is not None,
}


def _tagged(mark: Tagged) -> Reader:
    def read(data: Any, place: Place) -> Any:
        tag = mark.tag(data)
        if isinstance(data, dict) and not (isinstance(tag, str) and tag in mark.classes):
            raise _damaged((*place, mark.field), "is no known kind")
        return _part(mark.classes.get(tag), data, place)

    return read


def _literal(known: tuple[Any, ...]) -> Reader:
    def read(data: Any, place: Place) -> Any:
        if not any(type(data) is type(one) and data == one for one in known):
            raise _damaged(place, f"is none of {known}")
        return data

    return read


def _list(reader: Reader, exact: frozenset[type]) -> Reader:
    def read(data: Any, place: Place) -> Any:
        if not isinstance(data, list):
            raise _damaged(place, "is not a list")
        if exact.issuperset(map(type, data)):
            return tuple(data)
        return tuple([reader(one, (*place, number)) for number, one in enumerate(data)])

    return read


def _row(readers: list[Reader]) -> Reader:
    def read(data: Any, place: Place) -> Any:
        if not isinstance(data, list) or len(data) != len(readers):
            raise _damaged(place, f"is not a list of {len(readers)} values")
        return tuple([reader(one, (*place, n)) for n, (reader, one) in enumerate(zip(readers, data, strict=True))])

    return read


def _named_row(kind: Any) -> Reader:
    """A `NamedTuple`, from a list of its fields."""
    row = _row([_build_reader(one) for one in get_type_hints(kind).values()])
    return lambda data, place: kind(*row(data, place))


def _by_length(kinds: Sequence[type[tuple[Any, ...]]]) -> Reader:
    """One of several `NamedTuple`: of those with as many fields, the first that can read the data."""
    readers: dict[int, list[Reader]] = {}
    for kind in kinds:
        readers.setdefault(len(get_type_hints(kind)), []).append(_named_row(kind))
    by_length = {length: _either(some) if len(some) > 1 else some[0] for length, some in readers.items()}

    def read(data: Any, place: Place) -> Any:
        if not isinstance(data, list) or len(data) not in by_length:
            raise _damaged(place, f"is not a list of {' or '.join(map(str, sorted(by_length)))} values")
        return by_length[len(data)](data, place)

    return read


def _table(key_reader: Reader, reader: Reader) -> Reader:
    def read(data: Any, place: Place) -> Any:
        if not isinstance(data, dict):
            raise _damaged(place, "is not a table")
        return {key_reader(key, (*place, key)): reader(one, (*place, key)) for key, one in data.items()}

    return read


def _one_of(kinds: tuple[type, ...]) -> Reader:
    known, word = frozenset(kinds), " or ".join(kind.__name__ for kind in kinds)

    def read(data: Any, place: Place) -> Any:
        if type(data) not in known:
            raise _damaged(place, f"is not {word}")
        return data

    return read


def _either(readers: list[Reader]) -> Reader:
    """The first that can read the data; if none can, the last one's error."""
    *others, last = sorted(readers, key=lambda reader: reader is not _SIMPLE[type(None)])

    def read(data: Any, place: Place) -> Any:
        for reader in others:
            try:
                return reader(data, place)
            except ValueError:
                continue
        return last(data, place)

    return read


def _simple(kind: type, word: str) -> Reader:
    def read(data: Any, place: Place) -> Any:
        if type(data) is not kind:
            raise _damaged(place, f"is not {word}")
        return data

    return read


def _number(data: Any, place: Place) -> float:
    if type(data) not in (int, float) or not -float_info.max <= data <= float_info.max:
        raise _damaged(place, "is not a number")
    return float(data)


def _date(data: Any, place: Place) -> date:
    try:
        return date.fromisoformat(data)
    except (TypeError, ValueError):
        raise _damaged(place, "is not a date") from None


def _measure(number: Reader, line: Reader) -> Reader:
    def read(data: Any, place: Place) -> Measure:
        if not isinstance(data, list) or len(data) != 4:
            raise _damaged(place, "is not a value with its unit")
        return Measure(number(data[0], place), line(data[1], place), number(data[2], place), line(data[3], place))

    return read


def _bounded(reader: Reader) -> Reader:
    """A duration, of any length in older versions: no clock may run past the end of the calendar."""
    most = LARGEST_NUMBER["time"][0]

    def read(data: Any, place: Place) -> Any:
        value = reader(data, place)
        return value._replace(base=most) if isinstance(value, Measure) and value.base > most else value

    return read


_SIMPLE: dict[Any, Reader] = {
    str: _simple(str, "text"),
    bool: _simple(bool, "true or false"),
    int: _simple(int, "a whole number"),
    type(None): _simple(type(None), "nothing"),
    float: _number,
    Any: lambda data, place: data,
    date: _date,
}
