"""What is said where the book holds a day that has not come yet, by this computer's clock: it was set back, or was in another time zone."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from toneprobe.cli.table import print_command, print_paragraph
from toneprobe.days import day_text
from toneprobe.fittings import changes_after
from toneprobe.phrases import as_string, listed

FEW_DAYS = 3  # that are named

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book


def tell_days_to_come(book: Book, harp_id: int, console: Console, *, string: str | None) -> None:
    """Which changes are left out of all that is shown until their day has come; of that string, else of all."""
    from toneprobe.book import read

    told = [f"{as_string(name)} on {day_text(day)}" for name, day in changes_after(read.fitting_log(book, harp_id, string), date.today())]
    if told:
        _tell(console, f"The log holds a change of {listed(told)}, which by this computer's clock is still to come: it is not shown "
                       "before. Is the clock right?")


def tell_sweeps_to_come(book: Book, harp_id: int, console: Console) -> None:
    """Which sweeps no plan goes by until their day has come."""
    from toneprobe.book import read

    told = [f"sweep {one.id} of {day_text(one.date)}" for one in read.sweeps(book, harp_id) if one.date > date.today()]
    if told:
        _tell(console, f"By this computer's clock still to come, and so not counted here: {listed(told)}. Is the clock right?")


def tell_checks_to_come(book: Book, harp_id: int, console: Console, *, string: str | None, new_at: datetime | None) -> None:
    """Which pitch checks, of that string or of all, are left out until their day has come, or sorted after the one made just now. `new_at`:
    when that was by the clock; None where nothing was heard, or its owner gave its time."""
    from toneprobe.book.pitch_checks import pitch_checks

    times = sorted({one.at for one in pitch_checks(book, harp_id) if string in (None, one.string)})
    days = sorted({one.date() for one in times if one.date() > date.today()})
    if days:
        checks = f"the pitch {'check' if len(days) == 1 else 'checks'} of {listed([day_text(day) for day in days], FEW_DAYS)}"
        _tell(console, f"By this computer's clock still to come, and so not counted here: {checks}. Is the clock right?")
    if new_at and times and times[-1].date() == new_at.date() and times[-1] > new_at:
        _tell(console, f"This check, of {new_at:%H:%M} by this computer's clock, is taken to come before that of {times[-1]:%H:%M}. If it "
                       "came after it, in another time zone for instance, take it back and give it again with the right --time:")
        print_command(console, f"withdraw --check {new_at:%Y-%m-%d} --time {new_at:%H:%M}")


def _tell(console: Console, text: str) -> None:
    console.print()
    print_paragraph(console, text)
