"""Bring a book of an older schema forward: one step at a time, each in one transaction, a copy of the database kept before it."""

import json
import sqlite3
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, MetaData, inspect, select, update

from toneprobe import __version__
from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.disk import whole_file
from toneprobe.book.place import DATABASE_FILE, sounds_without_tables
from toneprobe.book.schema import SCHEMA, tables
from toneprobe.book.schema import book as book_table
from toneprobe.book.steps import STEPS
from toneprobe.errors import BookError

Steps = Mapping[int, Callable[[Connection], None]]


def migrate(book: Book, *, steps: Steps = STEPS, target: int = SCHEMA) -> None:
    """Take the book to schema `target`; nothing is changed where it is there already. A newer book is refused."""
    while (found := schema_version(book)) != target:
        if found > target:
            raise BookError(
                f"the book {book.name} was written by a newer toneprobe (schema {found}, this program knows {target}): update toneprobe"
            )
        _step(book, found, steps)


def schema_version(book: Book) -> int:
    """The schema that the book was written with; BookError where its database is no book."""
    with reading(book) as connection:
        if not inspect(connection).has_table(book_table.name):
            raise BookError(sounds_without_tables(book.folder) or f"{book.name} is not a book: its database has none of a book's tables")
        return _version(connection, book)


def _step(book: Book, found: int, steps: Steps) -> None:
    if found not in steps:
        raise BookError(f"the book {book.name} has schema {found}, which this program cannot bring forward")
    with writing(book) as connection:
        if _version(connection, book) != found:
            return  # another program was faster
        keep_copy(book, connection, found)
        steps[found](connection)
        connection.execute(update(book_table).values(schema_version=found + 1, program=__version__))


def keep_copy(book: Book, connection: Connection, found: int) -> Path:
    """Copy the database as it is before a step, while nobody else can write. Returns the copy's path."""
    stem = f"book-schema-{found}-{datetime.now(UTC):%Y%m%dT%H%M%S%f}"
    path = book.copies / (stem + (".sqlite" if book.is_sqlite else ".json"))
    with whole_file(path) as part:
        _copy_file(book, part) if book.is_sqlite else _copy_rows(connection, part)
    return path


def _version(connection: Connection, book: Book) -> int:
    version = connection.scalar(select(book_table.c.schema_version))
    if not isinstance(version, int):
        raise BookError(f"the book {book.name} is damaged: it does not say which schema it has")
    return version


def _copy_file(book: Book, path: Path) -> None:
    source = (book.folder / DATABASE_FILE).as_uri() + "?mode=ro"
    with closing(sqlite3.connect(source, uri=True)) as old, closing(sqlite3.connect(path)) as new:
        old.backup(new)


def _copy_rows(connection: Connection, path: Path) -> None:
    """All rows of the book's own tables as JSON, for databases that are no file. A school's may hold others: those are not looked at."""
    found = MetaData()
    found.reflect(connection, only=lambda name, _: name in tables.tables)
    rows = {table.name: [dict(row) for row in connection.execute(select(table)).mappings()] for table in found.sorted_tables}
    path.write_text(json.dumps(rows, ensure_ascii=False, allow_nan=False, default=str), encoding="utf-8")
