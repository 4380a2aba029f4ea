"""What is damaged in a book that opens: rows with something in them that no book writes, each named for the player.

One flipped byte leaves text that is no UTF-8, JSON that is none, a day that is no day or a value of another shape. SQLite stores whatever
it is given, so such a row is found only by reading it. Rows are read here as they are, and a value that its column cannot hold is given as
the text found there: what is whole is never lost with what is not.
"""

from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Column, ColumnElement, Connection, Table, select, true, type_coerce
from sqlalchemy.exc import DBAPIError
from sqlalchemy.types import NullType

from toneprobe.audio import Quality, Remark
from toneprobe.book import schema
from toneprobe.book.convert import stored
from toneprobe.condition import Condition
from toneprobe.errors import DamagedError
from toneprobe.instrument import Instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.practice import Habits
from toneprobe.settling import Tolerance

SHAPES: Mapping[Column, Any] = {  # of the values that are stored whole
    schema.harps.c.instrument: Instrument, schema.sweeps.c.instrument: Instrument, schema.sweeps.c.remarks: tuple[Remark, ...],
    schema.recordings.c.quality: Quality, schema.plucks.c.measurement: PluckMeasurement,
    schema.conditions.c.condition: Condition, schema.owner_settings.c.tolerance: Tolerance, schema.owner_settings.c.habits: Habits,
}
FIRST = (schema.sweeps, schema.plucks, schema.conditions, schema.recordings)  # what can be taken out with its sweep is looked through first


@dataclass(frozen=True)
class Damage:
    """One row with something in it that cannot be read."""

    what: str  # "sweep 4, pluck 12 (3D)"
    columns: tuple[str, ...]
    sweep_id: int | None = None  # with which it can be taken out

    @property
    def remedy(self) -> str:
        out = f", or take that sweep out: toneprobe withdraw {self.sweep_id}" if self.sweep_id is not None else ""
        return f"Put back a copy of the book{out}"


def damages(connection: Connection) -> Iterator[Damage]:
    """Everything in the book that cannot be read, one for each row."""
    rest = [table for table in schema.tables.sorted_tables if table not in FIRST]
    for table in (*FIRST, *rest):
        for row, spoilt in rows_as_they_lie(connection, table):
            spoilt = (*spoilt, *_misshapen(table, row, spoilt))
            if spoilt:
                yield _named(connection, table, row, spoilt)


def rows_as_they_lie(
    connection: Connection, table: Table, which: ColumnElement[bool] | None = None
) -> Iterator[tuple[dict[str, Any], tuple[str, ...]]]:
    """Rows in the order of their keys, each with the names of its damaged columns, whose values are the text found there; octets that are
    no UTF-8 as escapes. A database server checks types itself, so that nothing is damaged in this way there."""
    chosen = table.primary_key.columns
    if connection.dialect.name != "sqlite":
        for row in connection.execute(select(table).where(true() if which is None else which).order_by(*chosen)).mappings():
            yield dict(row), ()
        return
    bare = select(*(type_coerce(column, NullType()).label(column.name) for column in table.columns))
    with text_as_it_lies(connection):
        for row in connection.execute(bare.where(true() if which is None else which).order_by(*chosen)).mappings():
            read = {column.name: _read(row[column.name], column) for column in table.columns}
            yield {name: value for name, (value, _) in read.items()}, tuple(name for name, (_, is_whole) in read.items() if not is_whole)


@contextmanager
def text_as_it_lies(connection: Connection) -> Iterator[None]:
    """Within it text that is no UTF-8 is read all the same, each octet that does not fit as a lone surrogate."""
    if connection.dialect.name != "sqlite":
        yield
        return
    direct = connection.connection.driver_connection
    before = direct.text_factory
    direct.text_factory = lambda octets: octets.decode("utf-8", "surrogateescape")
    try:
        yield
    finally:
        direct.text_factory = before


@contextmanager
def naming_damage(subject: str, connection: Connection) -> Iterator[None]:
    """Turn an error that a damaged row causes into a DamagedError that names the row; its sentence begins with `subject`. Only our own
    readers' DamagedError and SQLite's complaint about UTF-8 count; any other error is a fault of the program, and passes unchanged."""
    try:
        yield
    except (DamagedError, DBAPIError) as error:
        if error.is_named if isinstance(error, DamagedError) else "Could not decode to UTF-8" not in str(error):
            raise
        with closing(damages(connection)) as every:
            found = next(every, None)
        if found is None:
            raise
        raise DamagedError(f"{subject} is damaged: {found.what} cannot be read. {found.remedy}", is_named=True) from error


def _read(value: Any, column: Column) -> tuple[Any, bool]:
    """The value as its column means it, and whether it is whole; else its text."""
    if value is None:
        return None, column.nullable
    try:
        if isinstance(value, str) and not value.isascii():
            value.encode("utf-8")
        return column.type.read(value), True
    except (ValueError, TypeError):
        octets = value if isinstance(value, bytes) else str(value).encode("utf-8", "surrogateescape")
        return octets.decode("utf-8", "backslashreplace"), False


def _misshapen(table: Table, row: Mapping[str, Any], spoilt: tuple[str, ...]) -> tuple[str, ...]:
    """Columns whose value is JSON, but not of the shape that a book stores."""
    found = []
    for column, shape in SHAPES.items():
        if column.table is table and column.name not in spoilt:
            try:
                stored(shape, row[column.name])
            except DamagedError:
                found.append(column.name)
    return tuple(found)


def _named(connection: Connection, table: Table, row: Mapping[str, Any], columns: tuple[str, ...]) -> Damage:
    def name(what: str, sweep_id: int | None = None) -> Damage:
        return Damage(what, columns, sweep_id)

    if table is schema.sweeps:
        return name(f"sweep {row['id']}", row["id"])
    if table is schema.plucks:
        place = row["place"] + 1 if isinstance(row["place"], int) else "?"
        return name(f"sweep {row['sweep_id']}, pluck {place} ({row['string']})", row["sweep_id"])
    if table is schema.conditions:
        return name(f"sweep {row['sweep_id']}, the verdict on {row['string']}", row["sweep_id"])
    if table in (schema.unheard, schema.sweep_recordings):
        return name(f"sweep {row['sweep_id']}", row["sweep_id"])
    if table is schema.recordings:
        held = schema.sweep_recordings.c
        of = connection.scalar(select(held.sweep_id).where(held.recording_id == row["id"]).limit(1))
        return name(f"sweep {of}, the recording {row['file_name']}" if of is not None else f"the recording {row['file_name']}", of)
    if table is schema.fittings:
        return name(f"no. {row['id']} of the log ({row['string']})")
    if table is schema.pitch_readings:
        return name(f"the check of {row['at']} ({row['string']})", row["sweep_id"])
    number = row.get("id", row.get("harp_id"))
    return name(f"the harp {row['name']}" if table is schema.harps else f"no. {number} of the table {table.name}")
