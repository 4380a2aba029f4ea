"""All pages of one harp into one folder, with a first page that leads to them.

For each sweep a page, a picture, a table as text and as CSV; a comparison of the last two sweeps; the life of each string that needs
attention, also where the last sweep did not hear it; the season; the technician's page; `index.html`. Only strings that need attention keep
their sounds, so that the folder stays small; a single page with all sounds is `page.sweep_page`.
"""

import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

from toneprobe.book.entries import StoredCondition
from toneprobe.condition import Condition
from toneprobe.events import Event
from toneprobe.fittings import Fitting, known_on
from toneprobe.plain_file import write_whole
from toneprobe.report.compare import comparison_view
from toneprobe.report.fitting_words import changed_words
from toneprobe.report.for_harp import HarpConsole
from toneprobe.report.life import life_view
from toneprobe.report.page import (
    comparison_page,
    for_harp_page,
    index_page,
    life_page,
    season_page,
    sweep_page,
    technician_page,
    write_page,
)
from toneprobe.report.panels import anchor
from toneprobe.report.picture_files import save_harp
from toneprobe.report.season import season_view
from toneprobe.report.sheet import sweep_csv
from toneprobe.report.string_view import StringView
from toneprobe.report.tables import print_report
from toneprobe.report.technician import Concern, technician_view
from toneprobe.report.view import SweepView
from toneprobe.workers import shared_out, usable_cores

HOME = "index.html"
FEW_SWEEPS = 4  # whose pages are written sooner than processes start (set here)


@dataclass(frozen=True)
class Shelf:
    """What there is to show of one harp."""

    views: Sequence[SweepView]  # of its sweeps, oldest first, at least one
    conditions: Sequence[StoredCondition] = ()  # of all sweeps
    fittings: Sequence[Fitting] = ()  # of all strings
    concerns: Sequence[Concern] = ()  # for the technician
    events: Sequence[Event] = ()  # for the technician too: all that is noted of the harp
    today: date | None = None  # up to which the log is told; None: up to the latest sweep
    harp_option: str = ""  # by which commands on the pages name the harp, in a book of several
    between: Mapping[str, Condition] = field(default_factory=dict)  # by string, of the last sweep against the one before (report.compare)

    @property
    def log(self) -> tuple[Fitting, ...] | None:
        """The fittings until today; None where the views' own are told."""
        return None if self.today is None else known_on(self.fittings, self.today)

    @property
    def since(self) -> str:
        """What was changed after the latest sweep."""
        if self.today is None:
            return ""
        heard = [one.fitting_id for one in self.conditions if one.sweep_id == self.conditions[-1].sweep_id]
        return changed_words(self.log, since=self.views[-1].date, heard=heard)


def write_pages(shelf: Shelf, folder: Path, *, made_on: date | None = None, progress: Callable[[int, int], None] | None = None
                ) -> tuple[Path, ...]:
    """Write all pages; files of the same names are replaced, others are left alone. OSError where a page cannot be written: a new folder is
    then removed again if it is empty. `progress` is called with (sweeps whose page is written, sweeps in all)."""
    is_new = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    try:
        return _written(shelf, folder, made_on, progress)
    except OSError:
        if is_new:
            with suppress(OSError):  # it holds something
                folder.rmdir()
        raise


def _written(shelf: Shelf, folder: Path, made_on: date | None, progress: Callable[[int, int], None] | None) -> tuple[Path, ...]:
    sweeps, beside_sweeps, n_sweeps = [], [], len(shelf.views)
    with shared_out((shelf, folder, made_on), processes=usable_cores() if n_sweeps > FEW_SWEEPS else 1) as each:
        for page, beside in each(_write_sweep, range(n_sweeps)[::-1]):  # the latest first
            sweeps.append(page)
            beside_sweeps = [*beside, *beside_sweeps]
            if progress:
                progress(len(sweeps), n_sweeps)
    others = []
    for title, name, text in _other_pages(shelf, made_on):
        write_page(for_harp_page(text, shelf.harp_option), folder / name)
        others.append((title, name))
    index = index_page(shelf.views[-1], _by_heading(sweeps, others, shelf.views[-1]), made_on=made_on, since=shelf.since)
    write_page(for_harp_page(index, shelf.harp_option), folder / HOME)
    return (folder / HOME, *(folder / name for _, name in (*sweeps, *others)), *beside_sweeps)


