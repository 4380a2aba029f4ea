"""What a person sees while a command works and when it is done: words and tables on one stream, progress on standard error."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console

WIDTH = 80  # where the output is no terminal


def screen(*, machine_output: bool = False) -> Console:
    """Where words go: standard output, or standard error where that holds JSON or CSV."""
    from rich.console import Console

    stream = sys.stderr if machine_output else sys.stdout
    return Console(file=stream, width=None if stream.isatty() else WIDTH, highlight=False, markup=False, emoji=False, soft_wrap=False)


@contextmanager
def progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """Yield a function (done, in all) that moves a bar on standard error; nothing is shown where that is no terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.description}", markup=False), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task(label, total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


@contextmanager
def level_meter() -> Iterator[Callable[[float, float], None]]:
    """Yield a function (seconds, peak from 0 to 1) that shows time and level on standard error, where that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn

    console = Console(stderr=True)
    columns = (TextColumn("{task.fields[time]}"), BarColumn(), TextColumn("{task.description}"))
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("", total=1.0, time="0:00")
        yield lambda now_s, peak: bar.update(task, completed=peak, time="{}:{:02}".format(*divmod(int(now_s), 60)),
                                             description="too loud" if peak > 0.98 else "")
