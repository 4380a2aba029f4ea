"""An octave too high or too low, told by the partials that an event brought: lines put where a stiff string has them (Fletcher 1964)."""

import numpy as np
import pytest

from toneprobe.identify.likeness import NewLines
from toneprobe.identify.octave import apart_cents, is_octave_above, is_octave_below

PITCH_HZ, B = 220.0, 2e-4
ALL, EVEN, ODD = range(1, 13), (2, 4, 6, 8, 10, 12), (1, 3, 5, 7, 9, 11)


def partial_hz(n, f1_hz=PITCH_HZ, b=B):
    return f1_hz * n * np.sqrt((1.0 + b * n**2) / (1.0 + b))


def brought(says_db, *, f1_hz=PITCH_HZ, b=B, cents=0.0, hidden_hz=()):
    """Lines at the partials of a string, by number, that stand out by so much; what rang before covers 20 Hz about each of hidden_hz."""
    n = np.array(sorted(says_db))
    hz = partial_hz(n, f1_hz, b) * 2.0 ** (cents / 1200.0)
    hidden = np.zeros(3000, bool)  # a bin every 2 Hz
    for one_hz in hidden_hz:
        hidden[round(0.5 * one_hz) - 5 : round(0.5 * one_hz) + 5] = True
    return NewLines(hz, np.array([float(says_db[k]) for k in n]), 3.0, 1.0, hidden, 2.0)


@pytest.mark.parametrize(("says_db", "hidden", "is_above"), [
    (dict.fromkeys(EVEN, 30), (), True),  # an octave higher every partial is an even one
    (dict.fromkeys(ALL, 30), (), False),
    (dict.fromkeys(range(2, 13), 30), (), False),  # the fundamental alone is missing: so it is with small recorders
    (dict.fromkeys(range(3, 13), 30), (), False),
    (dict.fromkeys(ODD, 30), (), False),  # plucked in the middle of the string
    (dict.fromkeys(EVEN, 30) | {3: 12, 5: 12}, (), True),  # 24 of 180 dB: a seventh and less is chance
    (dict.fromkeys(EVEN, 30) | {3: 20, 5: 20}, (), False),
    ({2: 30, 4: 30}, (), False),  # two are few
    ({2: 30, 4: 30, 6: 30}, (), True),
    ({2: 30, 4: 30, 7: 8}, (), False),
    ({2: 30, 4: 30, 6: 30}, (1,), False),  # but two of the odd ones could have been heard; above the sixth nothing was brought
    (dict.fromkeys(EVEN, 30), (1, 3), True),  # here four others could
    (dict.fromkeys(EVEN, 30), ODD, False),
    ({}, (), False),
])
def test_the_even_partials_alone_are_a_string_an_octave_above(says_db, hidden, is_above):
    lines = brought(says_db, cents=4.0, hidden_hz=[partial_hz(n) for n in hidden])
    assert is_octave_above(lines, PITCH_HZ, B) == is_above


def test_odd_partials_beyond_what_a_recording_carries_are_not_missing():
    short = brought(dict.fromkeys((2, 4, 6), 30))
    cut = NewLines(short.freq_hz, short.salience_db, 3.0, 1.0, short.hidden[: int(0.5 * partial_hz(4))], 2.0)
    assert is_octave_above(short, PITCH_HZ, B) and not is_octave_above(cut, PITCH_HZ, B)


@pytest.mark.parametrize(("says_db", "is_below"), [
    (dict.fromkeys(ALL, 30), True),  # all partials of 110 Hz: every other one a string of 220 Hz has not
    (dict.fromkeys(EVEN, 30), False),  # that string itself
    (dict.fromkeys(EVEN, 30) | {1: 35, 3: 35}, False),  # two are few
    (dict.fromkeys(EVEN, 10) | {1: 35, 3: 35}, False),  # however strong
    (dict.fromkeys(EVEN, 30) | {1: 35, 3: 35, 5: 35}, False),  # 105 of 180 dB
    (dict.fromkeys(EVEN, 30) | {1: 35, 3: 35, 5: 35, 7: 35}, True),
])
def test_every_other_partial_more_is_a_string_an_octave_below(says_db, is_below):
    lower = brought(says_db, f1_hz=0.5 * PITCH_HZ, b=0.25 * B, cents=-4.0)  # half the pitch, B ∝ 1/n² of its even partials (derived)
    assert is_octave_below(lower, PITCH_HZ, B) == is_below


@pytest.mark.parametrize("times", [2, 3])
@pytest.mark.parametrize("cents", [-6.0, 0.0, 0.3, 7.0])
def test_how_far_an_octave_or_a_twelfth_lies_from_the_lower_strings_partials(cents, times):
    lower = brought(dict.fromkeys(ALL, 30))
    upper = brought(dict.fromkeys(range(1, 7), 30), f1_hz=float(partial_hz(times)), b=times**2 * B, cents=cents)
    assert apart_cents(lower, upper, PITCH_HZ, B, times=times) == pytest.approx(cents, abs=0.05)


def test_loud_partials_say_more_of_that_than_faint_ones():
    """Six faint ones 8 cents off, as a neighbour's answers may lie, three loud ones on the octave."""
    lower, loud = brought(dict.fromkeys(range(1, 19), 30)), {1: 30, 2: 30, 3: 30}
    upper = brought(loud | dict.fromkeys(range(4, 10), 10), f1_hz=float(partial_hz(2)), b=4.0 * B)
    off = np.where(upper.salience_db < 20.0, 8.0, 0.0)
    upper = NewLines(upper.freq_hz * 2.0 ** (off / 1200.0), upper.salience_db, 3.0, 1.0, upper.hidden, 2.0)
    assert apart_cents(lower, upper, PITCH_HZ, B) == pytest.approx(0.0, abs=0.05)


def test_where_no_lines_are_shared_nothing_is_told_of_an_octave():
    lower, none = brought(dict.fromkeys(ODD, 30)), brought({})
    upper = brought(dict.fromkeys(range(1, 7), 30), f1_hz=float(partial_hz(2)), b=4.0 * B)
    assert apart_cents(lower, upper, PITCH_HZ, B) is None
    assert apart_cents(none, upper, PITCH_HZ, B) is None and apart_cents(lower, none, PITCH_HZ, B) is None
