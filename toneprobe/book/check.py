"""Is the book whole? Slow and thorough, for an export; opening a book does not wait for it."""

from sqlalchemy import Connection, select

from toneprobe.book.clips import clip_path
from toneprobe.book.connect import Book, reading
from toneprobe.book.damage import damages
from toneprobe.book.schema import plucks


def check_book(book: Book) -> tuple[str, ...]:
    """One sentence for each thing that is wrong, none where the book is whole."""
    with reading(book) as connection:
        damaged = [f"{one.what} cannot be read ({', '.join(one.columns)}). {one.remedy}" for one in damages(connection)]
        return (*_database_faults(book, connection), *damaged, *_missing_clips(book, connection))


def _database_faults(book: Book, connection: Connection) -> list[str]:
    if not book.is_sqlite:
        return []  # a database server looks after itself
    found = [f"the database is damaged: {line}" for line in connection.exec_driver_sql("PRAGMA integrity_check").scalars() if line != "ok"]
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return found + [f"a row of {table} refers to a missing row of {parent}" for table, _, parent, _ in loose]


def _missing_clips(book: Book, connection: Connection) -> list[str]:
    clips = connection.scalars(select(plucks.c.clip).where(plucks.c.clip.is_not(None)))
    return [f"the clip {clip} is missing" for clip in clips if not clip_path(book.folder, clip).is_file()]
