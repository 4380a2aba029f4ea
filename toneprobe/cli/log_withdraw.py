"""`toneprobe log withdraw`: take back a string change that never happened, logged on the wrong string for instance."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.asking import agrees
from toneprobe.cli.log_correct import entry_of
from toneprobe.cli.options import BecauseOption, BookOption, EntryOption, HarpOption, YesOption, open_harp
from toneprobe.cli.rejudged import judging_shown, tell_rejudged
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_command, print_paragraph
from toneprobe.fittings import last_before
from toneprobe.fittings import withdraw as would_be
from toneprobe.report.fitting_words import empty_words, fitting_line
from toneprobe.typed import one_line

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.withdrawals import Withdrawal
    from toneprobe.fittings import Fitting


def withdraw(
    string: Annotated[str, typer.Argument(metavar="STRING", help="On which string it was logged.")],
    entry: EntryOption = None,
    because: BecauseOption = "",
    yes: YesOption = False,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Take back a change that never happened.

    The string that came off that day is on again; what was logged stays on record. You are asked first if it was not entered last.
    """
    from toneprobe.book import read
    from toneprobe.upkeep.log_entries import withdraw_entry

    opened, chosen = open_harp(book, harp)
    found = entry_of(opened, chosen, string, entry)
    if entry is None and not _is_meant(opened, found, yes=yes):
        screen().print("Nothing was changed.")
        return
    with judging_shown() as step:
        done, rejudged = withdraw_entry(opened, found, today=date.today(), why=one_line(because), progress=step)
    _tell(done, screen(), log=read.fitting_log(opened, chosen.id, done.withdrawn.string))
    tell_rejudged(screen(), rejudged)


def _is_meant(book: Book, found: Fitting, *, yes: bool) -> bool:
    """Whether the latest entry of a string is what its owner means: given twice, or after a change that was refused, it is an older one."""
    from toneprobe.book import read
    from toneprobe.book.withdrawals import is_last_put_in

    if is_last_put_in(book, found):
        return True
    would_be(found, read.fitting_log(book, found.harp_id, found.string), today=date.today())  # what cannot be is not asked
    return agrees(f"{found.string} no. {found.id} is not what was put into the log last: {fitting_line(found)} Take it back all the same?",
                  yes=yes)


def _tell(done: Withdrawal, console: Console, *, log: Sequence[Fitting]) -> None:
    name, day = done.withdrawn.string, done.withdrawn.fitted_on
    print_paragraph(console, f"Withdrawn: {name} no. {done.withdrawn.id}. It stays on record: toneprobe log {quote(name)}")
    if done.again is None:
        before = last_before(done.withdrawn, log)
        print_paragraph(console, empty_words(before, until=done.withdrawn.removed_on))
        print_command(console, f"log correct {quote(name)} --entry {before.id} --removed {done.withdrawn.removed_on or 'none'}")
    else:
        print_paragraph(console, f"In its place: {name} no. {done.again.id}. {fitting_line(done.again)}")
    for spare in done.spares:
        print_paragraph(console, f"Spare {spare.id} ({spare.string}) is on the list again.")
    if done.lost_baseline:
        print_paragraph(console, "What was kept as its fresh baseline is an ordinary sweep again.")
    print_paragraph(console, "If another string was changed that day, log that one:")
    print_command(console, f"restring STRING --date {day}")
