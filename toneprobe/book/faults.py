"""What goes wrong below the book, in one line for the player."""

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from json import JSONDecodeError

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from toneprobe.errors import BookError

NO_WRITING = "cannot be written: check the permissions of the folder and of the files in it"
NO_ROOM = "cannot be written: the disk is full"

# SQLite's result codes (sqlite.org/rescode.html), by the beginning of their names.
SQLITE_FAULTS = (
    (("SQLITE_BUSY", "SQLITE_LOCKED"), "is in use by another program: try again in a moment"),
    ("SQLITE_READONLY_DBMOVED", "was moved or replaced meanwhile, and nothing was stored: give the command again"),
    ("SQLITE_READONLY", NO_WRITING),
    ("SQLITE_CANTOPEN", "cannot be opened: check that the folder is there and that you may write to it"),
    ("SQLITE_PERM", "cannot be opened: you have no permission"),
    ("SQLITE_CORRUPT", "is damaged: move a book.sqlite-journal beside its book.sqlite away, if there is one, then put back a copy, or the "
                       "newest .sqlite file in its copies folder"),
    ("SQLITE_NOTADB", "is not a book or is damaged: its database file is no SQLite database"),
    ("SQLITE_FULL", NO_ROOM),
    ("SQLITE_IOERR", "cannot be read or written: the disk reports an error"),
)


FAULTS = (SQLAlchemyError, sqlite3.Error, OSError, JSONDecodeError, UnicodeDecodeError)


@contextmanager
def plain_faults(subject: str, *, of: tuple[type[Exception], ...] = FAULTS) -> Iterator[None]:
    """Turn faults of the database or the disk into a BookError whose sentence begins with `subject`."""
    try:
        yield
    except of as error:
        raise BookError(f"{subject} {describe(error)}") from error


def describe(error: Exception) -> str:
    """What happened, as the rest of a sentence whose subject is the book."""
    if isinstance(error, OSError) and error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return NO_WRITING
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        return NO_ROOM
    if isinstance(error, OSError):
        return f"cannot be read or written: {error.strerror or error}"
    if isinstance(error, (JSONDecodeError, UnicodeDecodeError)):
        return "is damaged: a stored value cannot be read"
    cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    code = getattr(cause, "sqlite_errorname", "")
    known = next((text for start, text in SQLITE_FAULTS if code.startswith(start)), None)
    return known or "does not serve: " + (" ".join(str(cause).split()) or type(cause).__name__)
