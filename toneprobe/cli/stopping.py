"""Ctrl-C while a sweep is measured: one line on standard error says what the book has of it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from toneprobe.errors import ToneprobeError
from toneprobe.phrases import listed

if TYPE_CHECKING:
    from toneprobe.book.connect import Book


@dataclass(frozen=True)
class UnfinishedSweep:
    """Where a sweep is to be kept, and what of it is not kept yet."""

    book: Book
    harp_id: int
    hashes: Sequence[str]  # of its recordings
    extras: list[str]  # "its climate": what is asked for besides the sweep, each taken out once the book has it


@contextmanager
def tells_if_stopped() -> Iterator[Callable[[UnfinishedSweep], None]]:
    """Yield a function to be called with the sweep before any of it is kept."""
    begun: list[UnfinishedSweep] = []
    try:
        yield begun.append
    except KeyboardInterrupt:
        print(f"toneprobe: stopped{_what_is_kept(begun[-1] if begun else None)}", file=sys.stderr)
        raise


def _what_is_kept(sweep: UnfinishedSweep | None) -> str:
    """As the book itself says it: a sweep is in it whole or not at all, whenever the program was stopped."""
    if sweep is None or not sweep.hashes:
        return "; nothing was kept"
    from toneprobe.book import read  # whole by now: stopped while it was loading, it could not be had

    try:
        found = read.find_sweep_by_recordings(sweep.book, sweep.harp_id, sweep.hashes)
    except (ToneprobeError, KeyboardInterrupt):  # another program writes, or it was stopped twice
        return ": 'toneprobe report' shows the last sweep that the book has"
    if found is None:
        return "; nothing was kept"
    without = f", without {listed(sweep.extras)}: the same command again adds what is missing" if sweep.extras else ""
    return f"; sweep {found.id} is in the book{without}"
