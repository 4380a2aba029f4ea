"""`toneprobe report`: a sweep of the book as a page, a picture or a table."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import BookOption, HarpOption, open_harp
from toneprobe.errors import ToneprobeError, UsageError

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp
    from toneprobe.report.view import SweepView

PICTURES = (".png", ".svg", ".pdf")
KINDS = (".html", *PICTURES, ".csv")


def report(
    sweep: Annotated[int | None, typer.Option("--sweep", metavar="ID", help="Which sweep; else the latest.")] = None,
    out: Annotated[str | None, typer.Option("--out", metavar="FILE", help="A .html page, .png, .svg, .pdf picture or .csv table.")] = None,
    pages: Annotated[Path | None, typer.Option("--pages", metavar="FOLDER", help="All there is to show of the harp, as pages.")] = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Show a sweep, and write its page and picture into the book or to a file."""
    from toneprobe.cli.screen import screen
    from toneprobe.report.tables import print_report
    from toneprobe.retelling import find_sweep, retell

    check_ending(out)
    opened, chosen = open_harp(book, harp)
    if pages:
        _write_pages(opened, chosen, pages)
        return
    record = find_sweep(opened, chosen.id, sweep)
    view = retell(opened, record, chosen.name)
    console = screen()
    print_report(view, console)
    console.print()
    stem = opened.reports / f"{record.date.isoformat()}-sweep-{record.id}"
    for target in [out] if out else [f"{stem}.html", f"{stem}.png"]:
        write_report(view, target)
        console.print(f"Written: {target}")


def _write_pages(book: Book, harp: Harp, folder: Path) -> None:
    from datetime import date

    from toneprobe.cli.screen import screen
    from toneprobe.report.shelf import write_pages
    from toneprobe.retelling import shelf_of

    shelf = shelf_of(book, harp)
    try:
        index, *others = write_pages(shelf, folder, made_on=date.today())
    except OSError as error:
        raise ToneprobeError(f"{folder} cannot be written: {error.strerror or error}") from error
    screen().print(f"Written: {index}, which leads to {len(others)} more files beside it", soft_wrap=True)


def check_ending(target: str | None) -> None:
    """UsageError for a report whose name does not say what it shall be."""
    if target and Path(target).suffix.lower() not in KINDS:
        raise UsageError(f"{target!r} does not end in {', '.join(KINDS)}")


def write_report(view: SweepView, target: str) -> None:
    """The view as the kind of file that the name's ending says; one of KINDS."""
    kind = Path(target).suffix.lower()
    if kind in PICTURES:
        _write_picture(view, Path(target))
        return
    from toneprobe.exchange.writing import write_text

    write_text(_text(view, kind), target)


def _text(view: SweepView, kind: str) -> str:
    if kind == ".csv":
        from toneprobe.report.sheet import sweep_csv

        return sweep_csv(view)
    from toneprobe.report.page import sweep_page

    return sweep_page(view)


def _write_picture(view: SweepView, path: Path) -> None:
    from toneprobe.report.figures import harp_picture, save_figure

    try:
        save_figure(harp_picture(view), path)
    except OSError as error:
        raise ToneprobeError(f"{path} cannot be written: {error.strerror or error}") from error
