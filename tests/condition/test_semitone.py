"""Strings a semitone off the others, and which of them a lever, a disc or the key may explain."""

import pytest

from toneprobe.condition.semitone import _semitones
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.units import hz_of_note

NOTES = ("E5", "D5", "C5", "B4", "A4", "G4", "F4", "E4", "D4", "C4", "B3", "A3")


def told(off, *, by_hand=(), level=0.0, n=12):
    """Of strings named by their notes, those off the others' level by so many cents; `by_hand`: strings without mechanism."""
    specs = tuple(StringSpec(note, note, hz_of_note(note), "gut", mechanism=note not in by_hand) for note in NOTES)
    cents = {note: level + off.get(note, 0.0) for note in NOTES[:n]}
    return _semitones(cents, Instrument("Wren", 440.0, None, specs))


@pytest.mark.parametrize("level", [0.0, -40.0, 97.0])
@pytest.mark.parametrize(("cents", "is_told"), [(100.0, True), (-100.0, True), (92.0, True), (-108.0, True), (85.0, False), (-115.0, False),
                                                (200.0, False), (0.0, False)])
def test_a_semitone_is_one_within_what_levers_are_regulated_to(cents, is_told, level):
    """Ten cents (set); against the middle string, wherever the harp lies."""
    found = told({"A4": cents}, level=level)
    assert found == (pytest.approx({"A4": cents}) if is_told else {})


def test_a_string_set_by_hand_slips_alone_and_follows_a_key_with_its_letter():
    assert told({"A4": -100.0}, by_hand=("A4", "A3")) == {}
    assert set(told({"A4": -100.0, "A3": -101.0}, by_hand=("A4", "A3"))) == {"A4", "A3"}
    assert told({"A4": -100.0, "A3": 101.0}, by_hand=("A4", "A3")) == {}  # one each way is no key
    assert set(told({"A4": -100.0, "E4": -101.0}, by_hand=("A4",))) == {"E4"}  # another letter's


def test_where_no_string_has_a_mechanism_there_is_no_key_to_follow():
    assert told({"A4": -100.0, "A3": -101.0}, by_hand=NOTES) == {}


def test_of_few_strings_none_tells_where_the_harp_lies():
    """The notes themselves are the level then."""
    assert told({"D5": 97.0}, n=2, level=3.0) == pytest.approx({"D5": 100.0})
    assert set(told({}, n=2, level=100.0)) == {"E5", "D5"} and told({}, n=3, level=100.0) == {}
