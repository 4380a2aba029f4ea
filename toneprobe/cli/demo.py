"""`toneprobe demo`: a made-up harp over a year, through the whole job, and how many of its faults were found."""

from __future__ import annotations

from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.report import write_report
from toneprobe.cli.screen import screen
from toneprobe.phrases import count_of

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.demo.score import Score


def demo(
    folder: Annotated[Path, typer.Argument(metavar="[FOLDER]", help="A new or empty folder for all of it.")] = Path("toneprobe-demo"),
) -> None:
    """Take a made-up harp through a year (a minute)."""
    from toneprobe.demo.year import live_year
    from toneprobe.report.tables import print_report
    from toneprobe.retelling import retell

    console = screen()
    console.print("A made-up harp of 47 strings, swept four times in a year. Its sound is computed, so that the truth is known.")
    year = live_year(folder, tell=lambda text: console.print(f"  {text}"))
    view = retell(year.book, year.records[-1], year.harp.name)
    written = [str(folder / name) for name in ("report.html", "harp.png", "sweep.csv")]
    for path in written:
        write_report(view, path)
    console.print()
    print_report(view, console)
    _print_scores(year.scores, console)
    console.print()
    for path in written:
        console.print(f"Written: {path}", soft_wrap=True)
    console.print(f"The book: toneprobe report --book {quote(str(folder / 'book'))}", soft_wrap=True)


def _print_scores(scores: tuple[Score, ...], console: Console) -> None:
    console.print("\nWhat was planted, and what was found")
    for score in scores:
        late = f", {len(score.seen)} of {len(score.on_the_way)} on the way seen" if score.on_the_way else ""
        console.print(f"  {score.day}: {len(score.found)} of {len(score.due)} bad strings named{_names(' - missed', score.missed)}{late}; "
                      f"{len(score.false_alarms)} false alarms among {score.n_judged} healthy strings judged"
                      f"{_names('', score.false_alarms)}{_names('; watched without need', score.false_watches)}")
    found, due, alarms = (sum(len(part) for part in parts) for parts in
                          zip(*((score.found, score.due, score.false_alarms) for score in scores), strict=True))
    console.print(f"Planted faults found: {found} of {due}. False alarms: {alarms}.")
    console.print(_how_counted(scores))


def _how_counted(scores: tuple[Score, ...]) -> str:
    """ "8 strings went bad, and each counts in every sweep since: 2 + 8 = 10." """
    n_due = [len(score.due) for score in scores if score.due]
    strings = count_of(len({name for score in scores for name in score.due}), "string")
    return f"{strings} went bad, and each counts in every sweep since: {' + '.join(map(str, n_due))} = {sum(n_due)}."


def _names(label: str, names: tuple[str, ...]) -> str:
    return f"{label} ({', '.join(names)})" if names else ""
