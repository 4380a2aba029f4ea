"""Text that somebody typed or a file is called by: a remark as one line, and what every database and reader can hold."""

from __future__ import annotations

import unicodedata

from toneprobe.errors import UsageError


def clean_text(text: str) -> str:
    """Text that every database, JSON reader and UTF-8 can hold; anything else (in odd file names) as a backslash escape."""
    return text.replace("\x00", "\\x00").encode("utf-8", "backslashreplace").decode("utf-8")


def one_line(text: str) -> str:
    """The text with every run of spaces and line ends as one space. UsageError where a control character is left in it."""
    line = " ".join(text.split())
    if any(unicodedata.category(letter) == "Cc" for letter in line):
        raise UsageError("a remark is one line of letters and signs: leave out what a screen cannot show")
    return line
