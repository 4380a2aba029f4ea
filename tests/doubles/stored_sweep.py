"""A sweep stored as the program stores it, on its own day; for tests that ask nothing else of the storing."""

from collections.abc import Collection
from datetime import date

from toneprobe.book.connect import Book
from toneprobe.book.entries import NewSweep, SweepRecord
from toneprobe.book.write import store_or_find_sweep


def store_sweep(book: Book, new: NewSweep, *, fresh: Collection[str] | None = None, instead_of: Collection[int] = (),
                today: date | None = None) -> SweepRecord:
    """`today`: None for the sweep's own day."""
    return store_or_find_sweep(book, new, today=today or new.date, fresh=fresh, instead_of=instead_of)[0]
