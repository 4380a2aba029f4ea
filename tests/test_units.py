"""Units and names against ISO 16, definitions and the trade's string names."""

import math

import pytest

from toneprobe import units
from toneprobe.errors import UsageError
from toneprobe.instrument import load_instrument, preset_names


@pytest.mark.parametrize("note, freq_hz", [
    # derived from ISO 16:1975 (A4 = 440 Hz) and equal temperament
    ("C1", 32.703), ("C4", 261.626), ("G7", 3135.963), ("A4", 440.0),
    # the 4C string with its pedal up, in the middle and down: derived
    ("Cb4", 246.942), ("C#4", 277.183),
])
def test_notes_have_their_equal_tempered_frequency(note, freq_hz):
    assert units.hz_of_note(note) == pytest.approx(freq_hz, abs=1e-3)


def test_a4_moves_every_note():
    assert units.hz_of_note("A3", 442.0) == pytest.approx(221.0, abs=1e-9)  # an octave is 2:1


def test_cents_of_the_tolerance_of_a():
    # ISO 16 allows A = 440 ± 0.5 Hz (published in the law that adopts it); cents derived
    assert units.cents_between(440.5, 440.0) == pytest.approx(1.966, abs=1e-3)
    assert units.cents_between(439.5, 440.0) == pytest.approx(-1.968, abs=1e-3)
    assert units.shift_hz(440.0, 1200.0) == pytest.approx(880.0, abs=1e-9)  # definition: an octave
    assert units.shift_hz(440.0, units.cents_between(443.0, 440.0)) == pytest.approx(443.0, abs=1e-9)
    assert units.CENTS * math.log(2.0 ** (1.0 / 12.0)) == pytest.approx(100.0, abs=1e-9)  # definition: a semitone


def test_decay_time_by_definition():
    # T60 = ln(1000)·τ, with τ = 1/δ of one second: definition, figure published in the tables of room acoustics
    assert units.t60_of_decay(1.0) == pytest.approx(6.9078, abs=1e-4)
    # loss factor 1e-3 at 440 Hz: δ = π·f·η, T60 = 2.1988/(f·η) = 4.9973 s (definition)
    assert units.t60_of_decay(math.pi * 440.0 * 1e-3) == pytest.approx(4.9973, abs=1e-4)


@pytest.mark.parametrize("note, midi", [
    # MIDI standard: 60 is C4, 69 is A4; the rest by counting semitones
    ("C4", 60), ("A4", 69), ("G7", 103), ("C1", 24), ("Cb4", 59), ("B3", 59), ("B#3", 60), ("Bb3", 58), ("F##2", 43), ("Ebb4", 62),
    ("C-1", 0), ("C♭4", 59), ("F♯3", 54),
])
def test_notes_and_midi_numbers(note, midi):
    assert units.midi_of_note(note) == midi


@pytest.mark.parametrize(("read", "text"), [
    *((units.split_note, text) for text in ("", "H4", "C", "4", "C44", "Cx4", "C#b4", "C 4", "\n", "C" * 9999)),
    *((units.parse_string_name, text) for text in ("", "C", "44", "9C", "4H", "4Cb", "Cb4", "4 C", "-1C", "B9", "x\ny", "4C" * 5000)),
])
def test_what_is_no_note_and_what_no_string_name_is_refused_in_one_line(read, text):
    with pytest.raises(UsageError) as refusal:
        read(text)
    assert "\n" not in str(refusal.value) and len(str(refusal.value)) < 200


@pytest.mark.parametrize("string, note", [("4C", "C4"), ("3A", "A4"), ("0G", "G7"), ("7C", "C1"), ("0F", "F7"), ("1E", "E7"), ("1F", "F6"),
                                          ("5A", "A2"), ("5G", "G2"), ("2E", "E6")])  # common practice
def test_string_names_of_the_trade(string, note):
    assert units.note_of_string(string) == note
    assert units.string_of_note(note) == string


def test_string_order_inside_an_octave_is_e_to_f():
    steps = [units.step_of_note(units.note_of_string(f"3{letter}")) for letter in "EDCBAGF"]  # common practice
    assert steps == list(range(steps[0], steps[0] - 7, -1))
    assert units.note_of_step(units.step_of_note("Cb4")) == "C4"


@pytest.mark.parametrize("preset", preset_names())
def test_string_names_lead_back_over_all_presets(preset):
    for string in load_instrument(preset).strings:
        assert units.string_of_note(string.note) == string.name
        assert units.parse_string_name(string.name.lower()) == string.name


@pytest.mark.parametrize("text, string", [("4C", "4C"), (" 4c ", "4C"), ("00G", "0G"), ("C4", "4C"), ("d4", "4D"), ("E4", "4E")])
def test_names_that_cannot_be_mistaken(text, string):
    assert units.parse_string_name(text) == string


@pytest.mark.parametrize("octave", range(9))
@pytest.mark.parametrize("letter", "CDEFGAB")
def test_note_first_names_pass_only_where_both_readings_agree(letter, octave):
    text = f"{letter}{octave}"
    if text in ("C4", "D4", "E4"):  # common practice: the only notes whose number is the same in both systems
        assert units.parse_string_name(text) == f"{octave}{letter}"
        return
    with pytest.raises(UsageError) as refusal:
        units.parse_string_name(text)
    assert f"{octave}{letter}" in str(refusal.value) or text in ("F8", "G8", "A8", "B8")  # no string either way, as is tested below


def test_the_refusal_gives_both_readings():
    with pytest.raises(UsageError) as refusal:
        units.parse_string_name("C5")
    assert str(refusal.value) == "C5 can mean string 5C (sounds C3) or scientific C5, which is string 3C: write 5C or 3C"
    with pytest.raises(UsageError, match="string 5F .sounds F2. or scientific F5, which is string 2F"):
        units.parse_string_name("f5")


@pytest.mark.parametrize("text", [" C4 ", "C4 ", "\tC4"])
def test_blanks_about_a_name_do_not_count(text):
    """As a spreadsheet or a copied line has them."""
    assert units.parse_string_name(text) == "4C"
    assert units.parse_string_name(text.replace("C4", "3a")) == "3A"


@pytest.mark.parametrize(("note", "expected"), [("Cb4", "C♭4"), ("F#3", "F♯3"), ("A4", "A4"), ("Bbb2", "B♭♭2"), ("odd b", "odd b")])
def test_notes_are_written_as_musicians_do(note, expected):
    assert units.note_text(note) == expected


@pytest.mark.parametrize("name", ["8B", "8A", "8G", "8F", "9C"])
def test_no_string_lies_below_the_lowest(name):
    """Octaves run E D C B A G F from the top, so 8B to 8F lie below 8C, which is C0 (derived: 8 − 8)."""
    with pytest.raises(UsageError, match="0E at the top to 8C at the bottom"):
        units.parse_string_name(name)


@pytest.mark.parametrize(("name", "note"), [("0E", "E8"), ("0C", "C8"), ("0G", "G7"), ("8E", "E0"), ("8C", "C0")])
def test_the_highest_and_the_lowest_strings_have_their_notes(name, note):
    assert units.note_of_string(name) == note and units.string_of_note(note) == name


def test_notes_beyond_both_ends_are_no_strings():
    for note in ("F8", "A8", "C9"):  # F8 is the next above E8
        with pytest.raises(UsageError, match="outside the range of strings, 0E at the top to 8C at the bottom"):
            units.string_of_note(note)
    with pytest.raises(UsageError, match="is not a string name"):
        units.parse_string_name("F8")  # neither reading is a string: 8F lies too low, the note F8 too high
