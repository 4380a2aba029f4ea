"""Bend: nothing of a straight fall, less than nothing of two modes, and a cliff where noise is suppressed."""

import numpy as np
import pytest
from sounds import disturbances
from sounds.changed_plucks import measured
from sounds.formula_plucks import PRE_S, FormulaPluck, damped, render, time_grid_s

from toneprobe.measure.bend import fall_bend
from toneprobe.measure.envelope import Envelope, band, pluck_signal
from toneprobe.units import LN_1000

NOISE = 10 ** (-55 / 20)


def bend_of(sound: np.ndarray, *, rate_hz: int = 44100, pre_s: float = PRE_S) -> float | None:
    signal = pluck_signal(sound, rate_hz=rate_hz, pre_s=pre_s, f1_hz=440.0)
    return fall_bend(band(signal, 440.0, 100.0), start_s=0.01)


def tone(t60_s: float = 2.0, *, length_s: float = 3.0, noise: float = NOISE, rate_hz: int = 44100, pre_s: float = PRE_S,
         late_ratio: float = 0.0, late_t60_s: float = 8.0, beat_hz: float = 0.0, seed: int = 1) -> np.ndarray:
    time_s = time_grid_s(rate_hz, length_s, pre_s)
    sound = damped(time_s, 440.0, LN_1000 / t60_s)
    if late_ratio:
        sound = sound + damped(time_s, 440.0 + beat_hz, LN_1000 / late_t60_s, amplitude=late_ratio, phase=1.0)
    return sound + np.random.default_rng(seed).normal(0.0, noise, len(sound))


def bend_of_level(corners, *, noise_db=-60.0):
    """Of a level that runs straight between corners (s, dB), a hundred values a second, over noise."""
    level_db = np.interp(np.arange(round(100.0 * corners[-1][0])) / 100.0, *np.array(corners).T)
    return fall_bend(Envelope(10.0 ** (level_db / 20.0) + 0j, 100.0, 440.0, 0.0, 10.0 ** (noise_db / 10.0)), start_s=0.01)


def suppressed(sound: np.ndarray, *, least_db: float = -18.0) -> np.ndarray:
    return disturbances.suppressed(sound, 44100, sound[-5000:], least_db=least_db)


