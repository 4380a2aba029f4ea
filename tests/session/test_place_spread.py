"""Errors of a partial's row as they are told: the noise's, and what two plucks of one untouched string differ by."""

from dataclasses import replace

import pytest

from toneprobe.measure.figure import FIGURES, Figure, Partial, PluckMeasurement
from toneprobe.session.place_spread import covering_takes

CENTS = 1731.2  # per log ratio: 1200/ln 2 (derived)
FOURTH = Partial(4, 800.0, 0.001, -10.0, 60.0, None, None, 0.0, beat_hz=2.0, beat_depth_db=6.0, beat_se_hz=0.003, beat_depth_se_db=4.0)


def pluck(partial, pitch=None, ring_s=3.0):
    figures = {name: Figure(None, None, "not drawn") for name in FIGURES} | {"pitch_hz": pitch or Figure(None, None, "not drawn")}
    return PluckMeasurement("4G", "G3", 1.0, ring_s, 0.99, 60.0, **figures, partials=(partial,), flags=())


@pytest.mark.parametrize(("pitch", "ring_s", "cents"), [
    (None, 3.0, 0.677),  # derived: √((0.5·(1 + 200/800))² + (0.12·1731.2/800)²), half a cent and 0.12 Hz as measured on real plucks
    (Figure(200.0, 0.1), 3.0, 1.099),  # derived: and the pitch's 0.866 cents, 0.1 of 200 Hz, with it
    (None, 0.13, 2.253),  # derived: heard for 0.13 s alone, 1 Hz instead of 0.12
])
def test_the_place_is_told_with_what_plucks_differ_by(pitch, ring_s, cents):
    told = covering_takes(FOURTH, pluck(FOURTH, pitch, ring_s))
    assert told.freq_se_hz * CENTS / 800.0 == pytest.approx(cents, abs=0.001)


@pytest.mark.parametrize(("level_db", "t60_s", "cents"), [
    (-45.0, None, 1.277),  # derived: √((2·0.5·1.25)² + 0.26²), for 30 dB below what is not weak yet, 15 dB, double the first part
    (-15.0, None, 0.677),
    (-10.0, 0.5, 2.935),  # derived: √(0.625² + 0.26² + 2.855²): 0.6 of the line's width, δ/2π = ln 1000/0.5/2π = 2.199 Hz
])
def test_weak_partials_and_such_as_die_at_once_lie_less_surely(level_db, t60_s, cents):
    told = covering_takes(replace(FOURTH, level_db=level_db, t60_s=t60_s), pluck(FOURTH))
    assert told.freq_se_hz * CENTS / 800.0 == pytest.approx(cents, abs=0.002)


def test_noise_that_is_greater_than_that_is_what_is_told():
    noisy = replace(FOURTH, freq_se_hz=5.0)
    assert covering_takes(noisy, pluck(noisy)).freq_se_hz == pytest.approx(5.0, rel=0.01)  # derived: 0.3 Hz beside 5 add 0.2 %


def test_a_beat_is_told_with_a_fifth_of_its_rate_and_half_of_its_depth():
    told = covering_takes(FOURTH, pluck(FOURTH))
    assert told.beat_se_hz == pytest.approx(0.4, rel=1e-3)  # derived
    assert told.beat_depth_se_db == pytest.approx(5.0)  # derived: √(4² + 3²)
    still = replace(FOURTH, beat_hz=None, beat_depth_db=None, beat_se_hz=None, beat_depth_se_db=None)
    assert covering_takes(still, pluck(still)).beat_se_hz is None


def test_nothing_else_of_the_partial_changes():
    told = covering_takes(FOURTH, pluck(FOURTH))
    assert replace(told, freq_se_hz=0.001, beat_se_hz=0.003, beat_depth_se_db=4.0) == FOURTH
