"""A check taken back with all that rests on it: all of it, or none. All values are made up."""

from datetime import date, datetime

import pytest

from toneprobe.book.entries import NewCheck
from toneprobe.book.pitch_checks import add_checks, pitch_checks
from toneprobe.errors import UsageError
from toneprobe.instrument import find_string, load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.settling import PitchReading
from toneprobe.upkeep.taking_back import take_back

HARP = load_instrument("pedal-47")
TODAY = date(2024, 6, 1)
MORNING, EVENING = datetime(2024, 5, 2, 9), datetime(2024, 5, 2, 18)


@pytest.fixture
def wren(book, harp):
    """Two checks of 3D on one day."""
    spec = find_string(HARP, "3D")
    for at, letter in ((MORNING, "a"), (EVENING, "b")):
        add_checks(book, harp.id, [NewCheck(PitchReading("3D", spec.note, at, Figure(spec.expected_hz, 0.1)), letter * 64)])
    return harp


def moments(book, harp):
    return [one.at for one in pitch_checks(book, harp.id)]


def test_one_check_is_taken_back_and_the_other_stays(book, wren):
    back = take_back(book, wren, MORNING, today=TODAY, why="the wrong string")
    assert moments(book, wren) == [EVENING]
    assert (back.done.strings, back.done.day, back.lost, back.bare, back.n_on) == (("3D",), MORNING.date(), (), (), 47)
    assert back.judged.changed == () and back.done.path.is_file()


def test_where_the_verdicts_cannot_be_made_anew_nothing_is_taken_back(book, wren, monkeypatch):
    def fails(*args, **more):
        raise RuntimeError("no power")

    monkeypatch.setattr("toneprobe.upkeep.taking_back.judge_again", fails)
    with pytest.raises(RuntimeError):
        take_back(book, wren, MORNING, today=TODAY)
    assert moments(book, wren) == [MORNING, EVENING]


def test_what_is_not_there_is_not_taken_back(book, wren):
    with pytest.raises(UsageError, match="there is no check of 2024-05-03 09:00"):
        take_back(book, wren, datetime(2024, 5, 3, 9), today=TODAY)
    with pytest.raises(UsageError, match="no sweep 7"):
        take_back(book, wren, 7, today=TODAY)
