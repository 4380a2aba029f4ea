"""Remake the samples in this folder from the demo: `python reports/remake.py`, about a minute.

A sample of each report, without sounds and with the pictures of the worst strings only, so that each file stays small. The demo gives the
same harp each time; what changes here shows what a change of the program does to what a player reads.
"""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from toneprobe.demo.year import live_year
from toneprobe.report.octaves import octave_views
from toneprobe.report.shelf import write_pages
from toneprobe.report.view import StringView, SweepView
from toneprobe.retelling import shelf_of

HERE = Path(__file__).parent
N_SHOWN = 4
KEPT = ("compare.html", "season.html", "technician.html")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        year = live_year(Path(folder) / "demo", tell=print)
        shelf = shelf_of(year.book, year.harp)
        views = [smaller(view) for view in shelf.views]
        pages = Path(folder) / "pages"
        write_pages(replace(shelf, views=views), pages)
        keep(pages, views[-1])


def smaller(view: SweepView) -> SweepView:
    shown = {one.name for one in view.attention[:N_SHOWN]}
    strings = tuple(replace(one, clip_now=None, clip_fresh=None) if one.name in shown else bare(one) for one in view.strings)
    return replace(view, strings=strings, octaves=octave_views(strings))


def bare(one: StringView) -> StringView:
    return replace(one, clip_now=None, clip_fresh=None, now=(), fresh=(), history=())


def keep(pages: Path, latest: SweepView) -> None:
    """The latest sweep's files, the pages over all sweeps, and one string's life."""
    last = max(path.stem for path in pages.glob("sweep-*.html"))
    chosen = {f"{last}{ending}": f"sweep{ending}" for ending in (".html", ".png", ".txt", ".csv")} | {name: name for name in KEPT}
    chosen[f"string-{latest.attention[0].name}.html"] = "string.html"
    for source, target in chosen.items():
        shutil.copyfile(pages / source, HERE / target)


if __name__ == "__main__":
    main()
