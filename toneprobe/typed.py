"""A remark that somebody typed: one line, with nothing in it that moves a screen's cursor."""

from __future__ import annotations

import unicodedata

from toneprobe.errors import UsageError


def one_line(text: str) -> str:
    """The text with every run of spaces and line ends as one space. UsageError where a control character is left in it."""
    line = " ".join(text.split())
    if any(unicodedata.category(letter) == "Cc" for letter in line):
        raise UsageError("a remark is one line of letters and signs: leave out what a screen cannot show")
    return line
