"""The family of errors that toneprobe raises on purpose.

Each message is one line, written for the player, and says what to do where something can be done.
The command line turns a `ToneprobeError` into that line and exit code 1, a `UsageError` into exit code 2.
"""


class ToneprobeError(Exception):
    """Something outside the program cannot serve; the message says what, in one line."""


class UsageError(ToneprobeError):
    """The request itself was wrong (an unknown string name, an unknown preset)."""


class InstrumentError(ToneprobeError):
    """An instrument file or preset that cannot be used."""


class RecordingError(ToneprobeError):
    """A recording that cannot be opened or cannot be measured."""


class BookError(ToneprobeError):
    """A book that is missing, damaged, locked or of a newer schema."""


class DamagedError(BookError):
    """A book in which something that is stored cannot be read."""

    def __init__(self, text: str, *, is_named: bool = False) -> None:
        super().__init__(text)
        self.is_named = is_named  # the sentence says what it is, and what to do


def printable(text: str, *, most: int | None = 80) -> str:
    """Text from outside (a file's name, what was typed, another program's words) as it can stand in a message: on one line, without what
    moves a screen's cursor, its middle left out beyond `most` letters."""
    line = "".join(letter if letter.isprintable() else " " if letter in "\n\t" else "?" for letter in text)
    if most is None or len(line) <= most:
        return line
    tail = most // 3
    return f"{line[:most - tail - 1]}…{line[-tail:]}"
