"""Remarks as they are typed or pasted."""

import os

import pytest

from toneprobe.errors import UsageError
from toneprobe.typed import one_line, one_name, seen, typed_text


@pytest.mark.parametrize("text, line", [("two\nlines", "two lines"), ("no\u00a0break, tab\tand  more ", "no break, tab and more"),
                                        ("la « bémol » 👩\u200d🎤", "la « bémol » 👩\u200d🎤"), ("", "")])
def test_what_was_pasted_becomes_one_line(text, line):
    assert one_line(text) == line


@pytest.mark.parametrize("text", ["\x1b[31mred", "a bell\a", "back\b", "\u202emoor eht", "\u2067הערה\u2069"])
def test_what_moves_a_cursor_is_refused(text):
    with pytest.raises(UsageError, match="one line"):
        one_line(text)


@pytest.mark.parametrize(("reader", "most"), [(one_line, 5000), (one_name, 400)])
def test_what_is_typed_is_no_longer_than_what_is_imported(reader, most):
    """400 letters is the longest cell that `log import` takes, but for a remark (tests/notebook/test_notebook.py)."""
    assert len(reader("x" * most)) == most
    with pytest.raises(UsageError, match=f"has {most + 1} letters: {most} at most"):
        reader("x" * (most + 1))


def test_what_cannot_be_seen_is_left_out_and_all_else_stays():
    """Of UAX 9's signs those that turn all behind them; marks beside one letter (U+200F) and joined signs (U+200D) are part of a word."""
    assert seen("moved\u202e to \u2066the\u2069 hall\x1b[31m\x9b") == "moved to the hall[31m"
    for text in ("la « bémol » 👩\u200d🎤", "הערה\u200f!", "two\n\tlines", "no\u00a0break"):
        assert seen(text) == text


def test_letters_of_a_plain_locale_are_read_as_what_they_are():
    """Python hands over each octet beyond ASCII as a lone surrogate there (PEP 383); ö is C3 B6 in UTF-8 (RFC 3629), F6 in Latin-1."""
    assert one_line("nach K\udcc3\udcb6ln") == "nach Köln" == typed_text("nach Köln")
    with pytest.raises(UsageError, match="not written in UTF-8") as caught:
        one_line("nach K\udcf6ln")
    assert str(caught.value).isprintable() and os.fsencode("K\udcf6ln") == b"K\xf6ln"
