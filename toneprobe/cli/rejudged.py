"""How far it is while sweeps are judged again, and which verdicts changed with what was just told."""

from __future__ import annotations

from datetime import date
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING

from toneprobe.cli.screen import progress
from toneprobe.cli.table import print_paragraph
from toneprobe.days import day_text
from toneprobe.phrases import listed
from toneprobe.report.glossary import verdict_word

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.judging.verdicts import JudgedAgain


judging_shown = partial(progress, "Judging sweeps again")


def tell_rejudged(console: Console, judged: JudgedAgain) -> None:
    """A line for each sweep, or for several one after the other in which the same changed; none where no verdict did."""
    told: dict[date, str] = {}
    for one in judged.changed:
        words = f"{one.string} {verdict_word(one.now)} (was {verdict_word(one.before)})"
        told[one.day] = f"{told[one.day]}, {words}" if one.day in told else words
    for words, alike in groupby(told, key=told.__getitem__):
        days = list(alike)
        which = (f"The sweep of {day_text(days[0])}" if len(days) == 1
                 else f"The sweeps of {len(days)} days from {day_text(days[0])} to {day_text(days[-1])}")
        print_paragraph(console, f"{which}, judged again: {words}.")
    if judged.damaged:
        which = f"Sweep{'s' if len(judged.damaged) > 1 else ''} {listed([str(number) for number in judged.damaged])}"
        print_paragraph(console, f"{which} could not be judged again, because something in the book is damaged. To see what: toneprobe "
                                 f"report --sweep {judged.damaged[0]}")
