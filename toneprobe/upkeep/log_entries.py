"""The string log put right or filled in, and every verdict that rests on it made anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from toneprobe.book.connect import Book, writing
from toneprobe.book.corrections import correct_fitting
from toneprobe.book.entries import Fitting
from toneprobe.book.log_import import import_log
from toneprobe.checkup import JudgedAgain, judge_again
from toneprobe.fittings import Correction
from toneprobe.notebook import LogRow

EVER = date.min


def correct_entry(
    book: Book, entry: Fitting, changes: Mapping[str, object], *, today: date, why: str
) -> tuple[Fitting, tuple[Correction, ...], JudgedAgain]:
    """Put an entry right, and judge again all sweeps from the first day on which it was on, by what it said or by what it says.

    An entry without a first day, before or after, touches every sweep. Returns it, what was put right, and the verdicts that changed.
    """
    with writing(book):
        corrected, trace = correct_fitting(book, entry.id, changes, today=today, why=why)
        since = min(entry.fitted_on or EVER, corrected.fitted_on or EVER)
        return corrected, trace, judge_again(book, entry.harp_id, since=since) if trace else JudgedAgain()


def take_notebook(book: Book, harp_id: int, rows: Sequence[LogRow], *, today: date) -> JudgedAgain:
    """Take the rows into the log and judge all sweeps again: a string of unknown first day may have got one.

    Returns the verdicts that changed.
    """
    with writing(book):
        import_log(book, harp_id, rows, today=today)
        return judge_again(book, harp_id, since=EVER)
