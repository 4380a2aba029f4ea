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
