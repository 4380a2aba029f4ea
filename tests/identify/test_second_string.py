"""Lines of one string or of two, put where stiff strings have them (Fletcher 1964), sum tones where Conklin (1999) found them."""

import numpy as np
import pytest

from toneprobe.identify.likeness import NewLines
from toneprobe.identify.together import second_string
from toneprobe.instrument import StringSpec, load_instrument, string_expected_b

NOTES = {"4C": ("C4", 261.626), "3G": ("G4", 391.995), "3B": ("B4", 493.883), "3C": ("C5", 523.251)}
HARP = tuple(StringSpec(name, note, hz, "gut") for name, (note, hz) in NOTES.items())
NAMED = HARP[0]


def partials_hz(spec, n=12):
    k, b = np.arange(1, n + 1), string_expected_b(spec)[0]
    return spec.expected_hz * k * np.sqrt((1.0 + b * k**2) / (1.0 + b))


def lines_at(*groups):
    """Groups of (Hz, dB), laid together; lines nearer than 8 Hz to a louder one are one with it."""
    rows = sorted(((hz, db) for group, db in groups for hz in group), key=lambda row: -row[1])
    kept = []
    for hz, db in rows:
        if all(abs(hz - other) > 8.0 for other, _ in kept):
            kept.append((hz, db))
    hz, db = np.array(sorted(kept)).T
    return NewLines(hz, db, 4.0, 1.0, np.zeros(10000, bool), 1.0)


def found(*groups, harp=HARP):
    other = second_string(lines_at(*groups), NAMED, NAMED.expected_hz, harp)
    return other.name if other else None


OWN = (partials_hz(NAMED), 30.0)


def test_a_string_that_sounds_alone_explains_its_lines():
    assert found(OWN) is None


@pytest.mark.parametrize("other", ["3G", "3B"])
@pytest.mark.parametrize("db", [30.0, 18.0])
def test_another_string_is_known_by_the_lines_that_are_left(other, db):
    spec = next(one for one in HARP if one.name == other)
    assert found(OWN, (partials_hz(spec), db)) == other
    assert found(OWN, (partials_hz(spec), db), harp=(NAMED,)) is None  # no string of this instrument


def test_where_nothing_was_brought_no_string_was():
    none = NewLines(np.zeros(0), np.zeros(0), 4.0, 0.0, np.zeros(10000, bool), 1.0)
    assert second_string(none, NAMED, NAMED.expected_hz, HARP) is None


def test_an_octave_shares_its_lines():
    assert found(OWN, (partials_hz(HARP[3]), 30.0)) is None


def test_an_octave_somewhat_out_of_tune_is_still_covered():
    """70 cents sharp its lines lie beside the others, and are those of no fourth or fifth."""
    assert found(OWN, (partials_hz(HARP[3]) * 2.0 ** (70.0 / 1200.0), 30.0), harp=(NAMED, HARP[3])) is None


@pytest.mark.parametrize("cents", [30.0, -30.0])
def test_a_false_strings_partials_are_its_own(cents):
    """Every third one 30 cents off, as no even string has them."""
    stray = OWN[0] * 2.0 ** (np.where(np.arange(12) % 3 == 2, cents, 0.0) / 1200.0)
    assert found((stray, 30.0)) is None


def test_sum_tones_of_its_partials_are_no_second_string():
    """Of a stiff treble string too, whose high partials they lie far below."""
    hz = OWN[0]
    assert found(OWN, (np.unique(np.add.outer(hz, hz)[np.triu_indices(12)]), 28.0)) is None
    harp = load_instrument("pedal-47", tuning="naturals").strings
    for named in (one for one in harp if one.name in ("2C", "3C")):
        stiff, b = np.arange(1, 11), 2.0 * string_expected_b(named)[0]
        hz = named.expected_hz * stiff * np.sqrt((1.0 + b * stiff**2) / (1.0 + b))
        lines = lines_at((hz, 30.0), (np.unique(np.add.outer(hz, hz)[np.triu_indices(10)]), 28.0))
        assert second_string(lines, named, named.expected_hz, harp) is None


def test_lines_that_are_those_of_no_string_are_no_second_string():
    """A rail that rings: a free bar's modes, as 9, 25, 49, 81 and 121 (Euler and Bernoulli, from memory)."""
    assert found(OWN, (51.0 * np.array([9.0, 25.0, 49.0, 81.0, 121.0]) / 0.97, 30.0)) is None


def test_three_lines_left_are_a_few_resonances_of_the_body():
    third = partials_hz(HARP[1])
    alone = [hz for hz in third if np.abs(OWN[0] - hz).min() > 30.0]
    assert found(OWN, (alone[:3], 30.0)) is None and found(OWN, (alone[:4], 30.0)) == "3G"


def test_faint_lines_left_are_no_second_string():
    """Four of 3 dB beside twelve of 30 are 3 % of all that was brought; single real plucks leave up to 3.5 % so (measured)."""
    alone = [hz for hz in partials_hz(HARP[1]) if np.abs(OWN[0] - hz).min() > 30.0]
    assert found(OWN, (alone[:4], 3.0)) is None
