"""The column types of a book, each of which checks what is read from it.

SQLite stores whatever it is given. So each value is checked when it is read, and one that its column cannot hold raises DamagedError: later
code may trust it, and a fault of the program is never taken for one of the disk. A database server checks types itself.
"""

import json
import math
from collections.abc import Callable
from datetime import date, datetime
from functools import partial
from typing import Any

import sqlalchemy
from sqlalchemy import Dialect
from sqlalchemy.types import TypeDecorator

from toneprobe.errors import DamagedError


class _Kind(TypeDecorator):
    """`read`: a value as SQLite has it, never None, as the column means it; ValueError or TypeError where it cannot be one."""

    impl = sqlalchemy.types.NullType
    cache_ok = True  # a type has no state, so compiled statements may be cached; SQLAlchemy looks for it in each class
    read: Callable[[Any], Any]

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], Any] | None:
        if dialect.name != "sqlite":
            return super().result_processor(dialect, coltype)
        kind, read = type(self).__name__, self.read

        def whole(value: Any) -> Any:
            try:
                return None if value is None else read(value)
            except (ValueError, TypeError) as error:
                raise DamagedError(f"the book is damaged: a stored {kind} cannot be read ({error})".replace("\n", " ")) from error

        return whole


def _only(kind: type) -> Callable[[Any], Any]:
    def read(value: Any) -> Any:
        if not isinstance(value, kind):
            raise TypeError(value)
        return value

    return staticmethod(read)


def _number(value: Any) -> float:
    number = float(value) if isinstance(value, (int, float)) else math.nan
    if not math.isfinite(number):
        raise ValueError(value)
    return number


def _flag(value: Any) -> bool:
    if value not in (0, 1):
        raise ValueError(value)
    return bool(value)


class Text(_Kind):
    impl, read, cache_ok = sqlalchemy.Text, _only(str), True


class String(_Kind):
    impl, read, cache_ok = sqlalchemy.String, _only(str), True


class Integer(_Kind):
    impl, read, cache_ok = sqlalchemy.Integer, _only(int), True


class BigInteger(_Kind):
    impl, read, cache_ok = sqlalchemy.BigInteger, _only(int), True


class Double(_Kind):
    impl, read, cache_ok = sqlalchemy.Double, staticmethod(_number), True


class Boolean(_Kind):
    impl, read, cache_ok = sqlalchemy.Boolean, staticmethod(_flag), True


class Date(_Kind):
    impl, read, cache_ok = sqlalchemy.Date, staticmethod(date.fromisoformat), True


class DateTime(_Kind):
    impl, read, cache_ok = sqlalchemy.DateTime, staticmethod(datetime.fromisoformat), True


class JSON(_Kind):
    # as _number refuses NaN and the infinities
    impl, read, cache_ok = sqlalchemy.JSON, staticmethod(partial(json.loads, parse_constant=_number)), True
