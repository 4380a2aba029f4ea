"""`toneprobe record`: a sweep from an input of this machine into the book's folder."""

from __future__ import annotations

from datetime import datetime
from shlex import quote
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.book.place import book_folder, require_book
from toneprobe.cli.options import BookOption
from toneprobe.cli.screen import level_meter, screen
from toneprobe.limits import LEAST_RATE_HZ, MOST_RATE_HZ

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.audio.microphone import Taken


def record(
    seconds: Annotated[float | None, typer.Option(metavar="S", min=1.0, help="Stop after so long; else Ctrl-C ends the recording.")] = None,
    device: Annotated[str | None, typer.Option(metavar="NAME|NUMBER", help="Which input; else the machine's default.")] = None,
    rate: Annotated[int | None, typer.Option(metavar="HZ", min=LEAST_RATE_HZ, max=MOST_RATE_HZ,
                                                help="Sample rate; else the input's own.")] = None,
    inputs: Annotated[bool, typer.Option("--inputs", help="List the inputs and stop.")] = False,
    book: BookOption = None,
) -> None:
    """Record a sweep; if it breaks off, what was heard is kept."""
    from toneprobe.audio.microphone import find_input, input_names
    from toneprobe.audio.microphone import record as take

    console = screen()
    if inputs:
        for name in input_names():
            console.print(name)
        return
    folder = require_book(book_folder(book)) / "recordings"
    source = find_input(device, rate)
    folder.mkdir(exist_ok=True)
    console.print(f"Recording from {source.name} at {source.rate_hz} Hz. Three seconds of silence first, then every string three times.")
    console.print("Ctrl-C ends the recording." if seconds is None else f"It ends after {seconds:g} s, or with Ctrl-C.")
    path = folder / f"{datetime.now():%Y-%m-%d-%H%M%S}.flac"
    with level_meter() as show:
        taken = take(source, path, is_over=lambda now_s: seconds is not None and now_s >= seconds, show=show)
    _tell(taken, console)


def _tell(taken: Taken, console: Console) -> None:
    from toneprobe.audio import open_recording

    console.print(f"Kept: {taken.path} ({taken.duration_s:.1f} s)", soft_wrap=True)
    if taken.ended not in ("asked", "interrupted"):
        console.print(f"Note: {taken.ended}")
    if taken.n_gaps:
        console.print(f"Note: sound is missing in {taken.n_gaps} places, where this machine was too slow: close other programs.")
    for remark in open_recording(taken.path).remarks:
        console.print(f"Note: {remark.text}")
    console.print(f"Next: toneprobe sweep {quote(str(taken.path))}", soft_wrap=True)
