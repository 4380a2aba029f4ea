"""What is said of a recording, and read again for the rows of single strings."""

from __future__ import annotations

from types import SimpleNamespace

from toneprobe.identify import Identification, Rejected
from toneprobe.remarks import hearing_remarks, rang_along
from toneprobe.segment import Span

SILENT = SimpleNamespace(quality=SimpleNamespace(warnings=("A hum.",)))


def remarks(*rejected):
    spans = tuple(Rejected(Span(onset_s, onset_s + 1.0, onset_s + 1.1), reason) for onset_s, reason in rejected)
    return hearing_remarks(SILENT, Identification((), (), spans), ())


def test_what_rang_along_is_said_once_with_every_string_that_it_cost():
    told = remarks((5.3, "0F and 5D sound at once"), (14.1, "1B and 5D sound at once"), (15.2, "1B and 5D sound at once"),
                   (20.0, "2C and 4C sound at once"), (30.0, "too quiet"))
    assert told == ("A hum.", "Left out, because 5D rang along: 0F at 5.3 s, 1B at 14.1 s and 15.2 s.",
                    "Left out, because 4C rang along: 2C at 20.0 s.", "Left out, because too quiet: the sound at 30.0 s.")


def test_it_is_read_again_as_it_was_written():
    """Also where many strings are concerned, and where an owner's names have blanks and commas."""
    lost = {**{f"{n}{letter}": "5D" for n in range(5) for letter in "CDE"}, "bass, the wound one": "top string"}
    told = remarks(*((float(place), f"{name} and {other} sound at once") for place, (name, other) in enumerate(lost.items())))
    assert rang_along(told) == lost


def test_books_written_earlier_are_understood():
    assert rang_along(["Left out, because 1B and 5D sound at once: the sounds at 14.1 s and 15.2 s."]) == {"1B": "5D"}
    assert rang_along(["A hum at 50 Hz.", "Left out, because too quiet: the sound at 5.3 s."]) == {}
