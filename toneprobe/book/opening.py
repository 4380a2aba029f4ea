"""Make a book and open one."""

import os
import tomllib
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import insert, inspect

from toneprobe import __version__
from toneprobe.book.connect import WAIT_S, Book, connect_file, connect_url
from toneprobe.book.convert import to_json
from toneprobe.book.faults import plain_faults
from toneprobe.book.leftovers import clear_leftovers
from toneprobe.book.migrate import migrate
from toneprobe.book.place import DATABASE_FILE, SETTINGS_FILE, is_book, require_book, require_room, shown, sounds_without_tables
from toneprobe.book.schema import SCHEMA, tables
from toneprobe.book.schema import book as book_table
from toneprobe.errors import BookError


def create_book(folder: Path, *, url: str | None = None) -> Book:
    """Make a book in an empty or new folder, or open the one that lies there. With `url` the tables go to that database (postgresql://…);
    the folder keeps the clips, the reports and the address."""
    folder = require_room(Path(folder).absolute())
    if url is not None and is_book(folder) and _stored_url(folder) != url:
        raise BookError(f"the book {shown(folder)} keeps its tables elsewhere already; name a new folder")
    with plain_faults(f"the book {shown(folder)}"):
        folder.mkdir(parents=True, exist_ok=True)
        if url is None and not is_book(folder):
            (folder / DATABASE_FILE).touch()
    book = connect_url(folder, url) if url else _connect(folder, WAIT_S)
    create_tables(book)
    with plain_faults(f"the book {book.name}"):
        if url and not (folder / SETTINGS_FILE).is_file():  # one that is there says the same, and has the rights that its owner gave it
            _store_url(folder / SETTINGS_FILE, url)
        for part in (book.plucks, book.reports):
            part.mkdir(exist_ok=True)
    return open_book(folder)


def open_book(folder: Path, *, wait_s: float = WAIT_S) -> Book:
    """Open the book in a folder, brought forward to this program's schema and cleared of what a power failure left.

    BookError in one line where there is none, or where it is damaged, in use, of a newer schema, or needs upgrading and is read-only.
    """
    book = _connect(require_book(Path(folder).absolute()), wait_s)
    migrate(book)
    clear_leftovers(book)
    return book


def _connect(folder: Path, wait_s: float) -> Book:
    url = _stored_url(folder)
    return connect_url(folder, url) if url else connect_file(folder, wait_s=wait_s)


def create_tables(book: Book) -> None:
    """All tables in one transaction, unless there are some already (then `open_book` says what it thinks of them)."""
    alone = book.engine.execution_options(toneprobe_alone=True)
    with plain_faults(f"the book {book.name}"), alone.begin() as connection:
        found = set(inspect(connection).get_table_names())
        if found and (book.is_sqlite or found & set(tables.tables)):
            return
        if lost := sounds_without_tables(book.folder):  # never a new book over the sounds of an old one
            raise BookError(lost)
        tables.create_all(connection)
        now = datetime.now(UTC).isoformat(timespec="seconds")
        connection.execute(insert(book_table).values(id=1, schema_version=SCHEMA, program=__version__, created_at=now))


def _store_url(path: Path, url: str) -> None:
    """The address, which may hold a password: readable by its owner alone, where the platform knows owners."""
    with open(path, "w", encoding="utf-8", opener=lambda name, flags: os.open(name, flags, 0o600)) as file:
        file.write(f"database = {to_json(url)}\n")


def _stored_url(folder: Path) -> str | None:
    path = folder / SETTINGS_FILE
    if not path.is_file():
        return None
    try:
        return str(tomllib.loads(path.read_text(encoding="utf-8"))["database"])
    except (OSError, ValueError, KeyError) as error:
        raise BookError(f"the book {shown(folder)} is damaged: {SETTINGS_FILE} does not name its database") from error
