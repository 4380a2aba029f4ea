"""Standard output and standard error, fit for what may become of them: closed from the start, or by a reader who has seen enough."""

import io
import os
import sys
from typing import TextIO


class GoesOn(io.FileIO):
    """A stream whose reader may leave, as in `toneprobe report | head -1`: further words go nowhere, and the command runs to its end."""

    is_lost = False  # whoever was told once that it cannot be written is not told again when the program ends

    def write(self, octets) -> int | None:
        if self.is_lost:
            return len(octets)
        try:
            return super().write(octets)
        except OSError as error:
            self.is_lost = True
            if not isinstance(error, BrokenPipeError):
                raise
            return len(octets)


def fit_streams() -> None:
    """Make both streams fit, in place."""
    sys.stdout, sys.stderr = (_going_on(stream) if stream else _nowhere() for stream in (sys.stdout, sys.stderr))
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="backslashreplace")  # a terminal that lacks a character shows its code


def _going_on(stream: TextIO) -> TextIO:
    if stream.isatty():
        return stream
    raw = GoesOn(stream.fileno(), "w", closefd=False)
    return io.TextIOWrapper(io.BufferedWriter(raw), encoding=stream.encoding, line_buffering=stream.line_buffering,
                            write_through=stream.write_through)


def _nowhere() -> TextIO:
    """For a stream that whoever started this had closed: what is asked for is done all the same."""
    return open(os.devnull, "w", encoding="utf-8")
