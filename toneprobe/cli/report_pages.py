"""The other pages of `toneprobe report`: two sweeps compared, one string's life, a season, what is for the technician."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from toneprobe.cli.bare_season import LAST
from toneprobe.cli.screen import HARP_OPTION, screen
from toneprobe.errors import UsageError
from toneprobe.exchange.writing import write_text
from toneprobe.fittings import known_on
from toneprobe.report.words import sentence

if TYPE_CHECKING:
    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp, SweepRecord
    from toneprobe.report.technician import Concern

MOST_IN_A_NAME = 100  # letters of a harp's name in that of a file, which disks take up to 255 of (set here)


@dataclass(frozen=True)
class Page:
    """A page about to be written, with what it says in short."""

    name: str  # of its file in the book
    text: str
    headline: str
    lines: tuple[str, ...] = ()
    rest: str = ""  # what the lines leave out, in one


def show(page: Page, target: str | Path) -> None:
    """Print the words and write the page: into that file, or under its own name into that folder, a Path."""
    from toneprobe.report.page import for_harp_page
    from toneprobe.report.tables import MOST_ON_SCREEN

    path = str(target / page.name if isinstance(target, Path) else target)
    write_text(for_harp_page(page.text, HARP_OPTION.get()), path)
    console = screen()
    console.print(page.headline)
    for line in page.lines[:MOST_ON_SCREEN]:
        console.print(f"  {line}")
    if len(page.lines) > MOST_ON_SCREEN:
        console.print(f"  … and {len(page.lines) - MOST_ON_SCREEN} more, on the page.")
    if page.rest:
        console.print(f"  {page.rest}")
    console.print(f"Written: {path}", soft_wrap=True)


def comparison(book: Book, harp: Harp, first: int, second: int) -> Page:
    """Two sweeps by their numbers. UsageError where one is not there, or both are the same."""
    from toneprobe.report.page import comparison_page
    from toneprobe.retelling import compared, find_sweep

    if first == second:
        raise UsageError(f"sweep {first} with itself: --compare takes two sweeps")
    records = [find_sweep(book, harp.id, number) for number in (first, second)]
    view = compared(book, records, harp.name)
    parts = {f"{one.name} ({one.note}):": (one.told, one.new_fitting, one.words_between) for one in view.moved}
    lines = tuple(" ".join([which, *(sentence(part) for part in told if part)]) for which, told in parts.items())
    return Page(f"{view.after.date.isoformat()}-sweeps-{first}-and-{second}.html", comparison_page(view), view.headline, lines,
                " ".join(view.in_short))


def life(book: Book, harp: Harp, string: str, sweep: int | None) -> Page:
    """One string's life, up to that sweep or to now. UsageError where the harp has no such string."""
    from toneprobe.book import read
    from toneprobe.report.life import life_view
    from toneprobe.report.page import life_page
    from toneprobe.report.view import find_string_view
    from toneprobe.retelling import find_sweep, retell

    record = find_sweep(book, harp.id, sweep)
    told = retell(book, record, harp.name)
    if sweep is None:
        name = find_string_view(told, string).name
        view = life_view(told, name, today=date.today(), log=read.fitting_log(book, harp.id, name))
    else:
        view = life_view(told, string)
    lines = tuple(f"{chapter.line} {chapter.age.capitalize()}{'.' if chapter.age else ''}".strip() for chapter in view.chapters)
    page = f"{_of_several(harp)}{record.date.isoformat()}-string-{file_part(view.latest.name)}.html"
    return Page(page, life_page(view), view.headline, lines)


def season(book: Book, harp: Harp, year: str) -> Page:
    """A calendar year, or with "last" the year up to the latest sweep. UsageError for what is no year, or one without a sweep."""
    from toneprobe.book import read
    from toneprobe.report.page import season_page
    from toneprobe.report.season import season_view
    from toneprobe.retelling import find_sweep

    latest = find_sweep(book, harp.id)
    records = read.sweeps(book, harp.id)
    first, last = _span(year, latest.date)
    if not any(first <= one.date <= last for one in records):
        raise UsageError(f"no sweep in {year}; there are some in {', '.join(sorted({str(one.date.year) for one in records}))}")
    conditions = [one for record in records for one in read.conditions_of(book, record.id)]
    view = season_view(harp.name, latest.instrument, conditions, fittings=read.fitting_log(book, harp.id), span=(first, last),
                       today=date.today() if last >= latest.date else None)
    lines = (*(f"{one.name} ({one.note}): {one.words}" for one in view.eventful), *view.not_judged,
             *([view.by_earlier] if view.by_earlier else []))
    return Page(f"{_of_several(harp)}season-{first.isoformat()}-to-{last.isoformat()}.html", season_page(view), view.headline, lines)


def technician(book: Book, harp: Harp, sweep: int | None) -> Page:
    """What is not a string's fault, as that sweep has it, or the latest with the log and the pitch checks of today."""
    from toneprobe.book import read
    from toneprobe.book.diary import events_of
    from toneprobe.report.page import technician_page
    from toneprobe.report.technician import technician_view
    from toneprobe.retelling import find_sweep, retell

    record = find_sweep(book, harp.id, sweep)
    today = record.date if sweep else date.today()
    log = None if sweep else known_on(read.fitting_log(book, harp.id), today)
    view = technician_view(retell(book, record, harp.name), concerns=slips(book, record, today), log=log, events=events_of(book, harp.id),
                           today=today)
    lines = tuple(f"{concern.strings or f'The {record.instrument.word}'}: {concern.what}" for concern in view.concerns)
    return Page(f"{_of_several(harp)}{record.date.isoformat()}-technician.html", technician_page(view), view.headline, lines)


def slips(book: Book, record: SweepRecord, day: date) -> tuple[Concern, ...]:
    """The strings that fall steadily or in jumps, as the pitch checks until that day have it."""
    from toneprobe.harp_state import harp_state
    from toneprobe.report.technician import slip_concerns
    from toneprobe.upkeep.unsettled import slipping_strings

    return slip_concerns(slipping_strings(harp_state(book, record.harp_id, record.instrument, today=day)))


def _span(year: str, latest: date) -> tuple[date, date]:
    from toneprobe.report.season import year_up_to

    if year.casefold() == LAST:
        return year_up_to(latest)
    if not (len(year) == 4 and year.isascii() and year.isdigit() and int(year)):
        raise UsageError(f"{year!r} is no year: write --season {latest.year}, or --season {LAST}")
    return date(int(year), 1, 1), date(int(year), 12, 31)


def _of_several(harp: Harp) -> str:
    """How the name of a page begins that another harp of the same book could have too, "" where it has no other."""
    if not HARP_OPTION.get():
        return ""
    part = file_part(harp.name)
    return f"{part if len(part) <= MOST_IN_A_NAME else harp.id}-"


def file_part(name: str) -> str:
    """A harp's or a string's name as part of a file name, whatever it is called: two names never become one."""
    return "".join(letter if letter.isascii() and letter.isalnum() else f"-{ord(letter):x}-" for letter in name)
