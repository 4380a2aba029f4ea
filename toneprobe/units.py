"""Units and names: frequency and cents, decay rate and time, note names and string names.

Plain floats in, plain floats out. Conventions used everywhere:
cents = 1200·log2(ratio); dB = 20·log10 of an amplitude ratio, 10·log10 of a power ratio;
δ = amplitude decay rate in 1/s, the amplitude runs as exp(−δ·t); τ = 1/δ; T60 = ln(1000)/δ, the time for 60 dB.
A logarithm of zero or less raises ValueError, as in `math`.

A note is written in scientific pitch ("C4" is middle C, MIDI 60), with b, bb, # or ##: "Cb4" is one semitone below C4 and sounds as B3.
A string is written octave first ("4C" is middle C). String octaves count down from the top of the harp and run E D C B A G F, so the
scientific octave of string octave n is 8 − n for C, D and E, and 7 − n for F, G, A and B: 0G is G7, 3A is A4, 7C is C1.
"""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from toneprobe.errors import UsageError, printable

if TYPE_CHECKING:
    import numpy as np

CENTS = 1200.0 / math.log(2.0)  # of one unit of the natural logarithm of a frequency ratio
SEMITONE_CENTS = 100.0  # of equal temperament
LN_1000 = math.log(1000.0)  # 60 dB as a natural logarithm of amplitude
DB_PER_NEPER = 60.0 / LN_1000
SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
LETTERS = "CDEFGAB"
SIGNS = str.maketrans({"b": "♭", "#": "♯"})
ACCIDENTALS = {"bb": -2, "b": -1, "": 0, "#": 1, "##": 2}
TOP_STRING, BOTTOM_STRING = "0E", "8C"  # E8, 5274 Hz, above every harp's 0G; and C0, 16 Hz, below every harp's 7C: no string lies beyond

_RANGE = f"{TOP_STRING} at the top to {BOTTOM_STRING} at the bottom"
_NOTE = re.compile(r"([A-Ga-g])(bb|b|##|#|)(-?[0-9])")
_STRING_FIRST = re.compile(r"0?([0-9])([A-Ga-g])")  # players also write 00G
_NOTE_FIRST = re.compile(r"([A-Ga-g])([0-9])")


def cents_between(freq_hz: float, reference_hz: float) -> float:
    """Distance of a frequency above (positive) or below a reference, in cents."""
    return 1200.0 * math.log2(freq_hz / reference_hz)


def shift_hz(freq_hz: float | np.ndarray, cents: float | np.ndarray) -> float | np.ndarray:
    """The frequency in Hz that lies so many cents above `freq_hz`. Arrays of shapes that go together, or numbers."""
    return freq_hz * 2.0 ** (cents / 1200.0)


def t60_of_decay(decay_rate: float) -> float:
    """T60 in s of an amplitude decay rate δ in 1/s. ZeroDivisionError for a rate of 0: it never decays."""
    return LN_1000 / decay_rate


def split_note(note: str) -> tuple[str, str, int]:
    """Letter, accidental and scientific octave of a note: "Cb4" gives ("C", "b", 4). UsageError where it is no note."""
    text = note.strip().replace("♭", "b").replace("♯", "#")
    match = _NOTE.fullmatch(text)
    if match is None:
        raise UsageError(f"{printable(note, most=25)!r} is not a note: write letter, b or # where needed, octave, such as Cb4, F#3 or A4")
    return match[1].upper(), match[2], int(match[3])


def midi_of_note(note: str) -> int:
    letter, accidental, octave = split_note(note)
    return 12 * (octave + 1) + SEMITONES[letter] + ACCIDENTALS[accidental]


def note_text(note: str) -> str:
    """A note as musicians write it: "Cb4" gives "C♭4"."""
    return note.translate(SIGNS) if note[:1] in "CDEFGAB" else note


def hz_of_note(note: str, a4_hz: float = 440.0) -> float:
    """Equal-tempered frequency of a note in Hz."""
    return a4_hz * 2.0 ** ((midi_of_note(note) - 69.0) / 12.0)  # 69: the MIDI number of A4