@pytest.mark.parametrize("t60_s", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("noise_db", [-70, -55, -40])
def test_a_straight_fall_does_not_bend(t60_s, noise_db):
    """Exponential: in dB a straight line (definition)."""
    assert bend_of(tone(t60_s, noise=10 ** (noise_db / 20), length_s=4.0)) == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize(("knee", "bend"), [((3.0, -15.0), 0.25), ((3.0, -45.0), 0.0), ((1.0, -45.0), -0.25)])
def test_a_fall_with_one_corner_bends_by_half_of_what_the_corner_is_off_the_line(knee, bend):
    """Sixty decibels in four seconds, the corner 0.5 of the drop above its line, on it, or below: the mean height of a triangle is half its
    own (derived)."""
    assert bend_of_level([(0.0, 0.0), knee, (4.0, -60.0), (5.0, -60.0)], noise_db=-65.9) == pytest.approx(bend, abs=0.01)


def test_a_fall_is_looked_at_from_its_greatest_value_on():
    """An answering string or two modes out of step let a partial swell first."""
    assert bend_of_level([(0.0, -20.0), (1.0, 0.0), (4.0, -60.0), (5.0, -60.0)], noise_db=-65.9) == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize(("corners", "is_told"), [
    ([(0.0, -34.0), (2.0, -70.0), (3.0, -70.0)], True), ([(0.0, -36.0), (2.0, -70.0), (3.0, -70.0)], False),  # 26 and 24 dB over the noise
    ([(0.0, 0.0), (3.0, -55.0)], True), ([(0.0, 0.0), (3.0, -53.0)], False),  # heard down to 5 dB and to 7 dB over it
    ([(0.09, -70.0), (0.1, 0.0), (0.15, 0.0), (0.16, -70.0), (1.0, -70.0)], True),
    ([(0.09, -70.0), (0.1, 0.0), (0.14, 0.0), (0.15, -70.0), (1.0, -70.0)], False),
])
def test_a_bend_is_told_of_what_stands_25_decibels_out_of_the_noise_and_falls_to_6(corners, is_told):
    """Set in the room; and of no fewer than six values."""
    assert (bend_of_level(corners) is not None) == is_told


def test_the_first_seconds_slope_against_the_whole_sees_no_cliff():
    """The naive way: a straight line through the first 20 dB against one through 40; suppression hardly changes either."""
    def line_db_per_s(sound, range_db):
        envelope = band(pluck_signal(sound, rate_hz=44100, pre_s=PRE_S, f1_hz=440.0), 440.0, 100.0)
        level_db = 20 * np.log10(np.abs(envelope.z) / np.abs(envelope.z).max())
        stop = int(np.argmax(level_db[20:] < -range_db)) + 20
        return np.polyfit(envelope.time_s[20:stop], level_db[20:stop], 1)[0]

    sound = suppressed(tone(2.0, length_s=4.0))
    assert line_db_per_s(sound, 40.0) / line_db_per_s(sound, 20.0) == pytest.approx(1.0, abs=0.1)
    assert bend_of(sound) > 0.05


def test_of_a_pluck_partials_of_one_mode_have_their_say_too():
    """They fall straight (derived); without them only the others, of which more are cut or disturbed, would tell of the recorder."""
    found = measured(render(FormulaPluck(880.0, 4e-4, t60_s=0.8, n_partials=4, loss_power=0.0), length_s=1.0), f1_hz=880.0)
    assert len(found.partials) == 4 and [one.bend for one in found.partials] == pytest.approx([0.0] * 4, abs=0.03)


def test_two_modes_grow_flatter():
    """Level 20·log(e^(−at) + r·e^(−bt)) over its chord from 0 to −50 dB: the mean height is −0.34 of the drop (derived: numerically)."""
    time_s = np.linspace(0.0, 8.0, 80_001)
    level_db = 20 * np.log10((np.exp(-LN_1000 / 0.5 * time_s) + 0.05 * np.exp(-LN_1000 / 8.0 * time_s)) / 1.05)
    fall = level_db[level_db > -50.0]
    truth = float((fall - np.linspace(0.0, fall[-1], len(fall))).mean() / -fall[-1])
    found = bend_of(tone(0.5, late_ratio=0.05, late_t60_s=8.0, noise=10 ** (-40 / 20), length_s=9.0))
    assert found == pytest.approx(truth, abs=0.08) and found < -0.2


@pytest.mark.parametrize("seed", range(3))
def test_suppression_makes_a_cliff(seed):
    plain = tone(2.0, length_s=4.0, seed=seed)
    for least_db in (-10.0, -18.0, -30.0):
        assert bend_of(suppressed(plain, least_db=least_db)) > bend_of(plain) + 0.035


@pytest.mark.parametrize("change", [lambda x: 0.01 * x, lambda x: -x,
                                    lambda x: np.r_[x, np.random.default_rng(5).normal(0.0, NOISE, 9999)]])
def test_volume_polarity_and_what_follows_do_not_count(change):
    sound = tone(1.0)
    assert bend_of(change(sound)) == pytest.approx(bend_of(sound), abs=0.015)


def test_time_shift_and_rate_do_not_count():
    before = bend_of(tone(1.0))
    assert bend_of(tone(1.0, pre_s=0.05), pre_s=0.05) == pytest.approx(before, abs=0.015)
    for rate_hz in (22050, 48000, 96000):
        assert bend_of(tone(1.0, rate_hz=rate_hz), rate_hz=rate_hz) == pytest.approx(before, abs=0.02)


@pytest.mark.parametrize("sound", [np.zeros(44100), np.random.default_rng(0).normal(0.0, 0.1, 44100), tone(20.0, noise=1e-6, length_s=1.0),
                                   tone(2.0, noise=0.5), tone(2.0, length_s=0.02)], ids=["silence", "noise", "cut short", "faint", "short"])
def test_what_is_not_heard_down_to_the_noise_tells_nothing(sound):
    assert bend_of(sound) is None


def test_the_input_stays_as_it_was():
    envelope = band(pluck_signal(tone(), rate_hz=44100, pre_s=PRE_S, f1_hz=440.0), 440.0, 100.0)
    before = envelope.z.copy()
    fall_bend(envelope, start_s=0.01)
    assert np.array_equal(envelope.z, before)
