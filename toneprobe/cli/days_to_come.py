"""What is said where the book holds a day that has not come yet, by this computer's clock: it was set back, or was in another time zone."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from toneprobe.cli.table import print_indented
from toneprobe.days import day_text
from toneprobe.phrases import as_string, listed

FEW_DAYS = 3  # that are named

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book


def tell_days_to_come(book: Book, harp_id: int, console: Console, *, string: str | None) -> None:
    """Which changes are left out of all that is shown until their day has come; of that string, else of all."""
    from toneprobe.book import read
    from toneprobe.fittings import changes_after

    told = [f"{as_string(name)} on {day_text(day)}" for name, day in changes_after(read.fitting_log(book, harp_id, string), date.today())]
    if told:
        console.print()
        print_indented(console, f"The log holds a change of {listed(told)}, which by this computer's clock is still to come: it is not "
                                "shown before. Is the clock right?", by=0)


def tell_sweeps_to_come(book: Book, harp_id: int, console: Console) -> None:
    """Which sweeps no plan goes by until their day has come."""
    from toneprobe.book import read

    told = [f"sweep {one.id} of {day_text(one.date)}" for one in read.sweeps(book, harp_id) if one.date > date.today()]
    if told:
        console.print()
        print_indented(console, f"By this computer's clock still to come, and so not counted here: {listed(told)}. "
                                "Is the clock right?", by=0)


def tell_checks_to_come(book: Book, harp_id: int, console: Console, *, string: str | None, new_at: datetime | None) -> None:
    """Which pitch checks, of that string, else of all, are left out until their day has come, or taken to have come after the one made just
    now. new_at: when by the clock that was; None where nothing was heard, or its owner gave its time."""
    from toneprobe.book.pitch_checks import pitch_checks

    times = sorted({one.at for one in pitch_checks(book, harp_id) if string in (None, one.string)})
    days = sorted({one.date() for one in times if one.date() > date.today()})
    if days:
        console.print()
        print_indented(console, "By this computer's clock still to come, and so not counted here: the pitch "
                                f"{'check' if len(days) == 1 else 'checks'} of {listed([day_text(day) for day in days], FEW_DAYS)}. "
                                "Is the clock right?", by=0)
    if new_at and times and times[-1].date() == new_at.date() and times[-1] > new_at:
        console.print()
        print_indented(console, f"This check, of {new_at:%H:%M} by this computer's clock, is taken to come before that of "
                                f"{times[-1]:%H:%M}. If it came after it, in another time zone for instance, take it back and give it "
                                "again with the right --time:", by=0)
        console.print(f"  toneprobe withdraw --check {new_at:%Y-%m-%d} --time {new_at:%H:%M}", soft_wrap=True)
