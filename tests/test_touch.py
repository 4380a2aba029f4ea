"""What an event did to a string that rings: struck, stopped or neither. Signals of the formula; thresholds derived here."""

from __future__ import annotations

import numpy as np
import pytest
from formula_plucks import REGISTERS, render
from knocks import added, tick, wood

from toneprobe.touch import course_at, rise_db

RATE_HZ, LENGTH_S, AT_S = 44100, 4.0, 2.0


def ringing(name: str) -> tuple[np.ndarray, np.ndarray]:
    """A pluck and its ten lowest partials."""
    pluck = REGISTERS[name].pluck()
    return render(pluck, length_s=LENGTH_S, pre_s=0.0, snr_db=50.0, rate_hz=RATE_HZ), pluck.freq_hz[:10]


def read(sound: np.ndarray):
    return lambda start, stop: np.concatenate([np.zeros(max(0, -start)), sound[max(0, start):stop], np.zeros(max(0, stop - len(sound)))])


def course(sound: np.ndarray, partials_hz: np.ndarray, at_s: float = AT_S):
    return course_at(read(sound), rate_hz=RATE_HZ, at_s=at_s, partials_hz=partials_hz)


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
def test_a_string_that_rings_on_is_neither_struck_nor_stopped(name):
    sound, partials_hz = ringing(name)
    for what in (sound, added(sound, tick, [AT_S], peak=0.02 * np.abs(sound).max())):
        told = course(what, partials_hz)
        assert not told.is_struck and not told.is_stopped


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
def test_a_damped_string_is_stopped(name):
    sound, partials_hz = ringing(name)
    damped = sound.copy()
    damped[int(AT_S * RATE_HZ):] *= 10 ** (-20 / 20)
    assert course(damped, partials_hz).is_stopped and not course(damped, partials_hz).is_struck


@pytest.mark.parametrize("name", ["C2", "C4", "C5"])
@pytest.mark.parametrize("ringing_on", [True, False])
def test_a_new_pluck_strikes_it(name, ringing_on):
    sound, partials_hz = ringing(name)
    at = int(AT_S * RATE_HZ)
    again = 0.1 * sound if ringing_on else np.zeros_like(sound)  # what still rang; the finger stops it, then lets go
    again[at:] = sound[: len(sound) - at]
    assert course(again, partials_hz).is_struck


def test_how_loud_it_is_beside_what_rings():
    rng = np.random.default_rng(0)
    sound = rng.normal(0.0, 1e-3, 4 * RATE_HZ)
    sound[2 * RATE_HZ:] += rng.normal(0.0, 3e-3, 2 * RATE_HZ)
    assert rise_db(read(sound), rate_hz=RATE_HZ, at_s=2.0) == pytest.approx(10.0, abs=0.5)  # derived: 1 + 3² = 10 times the power
    assert abs(rise_db(read(sound), rate_hz=RATE_HZ, at_s=1.0)) < 0.5
    assert rise_db(read(np.zeros(RATE_HZ)), rate_hz=RATE_HZ, at_s=0.5) == 0.0


def test_the_input_stays_as_it_was():
    sound, partials_hz = ringing("C4")
    kept = sound.copy()
    course(added(sound, wood, [AT_S], peak=0.1), partials_hz)
    assert np.array_equal(sound, kept)
