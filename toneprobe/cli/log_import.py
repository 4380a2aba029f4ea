"""`toneprobe log import`: a paper notebook, typed into a spreadsheet and saved as CSV, into the string log."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.asking import agrees
from toneprobe.cli.options import BookOption, HarpOption, YesOption, open_harp
from toneprobe.cli.rejudged import judging_shown, tell_rejudged
from toneprobe.cli.screen import screen
from toneprobe.cli.table import print_heading, print_paragraph, print_table
from toneprobe.days import short_day
from toneprobe.errors import ToneprobeError
from toneprobe.phrases import count_of, kind_words
from toneprobe.plain_file import read_octets

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.notebook import LogRow, Notebook

LONGEST_TEXT = 120  # of a refused row
MOST_BYTES = 10_000_000  # 100,000 rows of a hundred letters


def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", readable=False, help="Columns in any order; the heading names them.")],
    yes: YesOption = False,
    day_first: Annotated[bool | None, typer.Option("--day-first/--month-first", help="How to read 1/5/2024.")] = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Take a typed paper log, once you have seen it.

    What is right is offered and what is wrong is listed; nothing is stored before you agree. With one column of days, headed Date, each row
    is a change, and its reason is that of the string that came off; with Put on or Taken off each row is a string.

    A row whose days the log already has changes nothing: where it differs is listed, with the number of the entry for 'log correct'. A
    notebook that has grown may be taken again: a string that the log has on comes off where the notebook says so.

    If nobody knows the day, leave Put on empty or write only the month or the year: the string counts as on since before the log, and what
    you wrote is kept as a remark. Where the log has another string before it, write the likeliest day; a column Date wants one in each row.

    What a sweep heard before a string went on was another string, and stays its own. Where the rows tell only of strings that came off
    since a sweep, the string that is on is taken to date from the last of those days, and that is said wherever it
    stands, until a row tells the true day.
    """
    from toneprobe.book import read
    from toneprobe.notebook import decode_notebook, read_notebook
    from toneprobe.upkeep.log_entries import take_notebook

    opened, chosen = open_harp(book, harp)
    today = date.today()
    known = read.fitting_log(opened, chosen.id)
    notebook = read_notebook(decode_notebook(_octets(file)), chosen.instrument, today=today, day_first=day_first, known=known,
                             heard_on=read.first_heard_days(opened, chosen.id))
    console = screen()
    _show(console, notebook, chosen.name)
    if not notebook.offered:
        raise ToneprobeError(f"{file.name} offers nothing {'new ' if notebook.known else ''}to the log; nothing was stored")
    entries = count_of(len(notebook.offered), "entry", "entries")
    told = count_of(notebook.n_told, "change") if notebook.tells_of == "change" else entries
    if not agrees(f"Put {told} into the log of {chosen.name}?", yes=yes):
        console.print("Nothing was stored.")
        return
    with judging_shown() as step:
        rejudged = take_notebook(opened, chosen.id, notebook.offered, today=today, progress=step)
    n_refused = len(notebook.refused)
    left_out = f" {count_of(n_refused, 'row')} {'was' if n_refused == 1 else 'were'} refused and not stored." if n_refused else ""
    console.print(f"Stored in the log of {chosen.name}: {told}.{left_out}")
    tell_rejudged(console, rejudged)


def _octets(file: Path) -> bytes:
    try:
        octets = read_octets(file, most=MOST_BYTES)
    except OSError as error:
        raise ToneprobeError(f"{file} cannot be read: {error.strerror or error}") from error
    if octets is None:
        raise ToneprobeError(f"{file} is larger than {MOST_BYTES // 1_000_000} MB: it is no typed log")
    return octets


def _show(console: Console, notebook: Notebook, harp: str) -> None:
    from toneprobe.notebook import lines_words

    if notebook.offered:
        n_strings = len({row.string for row in notebook.offered})  # that were ever on: several of one position are several entries
        entries = f"{count_of(len(notebook.offered), 'entry', 'entries')} on {count_of(n_strings, 'string')}"
        told = f"{count_of(notebook.n_told, 'change')} ({entries})" if notebook.tells_of == "change" else entries
        print_heading(console, f"Offered to the log of {harp}: {told}")
        rows = ((row.line, row.string, _first_day(row), short_day(row.removed_on) if row.removed_on else "still on",
                 kind_words(row.material, row.gauge_mm, "stand-in" if row.is_stand_in else None),
                 f"{row.why_removed}, {row.broke_at}" if row.broke_at else row.why_removed or "")
                for row in notebook.offered)
        print_table(console, ("line", "string", "from", "to", "what", "why off"), rows, right=("line",))
    if notebook.known:
        console.print()
        print_heading(console, f"Already in the log of {harp}: {count_of(len(notebook.known), 'row')}")
    if notebook.refused:
        console.print()
        print_heading(console, f"Refused: {count_of(len(notebook.refused), 'row')}")
    for lines, one in notebook.refused_alike:
        print_paragraph(console, f"{lines_words(lines)}: {one.reason}", indent=2)
        print_paragraph(console, one.text if len(one.text) <= LONGEST_TEXT else one.text[:LONGEST_TEXT] + "…", indent=6)
    if notebook.remarks:
        console.print()
    for remark in notebook.remarks:
        print_paragraph(console, f"Note: {remark}", hang=6)


def _first_day(row: LogRow) -> str:
    return f"{short_day(row.fitted_on)}{', supposed' if row.is_supposed else ''}" if row.fitted_on else "earlier"
