"""Values that pass between rooms as short JSON, and back: dataclasses, mappings, tuples, days, numbers to six figures.

Fields stand by their place, for one file that is made again with the program. The book keeps them exact and by name (`book.convert`), so
that older books can be read.
"""

from collections import abc
from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

DIGITS = 6


def packed(value: Any) -> Any:
    """A value as JSON can hold it: a dataclass as the list of its fields, without default values at the end."""
    if is_dataclass(value):
        listed = [(one, getattr(value, one.name)) for one in fields(value)]
        while listed and _is_usual(*listed[-1]):
            listed.pop()
        return [packed(part) for _, part in listed]
    if isinstance(value, Mapping):
        return {key: packed(part) for key, part in value.items()}
    if isinstance(value, tuple):
        return [packed(part) for part in value]
    if isinstance(value, date):
        return value.isoformat()
    return float(f"{value:.{DIGITS}g}") if isinstance(value, float) else value


def _is_usual(field: Any, value: Any) -> bool:
    usual = field.default if field.default_factory is MISSING else field.default_factory()
    return usual is not MISSING and value == usual


def unpacked(kind: Any, raw: Any) -> Any:
    """The value of a type from what `packed` made of it."""
    if get_origin(kind) in (UnionType, Union):
        return None if raw is None else unpacked(next(one for one in get_args(kind) if one is not NoneType), raw)
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        return kind(*(unpacked(hints[one.name], part) for one, part in zip(fields(kind), raw, strict=False)))
    if get_origin(kind) is tuple:
        return tuple(unpacked(get_args(kind)[0], part) for part in raw)
    if get_origin(kind) is abc.Mapping:
        return {key: unpacked(get_args(kind)[1], part) for key, part in raw.items()}
    return date.fromisoformat(raw) if kind is date else float(raw) if kind is float else raw
