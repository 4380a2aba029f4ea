"""Ctrl-C while a sweep is measured: one line on standard error says what the book has of it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from toneprobe.errors import ToneprobeError

if TYPE_CHECKING:
    from toneprobe.book.connect import Book

WatchedBook = tuple["Book", int, Sequence[str]]  # the harp's number, and the hashes of what is measured


@contextmanager
def tells_if_stopped() -> Iterator[Callable[[WatchedBook], None]]:
    """Yield a function that takes where the sweep is to be kept: before it is called nothing can have been."""
    watched: list[WatchedBook] = []
    try:
        yield watched.append
    except KeyboardInterrupt:
        print(f"toneprobe: stopped{_what_is_kept(watched)}", file=sys.stderr)
        raise


def _what_is_kept(watched: Sequence[WatchedBook]) -> str:
    """As the book itself says it: a sweep is in it whole or not at all, whenever the program was stopped."""
    if not watched or not watched[-1][2]:
        return "; nothing was kept"
    from toneprobe.book import read  # whole by now: stopped while it was loading, it could not be had

    try:
        found = read.find_sweep_by_recordings(*watched[-1])
    except (ToneprobeError, KeyboardInterrupt):  # another program writes, or it was stopped twice
        return ": 'toneprobe report' shows the last sweep that the book has"
    return f"; sweep {found.id} is in the book" if found else "; nothing was kept"
