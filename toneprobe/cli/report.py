"""`toneprobe report`: a sweep of the book as a page, a picture or a table, and the other pages there are of a harp."""

from __future__ import annotations

import os
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli import report_pages
from toneprobe.cli.options import BookOption, HarpOption, open_harp
from toneprobe.cli.screen import HARP_OPTION, progress, screen
from toneprobe.errors import ToneprobeError, UsageError
from toneprobe.exchange.writing import require_targets, write_text
from toneprobe.fittings import known_on
from toneprobe.report.fitting_words import changed_words

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp, SweepRecord
    from toneprobe.report.string_view import StringView
    from toneprobe.report.view import SweepView

PICTURES = (".png", ".svg", ".pdf")
ENDINGS = (".html", *PICTURES, ".csv")


def report(
    sweep: Annotated[int | None, typer.Option("--sweep", metavar="ID", help="Which sweep; else the latest.")] = None,
    compare: Annotated[tuple[int, int] | None, typer.Option("--compare", metavar="A B", help="Two sweeps: before and after.")] = None,
    string: Annotated[str | None, typer.Option("--string", metavar="NAME", help="One string's life.")] = None,
    season: Annotated[str | None, typer.Option("--season", metavar="[YEAR]", help="The year up to the latest sweep, or that YEAR.")] = None,
    technician: Annotated[bool, typer.Option("--technician", help="What is not a string's fault, on one page.")] = False,
    figure: Annotated[bool, typer.Option("--figure", help="The picture alone: of the harp, or with --string of that string.")] = False,
    out: Annotated[str | None, typer.Option("--out", metavar="FILE", help="A .html page, .png, .svg, .pdf picture or .csv table.")] = None,
    pages: Annotated[Path | None, typer.Option("--pages", metavar="FOLDER", help="All there is to show of the harp, as pages.")] = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Show a sweep, or another of the harp's pages.

    A sweep's page and picture are written into the book, or to a file.
    """
    page = _page_asked_for({"--compare": compare is not None, "--string": string is not None, "--season": season is not None,
                            "--technician": technician, "--pages": pages is not None})
    _check_use(page, out, figure=figure, sweep=sweep)
    opened, chosen = open_harp(book, harp)
    require_targets(out)
    if page == "--pages":
        _write_pages(opened, chosen, pages)
    elif figure:
        _write_figure(opened, chosen, sweep=sweep, string=string, out=out)
    elif page:
        makers = {"--compare": lambda: report_pages.comparison(opened, chosen, *(compare or ())),
                  "--string": lambda: report_pages.life(opened, chosen, string or "", sweep),
                  "--season": lambda: report_pages.season(opened, chosen, season or ""),
                  "--technician": lambda: report_pages.technician(opened, chosen, sweep)}
        report_pages.show(makers[page](), out or _reports_of(opened))
    else:
        _write_sweep(opened, chosen, sweep, out)


def _reports_of(book: Book) -> Path:
    """The book's folder for them, made anew where somebody has deleted it. ToneprobeError where the book can only be read."""
    try:
        book.reports.mkdir(exist_ok=True)
    except OSError as error:
        raise ToneprobeError(f"{book.reports} cannot be made: {error.strerror or error}") from error
    if not os.access(book.reports, os.W_OK):
        raise ToneprobeError(f"{book.reports} cannot be written: name another place with --out FILE")
    return book.reports


def _page_asked_for(options: dict[str, bool]) -> str:
    """The option that was given of those that ask for another page than a sweep's own, "" for none. UsageError for two."""
    given = [name for name, is_given in options.items() if is_given]
    if len(given) > 1:
        raise UsageError(f"{' and '.join(given)} are two pages: ask for one at a time")
    return given[0] if given else ""


def _check_use(page: str, out: str | None, *, figure: bool, sweep: int | None) -> None:
    """UsageError for options that do not go together, and for a file's ending that is not what is asked for. page: of
    `_page_asked_for`."""
    check_ending(out)
    ending = Path(out).suffix.lower() if out else ""
    if figure and page not in ("", "--string"):
        raise UsageError(f"--figure draws the harp, or with --string one string: it does not go with {page}")
    if figure and ending not in ("", *PICTURES):
        raise UsageError(f"{out!r} is no picture: with --figure it ends in {', '.join(PICTURES)}")
    if page and not figure and ending not in ("", ".html"):
        picture = " (--figure draws its picture)" if page == "--string" else ""
        raise UsageError(f"{out!r} is no page: {page} is written as .html{picture}")
    if sweep is not None and page in ("--compare", "--season", "--pages"):
        raise UsageError(f"--sweep does not go with {page}")


def _write_sweep(book: Book, harp: Harp, sweep: int | None, out: str | None) -> None:
    from toneprobe.report.tables import print_report
    from toneprobe.retelling import find_sweep, retell

    record = find_sweep(book, harp.id, sweep)
    view = retell(book, record, harp.name)
    console = screen()
    since = _changed(book, record) if record.id == find_sweep(book, harp.id).id else ""
    print_report(view, console, since=since)
    console.print()
    stem = f"{record.date.isoformat()}-sweep-{record.id}"
    for target in [out] if out else [str(_reports_of(book) / f"{stem}{ending}") for ending in (".html", ".png")]:
        write_report(view, target, since=since)
        console.print(f"Written: {target}", soft_wrap=True)


def _changed(book: Book, record: SweepRecord) -> str:
    from toneprobe.book import read

    heard = [one.fitting_id for one in read.conditions_of(book, record.id)]
    return changed_words(known_on(read.fitting_log(book, record.harp_id), date.today()), since=record.date, heard=heard)


def _write_figure(book: Book, harp: Harp, *, sweep: int | None, string: str | None, out: str | None) -> None:
    from toneprobe.report.view import find_string_view
    from toneprobe.retelling import find_sweep, retell

    record = find_sweep(book, harp.id, sweep)
    view = retell(book, record, harp.name)
    one = find_string_view(view, string) if string is not None else None
    about = f"string-{report_pages.file_part(one.name)}" if one else "harp"
    target = Path(out or _reports_of(book) / f"{record.date.isoformat()}-sweep-{record.id}-{about}.png")
    _write_picture(view, target, one)
    console = screen()
    console.print(f"{one.title}: {one.word}" if one else " ".join([view.headline, *([view.standing] if view.standing else [])]))
    console.print(f"Written: {target}", soft_wrap=True)


def _write_pages(book: Book, harp: Harp, folder: Path) -> None:
    from toneprobe.report.shelf import write_pages
    from toneprobe.retelling import find_sweep, shelf_of

    today = date.today()
    with progress("Reading sweeps") as step:
        told = shelf_of(book, harp, progress=step)
    shelf = replace(told, concerns=report_pages.slips(book, find_sweep(book, harp.id), today), today=today, harp_option=HARP_OPTION.get())
    try:
        with progress("Writing the pages of sweeps") as step:
            index, *others = write_pages(shelf, folder, made_on=today, progress=step)
    except OSError as error:
        raise ToneprobeError(f"{folder} cannot be written: {error.strerror or error}") from error
    screen().print(f"Written: {index}, which leads to {len(others)} more files beside it", soft_wrap=True)


def check_ending(target: str | None) -> None:
    """UsageError for a report whose name does not say what it shall be."""
    if target is not None and Path(target).suffix.lower() not in ENDINGS:
        raise UsageError(f"{target!r} does not end in {', '.join(ENDINGS)}")


def write_report(view: SweepView, target: str, *, since: str = "") -> None:
    """The view as the kind of file that the name's ending says, one of ENDINGS. `since`: what was changed after the sweep."""
    ending = Path(target).suffix.lower()
    if ending in PICTURES:
        _write_picture(view, Path(target))
    elif ending == ".csv":
        from toneprobe.report.sheet import sweep_csv

        write_text(sweep_csv(view), target)
    else:
        from toneprobe.report.page import for_harp_page, sweep_page

        write_text(for_harp_page(sweep_page(view, since=since), HARP_OPTION.get()), target)


def _write_picture(view: SweepView, path: Path, one: StringView | None = None) -> None:
    from toneprobe.report.picture_files import save_harp, save_string

    try:
        if one is None:
            save_harp(view, path)
        else:
            save_string(view, one, path)
    except OSError as error:
        raise ToneprobeError(f"{path} cannot be written: {error.strerror or error}") from error
