"""Connections and transactions: one for reading a settled state, one for writing while nobody else writes.

SQLite runs with a rollback journal and synchronous=EXTRA, not with a write-ahead log: a commit that has returned survives a power failure,
the database is one file whenever nobody writes, and a book in a read-only folder or on a school's share can be read.

What is read or written within `writing`, through however many functions, is one transaction: a change and the verdicts that follow from it
are kept together or not at all. `when_kept` puts off what must not happen before the commit.
"""

import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from sqlalchemy import Connection, Engine, create_engine, event, make_url, select
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool

from toneprobe.book.convert import to_json
from toneprobe.book.damage import naming_damage
from toneprobe.book.faults import plain_faults
from toneprobe.book.place import DATABASE_FILE, PLUCKS, shown
from toneprobe.book.schema import book as book_table
from toneprobe.errors import BookError

WHEN_KEPT = "toneprobe_when_kept"
WAIT_S = 30.0  # how long to wait for another program's writing: a whole sweep with its clips takes a few seconds

_UNDER_WAY: ContextVar[Mapping[Engine, Connection]] = ContextVar("under_way", default=MappingProxyType({}))
_IN_VIEW: ContextVar[Mapping[Engine, Connection]] = ContextVar("in_view", default=MappingProxyType({}))


@dataclass(frozen=True)
class Book:
    """An open book. Holds no connection between calls, so there is nothing to close."""

    folder: Path
    engine: Engine

    @property
    def name(self) -> str:
        return shown(self.folder)

    @property
    def plucks(self) -> Path:
        return self.folder / PLUCKS

    @property
    def reports(self) -> Path:
        return self.folder / "reports"

    @property
    def copies(self) -> Path:
        return self.folder / "copies"

    @property
    def withdrawn(self) -> Path:
        return self.folder / "withdrawn"

    @property
    def is_sqlite(self) -> bool:
        return self.engine.dialect.name == "sqlite"


def connect_file(folder: Path, *, wait_s: float = WAIT_S) -> Book:
    """The book whose tables lie in the folder's own SQLite file. The file must exist; nothing is read yet."""
    address = (folder / DATABASE_FILE).as_uri() + "?mode=rw"

    def connect() -> sqlite3.Connection:
        connection = sqlite3.connect(address, uri=True, timeout=wait_s, isolation_level=None)
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA synchronous = EXTRA")
        connection.execute("PRAGMA cache_spill = OFF")  # else readers wait from the moment on at which a long change outgrows its cache
        return connection

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool, json_serializer=to_json)
    event.listen(engine, "begin", _begin)
    return Book(folder, engine)


def connect_url(folder: Path, url: str) -> Book:
    """The book whose tables lie in another database; clips and reports stay in the folder. Nothing is read yet."""
    try:
        return Book(folder, create_engine(make_url(url), poolclass=NullPool, json_serializer=to_json))
    except (ArgumentError, ImportError) as error:
        raise BookError(f"the book's database cannot be used: {' '.join(str(error).split())}") from error


@contextmanager
def reading(book: Book) -> Iterator[Connection]:
    """One unchanging view of the book: within another `reading` the same one, within `writing` with all that has been written so far.
    SQLite reads the schema for each new view, so many queries share one; a writer waits until it ends."""
    subject = f"the book {book.name}"
    if (connection := _UNDER_WAY.get().get(book.engine, _IN_VIEW.get().get(book.engine))) is not None:
        with naming_damage(subject, connection):
            yield connection
        return
    options = {} if book.is_sqlite else {"isolation_level": "REPEATABLE READ"}
    with plain_faults(subject), book.engine.execution_options(**options).begin() as connection, naming_damage(subject, connection):
        before = _IN_VIEW.set({**_IN_VIEW.get(), book.engine: connection})
        try:
            yield connection
        finally:
            _IN_VIEW.reset(before)


@contextmanager
def writing(book: Book, *, patient: bool = True) -> Iterator[Connection]:
    """One transaction, alone among writers: all of it is kept, or on any error none of it. Within another one it is part of that.
    Not patient: BookError while another program writes."""
    if book.engine in _UNDER_WAY.get():
        with reading(book) as connection:
            yield connection
        return
    subject = f"the book {book.name}"
    options = {"toneprobe_alone": True, "toneprobe_patient": patient}
    steps: list[Callable[[], object]] = []
    with plain_faults(subject), book.engine.execution_options(**options).begin() as connection:
        if not book.is_sqlite:
            connection.execute(select(book_table.c.id).with_for_update(nowait=not patient))
        connection.info[WHEN_KEPT] = steps
        before = _UNDER_WAY.set({**_UNDER_WAY.get(), book.engine: connection})
        try:
            with naming_damage(subject, connection):
                yield connection
        finally:
            _UNDER_WAY.reset(before)
    for step in steps:
        step()


def when_kept(connection: Connection, step: Callable[[], object]) -> None:
    """Call `step` once the transaction of `writing` is committed; never where it is not."""
    connection.info[WHEN_KEPT].append(step)


def _begin(connection: Connection) -> None:
    options = connection.get_execution_options()
    if not options.get("toneprobe_patient", True):
        connection.exec_driver_sql("PRAGMA busy_timeout = 0")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("toneprobe_alone", False) else "BEGIN")
