"""`toneprobe log correct`: put an entry of the string log right; what it said before stays on record."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from datetime import date
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import BookOption, EntryOption, HarpOption, any_day, open_harp
from toneprobe.cli.rejudged import judging_shown, tell_rejudged
from toneprobe.cli.restring import BrokeAt, Why
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_command, print_paragraph
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings import first_after, history_of, last_before
from toneprobe.instrument import find_string
from toneprobe.phrases import as_string
from toneprobe.report.fitting_words import correction_words, empty_words, gap_words
from toneprobe.typed import one_line, one_name

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.fittings import Correction, Fitting
    from toneprobe.judging.verdicts import JudgedAgain

NOTHING = "none"  # empties a field


def correct(
    string: Annotated[str, typer.Argument(metavar="STRING", help="Which string.")],
    entry: EntryOption = None,
    fitted: Annotated[str | None, typer.Option("--fitted", metavar="DATE", help="The day it went on; none: not known.")] = None,
    removed: Annotated[str | None, typer.Option("--removed", metavar="DATE", help="The day it came off; none: it is still on.")] = None,
    material: Annotated[str | None, typer.Option(metavar="MATERIAL", help="Its material; none: not known.")] = None,
    gauge: Annotated[str | None, typer.Option("--gauge", metavar="MM", help="Its gauge; none: not known.")] = None,
    supplier: Annotated[str | None, typer.Option(metavar="NAME", help="Who sold it; none: not known.")] = None,
    batch: Annotated[str | None, typer.Option(metavar="BATCH", help="Its batch; none: not known.")] = None,
    why: Annotated[Why | None, typer.Option(help="Why it came off.")] = None,
    broke_at: Annotated[BrokeAt | None, typer.Option(help="Where it broke.")] = None,
    stand_in: Annotated[bool | None, typer.Option("--stand-in/--no-stand-in", help="Whether it is a stand-in.")] = None,
    note: Annotated[str | None, typer.Option(metavar="TEXT", help="The remark, instead of the old one.")] = None,
    because: Annotated[str, typer.Option(metavar="TEXT", help="Why you correct it.")] = "",
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Put an entry right; what it said stays on record."""
    from toneprobe.book import read
    from toneprobe.upkeep.log_entries import correct_entry

    texts = {"material": material, "supplier": supplier, "batch": batch}
    changes = {name: None if text == NOTHING else one_name(text) for name, text in texts.items() if text is not None}
    days = {"fitted_on": fitted, "removed_on": removed}
    changes |= {name: None if text == NOTHING else any_day(text) for name, text in days.items() if text is not None}
    changes |= {name: one.value for name, one in (("why_removed", why), ("broke_at", broke_at)) if one is not None}
    changes |= {name: one for name, one in (("is_stand_in", stand_in), ("note", one_line(note) if note else note)) if one is not None}
    changes |= {} if gauge is None else {"gauge_mm": _gauge(gauge)}
    if not changes:
        raise UsageError("say what to correct, --fitted for instance: see 'toneprobe log correct --help'")
    if changes.get("removed_on", "") is None:
        if why is not None or broke_at is not None:
            raise UsageError("--removed none says that it is still on, so it did not come off: give the day instead, or leave out why it "
                             "came off and where it broke")
        changes |= {"why_removed": None, "broke_at": None}
    opened, chosen = open_harp(book, harp)
    found = entry_of(opened, chosen, string, entry)
    with judging_shown() as step:
        done = correct_entry(opened, found, changes, today=date.today(), why=one_line(because), progress=step)
    log = read.fitting_log(opened, chosen.id, done[0].string)
    _tell(*done, log=log)
    _tell_heard_before_first(done[0], read.first_heard_days(opened, chosen.id), log=log)


def entry_of(book: Book, harp: Harp, string: str, number: int | None) -> Fitting:
    """The log entry of that number, or the latest of the position."""
    from toneprobe.book import read

    name = find_string(harp.instrument, string).name
    history = history_of(name, read.fitting_log(book, harp.id, name))
    found = next((one for one in history if number in (None, one.id)), None)
    if found is None:
        numbers = ", ".join(str(one.id) for one in history)
        raise UsageError(f"{name} has no entry number {number}" + (f"; it has {numbers}" if numbers else ""))
    return found


def _gauge(text: str) -> float | None:
    try:
        return None if text == NOTHING else float(text.replace(",", "."))
    except ValueError:
        raise UsageError(f"{text!r} is no gauge in mm") from None


def _tell(fitting: Fitting, trace: tuple[Correction, ...], rejudged: JudgedAgain, *, log: Sequence[Fitting]) -> None:
    console = screen()
    if not trace:
        console.print("It said so already; nothing was changed.")
    for one in trace:
        console.print(f"{fitting.string} no. {fitting.id}{correction_words(one)}.")
    _tell_gap(console, fitting, {one.field for one in trace}, log)
    tell_rejudged(console, rejudged)


def _tell_heard_before_first(fitting: Fitting, heard_on: Mapping[str, date], *, log: Sequence[Fitting]) -> None:
    """Where a sweep heard a position before its first string went on: that by the log the sweep heard none there."""
    day = heard_on.get(fitting.string)
    first = min((one.fitted_on or date.min for one in log), default=date.min)
    if day is not None and day < first:
        print_paragraph(screen(), f"The sweep of {day_text(day)} heard {as_string(fitting.string)} before that day: by the log it is of no "
                                  f"string now. Give an earlier day with --fitted, or none; if another string was on until "
                                  f"{day_text(first)}, say so with a row of it in a CSV file: toneprobe log import")


def _tell_gap(console: Console, fitting: Fitting, fields: Collection[str], log: Sequence[Fitting]) -> None:
    """Where a moved day leaves the position empty before or after this string: that it does, and what fills it."""
    before, after = last_before(fitting, log), first_after(fitting, log)
    if "fitted_on" in fields and before is not None and before.removed_on < fitting.fitted_on:
        print_paragraph(console, empty_words(before, until=fitting.fitted_on))
        print_command(console, f"log correct {quote(before.string)} --entry {before.id} --removed {fitting.fitted_on}")
    if "removed_on" not in fields or fitting.removed_on is None:
        return
    if after is None:
        print_paragraph(console, f"{gap_words(fitting, until=None)} What went on:")
        print_command(console, f"restring {quote(fitting.string)} --date {fitting.removed_on}")
    elif after.fitted_on > fitting.removed_on:
        print_paragraph(console, f"{gap_words(fitting, until=after.fitted_on)} If no. {after.id} went on earlier:")
        print_command(console, f"log correct {quote(after.string)} --entry {after.id} --fitted {fitting.removed_on}")
