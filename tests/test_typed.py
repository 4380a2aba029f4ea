"""Remarks as they are typed or pasted."""

from __future__ import annotations

import pytest

from toneprobe.errors import UsageError
from toneprobe.typed import one_line


@pytest.mark.parametrize("text, line", [("two\nlines", "two lines"), ("no\u00a0break, tab\tand  more ", "no break, tab and more"),
                                        ("la « bémol » 👩\u200d🎤", "la « bémol » 👩\u200d🎤"), ("", "")])
def test_what_was_pasted_becomes_one_line(text, line):
    assert one_line(text) == line


@pytest.mark.parametrize("text", ["\x1b[31mred", "a bell\a", "back\b"])
def test_what_moves_a_cursor_is_refused(text):
    with pytest.raises(UsageError, match="one line"):
        one_line(text)
