"""The tables of a book as SQLite has them, for tests that look into them or spoil them."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path


@contextmanager
def tables_of(folder: Path) -> Iterator[sqlite3.Connection]:
    """What was changed in them is kept, unless something fails."""
    with closing(sqlite3.connect(folder / "book.sqlite")) as direct, direct:
        yield direct
