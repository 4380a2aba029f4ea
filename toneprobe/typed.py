"""Text that somebody typed, or a file's name: a remark as one line, and text that every database and reader can hold."""

import os
import unicodedata

from toneprobe.errors import UsageError, printable

# Unicode's embeddings, overrides and isolates (UAX 9), which change the order in which the rest of a line is shown
TURNING = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
LONGEST_NAME = 400  # letters of who sold a string, its batch or its material (set here)
LONGEST_REMARK = 5000  # letters: a long page (set here)
_UNSEEN = dict.fromkeys([*map(ord, TURNING), *(code for code in (*range(0x20), *range(0x7F, 0xA0)) if chr(code) not in "\n\t")])


def clean_text(text: str) -> str:
    """Text that every database, JSON reader and UTF-8 can hold; anything else (in odd file names) as a backslash escape."""
    return text.replace("\x00", "\\x00").encode("utf-8", "backslashreplace").decode("utf-8")


def typed_text(text: str) -> str:
    """Typed text, also where the locale is ASCII and UTF-8 letters come in as surrogate escapes. UsageError where they are not UTF-8."""
    if text.isascii() or not any("\udc80" <= letter <= "\udcff" for letter in text):
        return text
    try:
        return os.fsencode(text).decode("utf-8")
    except UnicodeError:
        raise UsageError(f"the letters of {printable(text)!r} are not written in UTF-8, as text must be: type them anew") from None


def reads_as(name: str) -> str:
    """One text for all names that look alike on a page: without regard to case, spaces and how accents are composed."""
    return unicodedata.normalize("NFC", " ".join(name.split())).casefold()


def seen(text: str) -> str:
    """The text without what a screen or page cannot show: control characters, and signs that turn the text after them."""
    return text if text.isprintable() else text.translate(_UNSEEN)


def one_line(text: str, *, most: int = LONGEST_REMARK) -> str:
    """The text with one space for every run of spaces and line ends. UsageError where it has a control character, a sign that turns the
    text after it, or more letters than `most`."""
    line = " ".join(typed_text(text).split())
    if any(unicodedata.category(letter) == "Cc" or letter in TURNING for letter in line):
        raise UsageError("a remark is one line of letters and signs: leave out what a screen cannot show")
    if len(line) > most:
        raise UsageError(f"{printable(line, most=25)!r} has {len(line)} letters: {most} at most are kept")
    return line


def one_name(text: str) -> str:
    """The same for who sold a string, its batch, its material: as long as `log import` takes it."""
    return one_line(text, most=LONGEST_NAME)
