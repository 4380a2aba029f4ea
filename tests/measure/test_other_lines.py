"""What else rings in a pluck, put there on purpose: each line must come back under its own name."""

from copy import deepcopy
from dataclasses import fields

import numpy as np
import pytest
from sounds.changed_plucks import RATE_HZ, measured
from sounds.formula_plucks import PRE_S, FormulaPluck, damped, render, time_grid_s

from toneprobe.measure.envelope import pluck_signal
from toneprobe.measure.other_lines import BODY, HUM, NOT_KNOWN, VOICE, other_lines
from toneprobe.measure.partials import follow_series
from toneprobe.measure.series import SKIP_S, Lines, Series, find_lines
from toneprobe.units import LN_1000

PLUCK = FormulaPluck(220.0, 4e-4, t60_s=4.0, n_partials=14)
LENGTH_S = 3.0
AMPLITUDE = float(PLUCK.amplitude[0])
F = PLUCK.freq_hz


def with_lines(*lines, pluck=PLUCK, rate_hz=RATE_HZ, late_s=0.0, change=lambda x: x):
    """lines: (Hz, amplitude relative to partial 1, T60 in s, inf for steady)."""
    time_s = time_grid_s(rate_hz, LENGTH_S) - late_s
    sound = render(pluck, length_s=LENGTH_S, snr_db=60, rate_hz=rate_hz, late_s=late_s)
    for hz, ratio, t60_s in lines:
        sound = sound + damped(time_s, hz, LN_1000 / t60_s, amplitude=ratio * AMPLITUDE, phase=1.0)
    return measured(change(sound), f1_hz=pluck.f1_hz, pre_s=PRE_S, rate_hz=rate_hz)


def near(found, hz):
    return [line for line in found.others if abs(line.freq_hz - hz) < 1.5]


@pytest.mark.parametrize(("line", "taken_for"), [
    ((F[2] + F[3], 0.1, 2.0), "sum tone of partials 3 and 4"),  # 20 cents under partial 7 (Conklin 1999)
    ((F[4] + F[5], 0.1, 1.5), "sum tone of partials 5 and 6"),
    ((250.0, 0.2, np.inf), HUM),
    ((3.2 * 220.0, 0.5, 0.12), BODY),
    ((F[1] + 4.0, 0.3, 3.0), "second voice of partial 2"),
    ((2.8 * 220.0, 0.2, 3.0), NOT_KNOWN),
])
def test_a_line_that_was_added_is_named(line, taken_for):
    found = with_lines(line)
    assert [one.taken_for for one in near(found, line[0])] == [taken_for], found.others
    assert found.inharmonicity.value == pytest.approx(PLUCK.b, rel=0.03)  # and it did not mislead the series
    after_skip_db = 20 * np.log10(line[1]) - 60.0 * SKIP_S / line[2]  # derived
    assert near(found, line[0])[0].level_db == pytest.approx(after_skip_db, abs=4.0)


THREE = ((F[2] + F[3], 0.1, 2.0), (F[1] + 4.0, 0.3, 3.0), (2.8 * 220.0, 0.2, 3.0))  # a sum tone, a second voice, one without a name
CHANGES = {
    "20 dB softer": {"change": lambda x: 0.1 * x},
    "other polarity": {"change": lambda x: -x},
    "later by a fraction of a sample": {"late_s": 0.37 / RATE_HZ},
    "22.05 kHz": {"rate_hz": 22050},
    "48 kHz": {"rate_hz": 48000},
    "digital silence after it": {"change": lambda x: np.concatenate([x, np.zeros(RATE_HZ)])},
}


@pytest.mark.parametrize("change", CHANGES)
def test_no_change_of_the_recording_counts(change):
    plain, after = with_lines(*THREE), with_lines(*THREE, **CHANGES[change])
    assert [line.taken_for for line in after.others] == [line.taken_for for line in plain.others] and len(after.others) == 3
    for one, other in zip(plain.others, after.others, strict=True):
        assert other.freq_hz == pytest.approx(one.freq_hz, abs=0.02)
        assert other.level_db == pytest.approx(one.level_db, abs=0.3)


def test_in_silence_nothing_is_named():
    assert measured(np.zeros(2 * RATE_HZ), f1_hz=220.0).others == ()


def test_the_lines_stay_as_they_were():
    second = damped(time_grid_s(RATE_HZ, LENGTH_S), F[2] + F[3], 3.0, amplitude=0.1 * AMPLITUDE)
    sound = render(PLUCK, length_s=LENGTH_S, snr_db=60) + second
    lines = find_lines(pluck_signal(sound, rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=220.0), Series(220.0, PLUCK.b))
    fit = follow_series(lines, Series(220.0, PLUCK.b))
    before = deepcopy(lines)
    other_lines(lines, fit.n, fit.line)
    assert all(np.array_equal(getattr(lines, one.name), getattr(before, one.name)) for one in fields(lines))


