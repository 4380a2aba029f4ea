"""`toneprobe withdraw`: take a sweep or a pitch check out of the book that should not be in it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.asking import agrees
from toneprobe.cli.options import GREATEST_NUMBER, BecauseOption, BookOption, HarpOption, YesOption, any_day, open_harp, time_of_day
from toneprobe.cli.rejudged import judging_shown, tell_rejudged
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_command, print_paragraph
from toneprobe.commands import fresh_for
from toneprobe.errors import UsageError
from toneprobe.phrases import as_strings, count_of, listed
from toneprobe.typed import one_line

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.book.taken_out import TakenOut


def withdraw(
    sweep: Annotated[int | None, typer.Argument(metavar="SWEEP", max=GREATEST_NUMBER, help="The number of a sweep.")] = None,
    check: Annotated[str | None, typer.Option("--check", metavar="YYYY-MM-DD", help="Or the day of a pitch check ('settle').")] = None,
    time: Annotated[str | None, typer.Option("--time", metavar="HH:MM", help="Which one, where that day has several.")] = None,
    because: BecauseOption = "",
    yes: YesOption = False,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Take back a sweep or a pitch check.

    For one made of the wrong recording, or for the wrong day or harp. It leaves the book, whose verdicts are made again; all that was
    measured stays in a file beside it. You are asked first if it is the only fresh baseline that other sweeps judge a string by. For a
    string change: 'toneprobe log withdraw'.
    """
    from toneprobe.upkeep.taking_back import take_back

    if (sweep is None) == (check is None):
        raise UsageError("say which: the number of a sweep, or --check with the day of a pitch check")
    opened, chosen = open_harp(book, harp)
    if sweep is not None and not _is_meant(opened, chosen, sweep, yes=yes):
        screen().print("Nothing was changed.")
        return
    what = _moment(opened, chosen.id, check, time) if sweep is None else sweep
    with judging_shown() as step:
        back = take_back(opened, chosen, what, today=date.today(), why=one_line(because), progress=step)
    _tell(f"the check of {what:%Y-%m-%d %H:%M}" if sweep is None else f"sweep {sweep}", back.done, screen(), lost=back.lost)
    if back.bare:  # a wish that the sweep had fulfilled does not come back with it
        its, which = "its" if len(back.bare) == 1 else "their", "--fresh" if len(back.bare) == back.n_on else fresh_for(back.bare)
        print_paragraph(screen(), f"The next sweep does not become {its} fresh baseline by itself. If you want that, pluck three times:")
        print_command(screen(), f"sweep RECORDING {which}")
    tell_rejudged(screen(), back.judged)


def _is_meant(book: Book, harp: Harp, sweep: int, *, yes: bool) -> bool:
    """Whether a sweep without which verdicts of others would be lost is what its owner means: by a slip of a figure it is soon named."""
    from toneprobe.book import read

    names = as_strings(read.judged_by_it_alone(book, harp.id, sweep))
    if not names:
        return True
    them = "it" if len(names) == 1 else "them"
    return agrees(f"Sweep {sweep} is the only fresh baseline of {listed(names)}: without it no sweep can judge {them}. "
                  "Take it out all the same?", yes=yes)


def _moment(book: Book, harp_id: int, day: str, clock: str | None) -> datetime:
    from toneprobe.book.taken_out import checks_of

    found = checks_of(book, harp_id, any_day(day))
    told = None if clock is None else time_of_day(clock).replace(second=0)
    chosen = [at for at in found if told in (None, at.time().replace(second=0, microsecond=0))]
    if len(chosen) == 1:
        return chosen[0]
    if not found:
        raise UsageError(f"there is no check of {day}")
    raise UsageError("say which with --time: " + "; ".join(f"{at:%H:%M} ({', '.join(strings)})" for at, strings in found.items()))


def _tell(what: str, done: TakenOut, console: Console, *, lost: Sequence[str]) -> None:
    print_paragraph(console, f"Taken out: {what}, with {count_of(len(done.strings), 'string')}. "
                             f"All that was measured is kept in {done.path}")
    if done.begun:
        one, names = len(done.begun) == 1, listed(as_strings(done.begun))
        what, it = (f"the string that was on {names} before its first known one", "it") if one else (
            f"the strings that were on {names} before their first known ones", "them")
        print_paragraph(console, f"Taken out of the log too: {what}. Only this sweep had heard {it}.")
    if done.bare:
        print_paragraph(console, f"Without a fresh baseline now: {', '.join(as_strings(done.bare))}.")
    if done.stood_for:
        one = len(done.stood_for) == 1
        which, do, its, it, them = ("another sweep", "does", "its", "it", "it") if one else ("other sweeps", "do", "their", "they", "them")
        print_paragraph(console, f"It stood in place of {which}, which {do} not come back with this: measure {its} recording again for "
                                 f"that. What {it} said is kept in {', '.join(map(str, done.stood_for))}. The check, the climate and the "
                                 f"notes that came with {them} are kept with the one taken out now.")
    for name in lost:
        print_paragraph(console, f"Without it {name} does not count as settled, so the next sweep does not become its fresh baseline. "
                                 f"Once it has settled, this asks again: toneprobe settle {quote(name)}")
    print_paragraph(console, "Its recording can be measured again, for another day, instrument or purpose.")
