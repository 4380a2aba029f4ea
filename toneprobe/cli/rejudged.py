"""Which verdicts changed with what was just told, for commands after which sweeps are judged again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from toneprobe.cli.table import print_indented
from toneprobe.days import day_text

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.checkup import Rejudged


def tell_rejudged(console: Console, changed: Sequence[Rejudged]) -> None:
    """A line for each sweep, none where no verdict changed."""
    from toneprobe.report.glossary import verdict_word

    for day in dict.fromkeys(one.day for one in changed):
        words = (f"{one.string} {verdict_word(one.now)} (was {verdict_word(one.before)})" for one in changed if one.day == day)
        print_indented(console, f"The sweep of {day_text(day)}, judged again: {', '.join(words)}.", by=0)
