"""Is the book whole? Slow and thorough, for an export; opening a book does not wait for it."""

from sqlalchemy import Connection, select

from toneprobe.book.clips import clip_path
from toneprobe.book.connect import Book, reading
from toneprobe.book.damage import damages
from toneprobe.book.schema import plucks


def check_book(book: Book) -> tuple[str, ...]:
    """One sentence for each thing that is wrong, none where the book is whole."""
    with reading(book) as connection:
        found = _file_faults(connection) if book.is_sqlite else []  # a database server looks after itself
        found += [f"{one.what} cannot be read ({', '.join(one.columns)}). {one.remedy}" for one in damages(connection)]
        clips = connection.scalars(select(plucks.c.clip).where(plucks.c.clip.is_not(None)))
        return (*found, *(f"the clip {clip} is missing" for clip in clips if not clip_path(book.folder, clip).is_file()))


def _file_faults(connection: Connection) -> list[str]:
    found = [f"the database is damaged: {line}" for line in connection.exec_driver_sql("PRAGMA integrity_check").scalars() if line != "ok"]
    loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return found + [f"a row of {table} refers to a missing row of {parent}" for table, _, parent, _ in loose]
