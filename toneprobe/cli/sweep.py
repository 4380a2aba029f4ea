"""`toneprobe sweep`: the month's job. Measure, judge, store, report."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import A4Option, BookOption, DateOption, HarpOption, TuningOption, day_of, open_harp, refuse_overwriting
from toneprobe.cli.report import check_ending, write_report
from toneprobe.cli.screen import progress, screen
from toneprobe.errors import UsageError

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.checkup import Checked


def sweep(
    recordings: Annotated[list[Path], typer.Argument(metavar="RECORDING...", help="One sweep, in one recording or several.")],
    date: DateOption = None,
    fresh: Annotated[bool, typer.Option("--fresh", help="The strings are new and settled: keep this as their baseline.")] = False,
    fresh_for: Annotated[list[str] | None, typer.Option(metavar="STRING", help="The same for this string only; may be repeated.")] = None,
    json: Annotated[str | None, typer.Option("--json", metavar="FILE|-", help="Verdicts and figures as JSON; - is stdout.")] = None,
    report: Annotated[str | None, typer.Option("--report", metavar="FILE", help="Write a .html, .png, .svg, .pdf or .csv report.")] = None,
    tuning: TuningOption = None,
    a4: A4Option = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Measure a recorded sweep, judge every string, keep it and report."""
    check_ending(report)
    refuse_overwriting(recordings, json, report)
    opened, chosen = open_harp(book, harp)
    checked = _check(opened, chosen, recordings=recordings, day=date, fresh=fresh, fresh_for=fresh_for or [], tuning=tuning, a4=a4)
    _tell(opened, chosen, checked, json=json, report=report)


def _check(book: Book, harp: Harp, *, recordings: list[Path], day: str | None, fresh: bool, fresh_for: list[str], tuning: str | None,
           a4: float | None) -> Checked:
    from toneprobe.checkup import Swept, check
    from toneprobe.instrument import find_string, retune

    if fresh and fresh_for:
        raise UsageError("--fresh takes all strings and --fresh-for only some: give one of the two")
    instrument = retune(harp.instrument, tuning=tuning, a4_hz=a4)
    only = frozenset(find_string(instrument, name).name for name in fresh_for)
    with progress("Measuring plucks") as step:
        return check(book, harp, Swept(tuple(recordings), day_of(day), instrument, fresh, only), progress=step)


def _tell(book: Book, harp: Harp, checked: Checked, *, json: str | None, report: str | None) -> None:
    from toneprobe.exchange.condition import condition_document
    from toneprobe.exchange.writing import write_json
    from toneprobe.report.tables import print_report
    from toneprobe.retelling import retell

    record = checked.record
    view = retell(book, record, harp.name)
    if json:
        conditions = [one.condition for one in view.strings]
        write_json(condition_document(record, conditions, harp=harp.name, warnings=view.warnings), json)
    console = screen(machine_output=json == "-")
    print_report(view, console)
    if report:
        write_report(view, report)
    console.print()
    if not checked.is_new:
        console.print(f"These recordings were measured before; nothing was added to sweep {record.id} of {record.date}.")
    console.print(f"Sweep {record.id} is in the book {book.name}. Its page and picture: toneprobe report --sweep {record.id}")