@pytest.mark.parametrize(("hz", "delta", "taken_for"), [
    (720.0, 0.1, HUM), (550.0, 0.1, HUM),  # the twelfth multiple of 60, and the eleventh of 50
    (780.0, 0.1, NOT_KNOWN),  # the thirteenth of 60, and none of 50
    (712.0, 0.1, NOT_KNOWN),  # as steady, but nowhere near a multiple
    (720.0, 1.5, NOT_KNOWN),  # there, but dying with the string
    (2411.0, 1.5, f"{VOICE} of partial 6"), (2414.0, 1.5, NOT_KNOWN),  # 12 Hz off at most …
    (406.0, 1.5, NOT_KNOWN), (404.0, 1.5, f"{VOICE} of partial 1"),  # … and 25 cents, 5.8 Hz there
])
def test_what_a_line_is_taken_for_by_its_place_and_decay(hz, delta, taken_for):
    """Beside the partials of a string of 400 Hz that dies at 1.5/s; mains hum stands at multiples of 50 or 60 Hz (definition)."""
    assert one_beside(400.0 * np.arange(1, 7), hz, delta).taken_for == taken_for


def one_beside(partials_hz, hz, delta=1.5):
    """What a line is taken for that rings beside partials that die at 1.5/s, as loud as they, two seconds long."""
    rows = sorted([(own_hz, 1.5) for own_hz in partials_hz] + [(hz, delta)])
    freq_hz, deltas = np.array(rows).T
    whole = np.ones(len(rows))
    lines = Lines(np.rint(freq_hz / partials_hz[0]).astype(int), freq_hz, deltas, whole, whole, 2.0 * whole, 1e-9 * whole, whole)
    found, = other_lines(lines, np.arange(1, len(partials_hz) + 1), np.flatnonzero(freq_hz != hz))
    return found


@pytest.mark.parametrize(("hz", "taken_for"), [
    (2007.0, "sum tone of partials 2 and 3"), (2013.0, "sum tone of partials 1 and 4"),  # the latter 11.8 Hz below partial 5 besides
    (2020.0, f"{VOICE} of partial 5"), (2000.0, NOT_KNOWN),  # 7 Hz off the nearest sum tone, of which 4.7 are allowed (4 cents and 0.3 Hz)
    (1201.8, f"{VOICE} of partial 3"),  # of partials 1 and 2, but there a sum tone and the partial cannot be told apart
])
def test_a_sum_tone_of_a_stiff_string_lies_below_the_partial_of_its_number(hz, taken_for):
    """f_n = n·400·√(1 + 0.001·n²): 400.2, 801.6, 1205.4, 1612.8, 2024.8 Hz (derived)."""
    assert one_beside(400.0 * np.arange(1, 6) * np.sqrt(1.0 + 1e-3 * np.arange(1, 6) ** 2), hz).taken_for == taken_for


def test_of_a_line_that_hardly_falls_no_decay_is_told():
    """Within its two seconds by less than 0.3 of the natural logarithm (set)."""
    partials_hz = 400.0 * np.arange(1, 7)
    assert one_beside(partials_hz, 712.0, 0.14).t60_s is None
    assert one_beside(partials_hz, 712.0, 0.16).t60_s == pytest.approx(LN_1000 / 0.16)


def test_where_nothing_else_rings_nothing_is_named():
    assert with_lines().others == ()


def test_a_partial_at_a_multiple_of_the_mains_is_the_strings_own():
    """G1 sounds at 49 Hz and 5D's second partial at 293.7; a string of 100 Hz has every partial there. It dies away, hum does not."""
    found = with_lines(pluck=FormulaPluck(100.0, 1e-5, t60_s=4.0, n_partials=14))
    assert len(found.partials) == 14 and found.others == ()


def test_missing_even_partials_leave_the_others_their_numbers():
    """Plucked at the middle a string has odd partials only (derived from the standing waves)."""
    found = with_lines(pluck=FormulaPluck(220.0, 4e-4, t60_s=4.0, n_partials=13, missing=(2, 4, 6, 8, 10, 12)))
    assert [one.n for one in found.partials] == [1, 3, 5, 7, 9, 11, 13]
    assert found.inharmonicity.value == pytest.approx(4e-4, rel=0.03) and found.others == ()


def test_a_clipped_pluck_names_nothing():
    from toneprobe.measure.refusal import without_spoilt

    assert without_spoilt(with_lines((F[1] + 4.0, 0.3, 3.0)), clipped_s=0.1, until_s=0.1).others == ()
