"""Where a pluck sinks among its steps, on waves made by hand: a sign that alternates under a straight fall of the level."""

import numpy as np
import pytest

from toneprobe.measure.figure import FIGURES, DampingLaw, Figure, Partial, PluckMeasurement, SharedRipple
from toneprobe.measure.steps import SUNK, is_too_low, sinks_at, without_ring

STEP, RATE_HZ, TAU_S = 2.0**-7, 8000.0, 0.5


def falling(n_steps, *, length_s=4.0, silence_s=0.0, added=0.0):
    """Rounded to whole steps, so many at its highest."""
    at = np.arange(int(length_s * RATE_HZ))
    wave = np.rint(n_steps * np.exp(-at / RATE_HZ / TAU_S)) * (-1.0) ** at
    return STEP * np.concatenate([np.zeros(int(silence_s * RATE_HZ)), wave]) + added


def sinks_s(samples, *, step=STEP):
    found = sinks_at(samples, rate_hz=RATE_HZ, step=step)
    return None if found is None else found / RATE_HZ


@pytest.mark.parametrize("n_steps", [20.0, 100.0, 280.0])
def test_a_pluck_sinks_where_it_is_lower_than_three_steps(n_steps):
    """What is rounded stands at three until it is two and a half steps high: at tau·ln(n/2.5) (derived). Told within a window of 30 ms."""
    assert 0.0 <= sinks_s(falling(n_steps)) - TAU_S * np.log(n_steps / 2.5) < 0.031


def test_what_falls_by_the_forty_decibels_of_a_decay_before_is_told_whole():
    """Three steps and 40 dB more are 300 (derived)."""
    assert sinks_s(falling(310.0)) is None and sinks_s(falling(290.0)) is not None


def test_steps_as_fine_as_noise_never_swallow_a_ring():
    """17 bits: finer than any recorder's noise (the room says so)."""
    fine = falling(100.0) / STEP
    assert sinks_s(fine * 2.0**-17, step=2.0**-17) is None and sinks_s(fine * 2.0**-16, step=2.0**-16) is not None


def test_what_ends_before_it_sinks_never_does():
    assert sinks_s(falling(100.0, length_s=1.5)) is None  # tau·ln(100/2.5) = 1.8 s


def test_silence_before_it_and_what_a_recorder_adds_do_not_count():
    plain = sinks_s(falling(100.0))
    assert sinks_s(falling(100.0, silence_s=0.3)) == pytest.approx(plain + 0.3)
    assert sinks_s(-falling(100.0, added=30.0 * STEP)) == plain


@pytest.mark.parametrize("n", [0, 1, 100])
def test_too_short_to_look_at(n):
    assert sinks_s(falling(100.0)[:n]) is None


@pytest.mark.parametrize(("n_steps", "is_low"), [(23.0, True), (24.0, False)])
def test_a_pluck_hardly_higher_than_its_steps_is_too_low(n_steps, is_low):
    """24, measured: of one of 12 the pitch is off, of 38 it is right."""
    assert is_too_low(falling(n_steps), step=STEP) == is_too_low(falling(n_steps, added=0.5), step=STEP) == is_low


def test_nothing_is_too_low():
    assert is_too_low(np.zeros(0), step=STEP)


def test_of_a_pluck_that_sinks_all_that_rests_on_its_fall_is_taken_and_nothing_else():
    known = dict.fromkeys(FIGURES, Figure(2.0, 0.1)) | {"beat_hz": Figure(None, None, "no beat: one mode")}
    partial = Partial(1, 440.0, 0.1, 0.0, 40.0, 3.0, 0.3, 0.5, beat_hz=1.0, late_t60_s=9.0, knee_s=1.0, early_t60_s=2.9, bend=0.1)
    whole = PluckMeasurement("3A", "A4", 0.0, 3.0, 1.0, 40.0, **known, partials=(partial,), flags=(), ripple=SharedRipple(),
                             damping=DampingLaw(1.0, 0.0, 0.0, 0.1, (1,), (0.0,)))
    told = without_ring(whole)
    lost = {name for name in FIGURES if getattr(told, name) != getattr(whole, name)}
    assert lost == {"t60_s", "beat_depth_db"} and told.t60_s == told.beat_depth_db == Figure(None, None, SUNK)
    assert told.damping is None and told.ripple is None
    assert told.partials == (Partial(1, 440.0, 0.1, 0.0, 40.0, None, None, 0.5),)
