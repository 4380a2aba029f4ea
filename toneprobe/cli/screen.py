"""What a person sees while a command works and when it is done: words and tables on one stream, progress on standard error."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, TextIO

from toneprobe.exchange.life import life_document
from toneprobe.exchange.writing import write_json
from toneprobe.report.words import ordinary_signs
from toneprobe.typed import seen

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType, RenderResult

WIDTH = 80  # where the output is no terminal, or one that does not tell
LEVEL_WIDTH = 40  # characters of the level at full scale
TOO_LOUD = 0.98  # of full scale
HARP_OPTION: ContextVar[str] = ContextVar("harp_option", default="")  # of every command that is shown; "" where the book has one harp


def screen(*, machine_output: bool = False) -> Console:
    """Where words go: standard output, or standard error where that holds JSON or CSV."""
    from toneprobe.report.for_harp import HarpConsole

    stream = sys.stderr if machine_output else sys.stdout
    console = HarpConsole(harp_option=HARP_OPTION.get(), file=stream, width=None if stream.isatty() else WIDTH, highlight=False,
                          markup=False, emoji=False, soft_wrap=False)
    console.push_render_hook(_AsSeen())
    return console


def hand_out(json: str | None, kind: str, harp: str, **parts: object) -> Console:
    """Write the document of that kind (`exchange.life`) where --json asks for one. Returns where the words go."""
    if json:
        write_json(life_document(kind, harp, **parts), json)
    return screen(machine_output=json == "-")


class _AsSeen:
    """What is printed, without what a screen cannot show; where it has plain letters alone, "Cb4" and not a longer code for the flat."""

    def process_renderables(self, things: list[RenderableType]) -> list[RenderableType]:
        return [_Seen(thing) for thing in things]


@dataclass(frozen=True)
class _Seen:
    thing: RenderableType

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        from rich.segment import Segment

        for segment in console.render(self.thing, options):
            text = seen(segment.text) if segment.control is None else segment.text
            yield Segment(ordinary_signs(text) if options.ascii_only else text, segment.style, segment.control)


def line_width(terminal: TextIO) -> int:
    """Characters on a line of a terminal."""
    try:
        return os.get_terminal_size(terminal.fileno()).columns or WIDTH
    except (OSError, ValueError):  # it has no number, or none that can be asked
        return WIDTH


@contextmanager
def progress(label: str) -> Iterator[Callable[[int, int], None]]:
    """Yield a function (done, in all) that says on standard error how far it is; nothing is shown where that is no terminal."""
    with _changing_line() as show:
        yield lambda done, total: show(f"{label}: {done} of {total}")


@contextmanager
def level_meter() -> Iterator[Callable[[float, float], None]]:
    """Yield a function (seconds, peak from 0 to 1) that shows time and level on standard error, where that is a terminal."""
    with _changing_line() as show:
        yield lambda now_s, peak: show(_level_text(now_s, peak))


def _level_text(now_s: float, peak: float) -> str:
    minutes, seconds = divmod(int(now_s), 60)
    level = "=" * round(LEVEL_WIDTH * min(1.0, peak))
    return f"{minutes}:{seconds:02}  [{level:{LEVEL_WIDTH}}]{'  too loud' if peak > TOO_LOUD else ''}"


@contextmanager
def _changing_line() -> Iterator[Callable[[str], None]]:
    """Yield a function that writes one line of plain text over the last one; at the end it is wiped away."""
    terminal, shown = sys.stderr, ""

    def show(text: str) -> None:
        nonlocal shown
        text = text[: line_width(terminal) - 1]
        terminal.write(f"\r{text:{len(shown)}}")
        terminal.flush()
        shown = text

    if not terminal.isatty():
        yield lambda text: None
        return
    try:
        yield show
    finally:
        if shown:
            show("")
            terminal.write("\r")
            terminal.flush()
