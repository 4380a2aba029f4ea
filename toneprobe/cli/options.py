"""Options that several commands share."""

from __future__ import annotations

import os
from collections.abc import Iterable
from datetime import date, time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.book.place import book_folder
from toneprobe.cli.screen import HARP_OPTION
from toneprobe.commands import harp_option
from toneprobe.days import clock_by_name, day_text
from toneprobe.errors import UsageError
from toneprobe.instrument.tunings import LEVER_TUNINGS, PEDAL_TUNINGS
from toneprobe.typed import typed_text

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp

GREATEST_NUMBER = 999_999_999  # of a sweep or a note: a database cannot look for a much larger one

BookOption = Annotated[str | None, typer.Option("--book", metavar="FOLDER", envvar="TONEPROBE_BOOK", show_envvar=True,
                                                help="The book; else the one in the user's data folder.")]
HarpOption = Annotated[str | None, typer.Option("--harp", metavar="NAME", help="Which harp, where the book has several.")]
TuningOption = Annotated[str | None, typer.Option("--tuning", metavar="TUNING",
                                                  help=f"{', '.join(PEDAL_TUNINGS)}; a lever harp's key: {', '.join(LEVER_TUNINGS)}.")]
A4Option = Annotated[float | None, typer.Option("--a4", metavar="HZ", help="The harp's A.")]
YesOption = Annotated[bool, typer.Option("--yes", help="Don't ask; do it.")]
JsonOption = Annotated[str | None, typer.Option("--json", metavar="FILE|-", help="The same, as JSON; - is standard output.")]
TemperatureOption = Annotated[float | None, typer.Option("--temperature", metavar="°C", help="Of the room.")]
HumidityOption = Annotated[float | None, typer.Option("--humidity", metavar="PERCENT", help="Relative, of the room.")]
DateOption = Annotated[str | None, typer.Option("--date", metavar="DATE", help="The day, as 2026-05-03 or 3 May 2026; else today.")]
BecauseOption = Annotated[str, typer.Option(metavar="TEXT", help="Why you take it back.")]
EntryOption = Annotated[int | None, typer.Option("--entry", metavar="NUMBER", help="Which entry of 'log STRING'; else the latest.")]


def refuse_overwriting(recordings: Iterable[Path], *targets: str | None) -> None:
    """UsageError where a file to be written is one of the recordings, or two of them are the same."""
    named = [target for target in targets if target is not None]
    if len(set(named)) < len(named):
        raise UsageError("two outputs must not go to the same place")
    sources = {os.path.realpath(recording) for recording in recordings}
    if any(target != "-" and os.path.realpath(target) in sources for target in named):
        raise UsageError("the recording itself would be overwritten: name another file")


def open_harp(book: str | None, harp: str | None) -> tuple[Book, Harp]:
    """The book and the harp that the options name."""
    from toneprobe.book import read
    from toneprobe.book.opening import open_book

    opened = open_book(book_folder(book))
    chosen = read.harp(opened, typed_text(harp) if harp else harp)
    name_among_others(opened, chosen)
    return opened, chosen


def name_among_others(opened: Book, chosen: Harp) -> None:
    """Where the book has several harps, the commands that are shown from now on name this one."""
    from toneprobe.book import read

    HARP_OPTION.set(harp_option(chosen.name) if len(read.harps(opened)) > 1 else "")


def day_of(text: str | None) -> date:
    """The day that an option names, today where it names none. UsageError for what is no day, or one to come."""
    today = date.today()
    day = today if text is None else any_day(text)
    if day > today:
        raise UsageError(f"{day_text(day)} has not come yet")
    return day


def any_day(text: str) -> date:
    """The day that an option names, in the past or to come, spelt as in `log import`. UsageError for what is no day or can be two."""
    from toneprobe.notebook.dates import read_typed_day
    from toneprobe.notebook.rows import RowError

    try:
        return read_typed_day(text, today=date.today())
    except RowError as error:
        raise UsageError(str(error)) from None


def time_of_day(text: str) -> time:
    """The time that an option names. UsageError for what is none."""
    clock = clock_by_name(text)
    if clock is None:
        raise UsageError(f"{text!r} is no time of day: write it as 08:30, or 20:30 in the evening")
    return clock