def _by_heading(sweeps: Sequence[tuple[str, str]], others: Sequence[tuple[str, str]], latest: SweepView
                ) -> dict[str, Sequence[tuple[str, str]]]:
    """The pages, each (title, file name), the new ones first."""
    lives = set(_lives(latest).values())
    return {"The latest sweep": sweeps[:1], "Strings that need attention": [page for page in others if page[1] in lives],
            "Over the months, and for the technician": [page for page in others if page[1] not in lives], "Earlier sweeps": sweeps[1:]}


def _write_sweep(job: tuple[Shelf, Path, date | None], place: int) -> tuple[tuple[str, str], list[Path]]:
    """Write page, picture, table and CSV of one sweep. Returns title and file name of its page, and the paths of the others."""
    shelf, folder, made_on = job
    view = shelf.views[place]
    nth = sum(one.date == view.date for one in shelf.views[:place + 1])  # of its day
    stem = f"sweep-{view.date.isoformat()}{f'-{nth}' if nth > 1 else ''}"
    since = shelf.since if view is shelf.views[-1] else ""
    text = sweep_page(sounds_where_needed(view), made_on=made_on, home=HOME, lives=_lives(shelf.views[-1]), since=since)
    write_page(for_harp_page(text, shelf.harp_option), folder / f"{stem}.html")
    picture, table, sheet = (folder / f"{stem}.{ending}" for ending in ("png", "txt", "csv"))
    save_harp(view, picture)
    console = HarpConsole(harp_option=shelf.harp_option, file=io.StringIO(), width=80, color_system=None)
    print_report(view, console, since=since)
    write_whole(console.file.getvalue().encode("utf-8"), table)
    write_whole(sweep_csv(view).encode("utf-8"), sheet)
    title = f"Sweep of {view.day}{f', number {nth} of that day' if nth > 1 else ''}: {view.headline}"
    return (title, f"{stem}.html"), [picture, table, sheet]


def sounds_where_needed(view: SweepView) -> SweepView:
    """The view with sounds only of strings that need attention."""
    kept = {one.name for one in view.attention}
    strings = tuple(one if one.name in kept else replace(one, clip_now=None, clip_fresh=None) for one in view.strings)
    return replace(view, strings=strings)


def _lives(latest: SweepView) -> dict[str, str]:
    """By string, the file with its life, of those that have one."""
    return {one.name: _life_name(one, latest) for one in (*latest.attention, *latest.still_standing)}


def _other_pages(shelf: Shelf, made_on: date | None) -> Iterator[tuple[str, str, str]]:
    """Title, file name and text of each page that is no sweep's own."""
    latest, log = shelf.views[-1], shelf.log
    lives = _lives(latest)
    if len(shelf.views) > 1:
        compared = comparison_view(*shelf.views[-2:], shelf.between, log=shelf.fittings if log is None else log)
        title = f"{compared.before.day} and {compared.after.day} compared"
        yield title, "compare.html", comparison_page(compared, made_on=made_on, home=HOME, lives=lives)
    for one in (*latest.attention, *latest.still_standing):
        own = log if log is None else [fitting for fitting in log if fitting.string == one.name]
        life = life_view(latest, one.name, today=shelf.today, log=own)
        yield f"The life of {one.title}", lives[one.name], life_page(life, made_on=made_on, home=HOME)
    if shelf.conditions:
        span = (min(one.date for one in shelf.conditions), max(one.date for one in shelf.conditions))
        season = season_view(latest.harp, latest.instrument, shelf.conditions, fittings=shelf.fittings, span=span, today=shelf.today)
        yield f"Season, {season.title}", "season.html", season_page(season, made_on=made_on, home=HOME, lives=lives)
    concerned = technician_view(latest, concerns=shelf.concerns, log=log, events=shelf.events, today=shelf.today)
    yield "For the technician", "technician.html", technician_page(concerned, made_on=made_on, home=HOME)


def _life_name(one: StringView, view: SweepView) -> str:
    """From the string's name, with its place where another string's file would have the same name."""
    names = [anchor(other).partition("-")[2].casefold() for other in view.strings]
    name = anchor(one).partition("-")[2]
    return f"string-{name}.html" if name and names.count(name.casefold()) == 1 else f"string-{anchor(one)}.html"