def step_of_note(note: str) -> int:
    """Staff step, counting letters only: neighbouring strings are one apart, whatever their accidentals. C4 and Cb4 give 28."""
    letter, _, octave = split_note(note)
    return 7 * octave + LETTERS.index(letter)


def note_of_step(step: int) -> str:
    """The natural note of a staff step: 28 gives "C4"."""
    return f"{LETTERS[step % 7]}{step // 7}"


def is_string_name(text: str) -> bool:
    """Whether this is a harp string's name as written here, octave first: "4C", not "C4"."""
    match = _STRING_FIRST.fullmatch(text.strip())
    return match is not None and _is_a_string(match[2].upper(), int(match[1]))


def is_named_by_place(name: str, step: int) -> bool:
    """Whether a string is named by its own octave and letter as harps' are: 4D for D4. A guitar's 4D, its fourth string, is D3."""
    return is_string_name(name) and step_of_note(note_of_string(name)) == step


def note_of_string(string: str) -> str:
    """Scientific natural note of a string name: "4C" gives "C4", "0G" gives "G7". UsageError where it is no string name."""
    match = _STRING_FIRST.fullmatch(string.strip())
    if match is None:
        raise UsageError(_not_a_string(string))
    letter = match[2].upper()
    if not _is_a_string(letter, int(match[1])):
        raise UsageError(f"{printable(string, most=25)!r} is not a string name: strings go from {_RANGE}")
    return f"{letter}{_other_octave(letter, int(match[1]))}"


def string_of_note(note: str) -> str:
    """Name of the string with this letter and octave, whatever the accidental: "Cb4" gives "4C". UsageError where it is no note, or no harp
    has such a string."""
    letter, _, octave = split_note(note)
    string_octave = _other_octave(letter, octave)
    if not _is_a_string(letter, string_octave):
        raise UsageError(f"{printable(note, most=25)!r} lies outside the range of strings, {_RANGE}")
    return f"{string_octave}{letter}"


def octave_of_note(note: str) -> int:
    """Octave of that string, counted as harpists do: 3 for "A4"."""
    return int(string_of_note(note)[0])


def parse_string_name(text: str) -> str:
    """The string that a player means: "4c" gives "4C", "00G" gives "0G". UsageError with both readings for note-first names, except where
    both are one string (C4, D4, E4)."""
    stripped = text.strip()
    note_first = _NOTE_FIRST.fullmatch(stripped)
    if note_first:
        return _same_in_both_readings(note_first[1].upper(), int(note_first[2]))
    return string_of_note(note_of_string(stripped))


def _same_in_both_readings(letter: str, octave: int) -> str:
    other = _other_octave(letter, octave)
    if other == octave:
        return f"{octave}{letter}"
    written = f"{letter}{octave}"
    readings = {f"{octave}{letter}": f"string {octave}{letter} (sounds {letter}{other})",
                f"{other}{letter}": f"scientific {written}, which is string {other}{letter}"}
    readings = {name: meaning for name, meaning in readings.items() if is_string_name(name)}
    if not readings:
        raise UsageError(_not_a_string(written))
    raise UsageError(f"{written} can mean {' or '.join(readings.values())}: write {' or '.join(readings)}")


def _is_a_string(letter: str, string_octave: int) -> bool:
    """Octave 0 is the highest of strings and the lowest of scientific octaves: both exist from TOP_STRING to BOTTOM_STRING."""
    return string_octave >= 0 and _other_octave(letter, string_octave) >= 0


def _other_octave(letter: str, octave: int) -> int:
    """String octave of a scientific octave, and back: the rule is its own inverse."""
    return (8 if letter in "CDE" else 7) - octave


def _not_a_string(text: str) -> str:
    return f"{printable(text, most=25)!r} is not a string name: write octave, then letter, such as 4C for middle C or 0G for the top string"
