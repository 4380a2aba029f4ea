"""Dataclass to plain JSON values and back, by the fields' types, so that a field added to a value needs no change here.

Floats survive exactly (Python's shortest round-trip form). NaN and infinities are refused: what could not be measured is None with a
reason. Text that no database takes (lone surrogates of odd file names, NUL) is written as escapes.
"""

import dataclasses
import json
import math
import types
import typing
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import numpy as np

from toneprobe.errors import BookError, DamagedError
from toneprobe.typed import clean_text


def plain(value: Any) -> Any:
    """A value of dataclasses, tuples, mappings and scalars as what JSON can hold."""
    if dataclasses.is_dataclass(value):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {clean_text(key): plain(item) for key, item in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain(item) for item in value]
    return _plain_scalar(value)


def stored(kind: Any, value: Any) -> Any:
    """The value of type `kind` that `plain` was made from, out of a book; DamagedError where it does not fit the type. Fields unknown to
    this program are left out, new ones take their default."""
    try:
        return _builder(kind)(value)
    except (TypeError, KeyError, ValueError, AttributeError) as error:
        raise DamagedError(f"the book is damaged: a stored {kind.__name__} cannot be read ({error})".replace("\n", " ")) from error


@cache
def _builder(kind: Any) -> Callable[[Any], Any]:
    """How values of one type are rebuilt, worked out once: a history has thousands of them."""
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        build = _builder(next(part for part in arguments if part is not types.NoneType))
        return lambda value: None if value is None else build(value)
    if dataclasses.is_dataclass(kind):
        fields = [(name, _builder(hint)) for name, hint in typing.get_type_hints(kind).items()]
        return lambda value: kind(**{name: build(value[name]) for name, build in fields if name in value})
    if origin is tuple:
        build = _builder(arguments[0])
        return lambda value: tuple(map(build, _listed(value)))
    if origin is not None and issubclass(origin, Mapping):
        build = _builder(arguments[1])
        return lambda value: {key: build(item) for key, item in value.items()}
    return float if kind is float else lambda value: value


def clean_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row about to be stored, its text as of `clean_text`."""
    return {key: clean_text(item) if isinstance(item, str) else item for key, item in row.items()}


def to_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _plain_scalar(value: Any) -> Any:
    if value is None or isinstance(value, (bool, np.bool_)):
        return None if value is None else bool(value)
    if isinstance(value, str):
        return clean_text(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    number = float(value)
    if not math.isfinite(number):
        raise BookError(f"{number} is no figure; nothing was stored")
    return number


def _listed(value: Any) -> list | tuple:
    if not isinstance(value, (list, tuple)):
        raise TypeError(f"{type(value).__name__} is no list")
    return value
