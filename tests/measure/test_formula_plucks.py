"""The test signals first: what the other tests call the truth."""

import numpy as np
import pytest
from sounds.formula_plucks import PRE_S, REGISTERS, FormulaPluck, damped, render, time_grid_s

from toneprobe.units import hz_of_note

RATE_HZ = 44100


def obeys_recurrence(samples: np.ndarray, freq_hz: float, delta: float) -> bool:
    """Every damped cosine has x[k+1] = 2·q·cos(ω)·x[k] − q²·x[k−1] with q = exp(−δ/fs), ω = 2πf/fs (derived)."""
    q, omega = np.exp(-delta / RATE_HZ), 2.0 * np.pi * freq_hz / RATE_HZ
    foretold = 2.0 * q * np.cos(omega) * samples[1:-1] - q**2 * samples[:-2]
    return bool(np.abs(samples[2:] - foretold).max() < 1e-9)


@pytest.mark.parametrize("freq_hz, tau_s", [(32.703, 3.0), (440.0, 0.5), (3135.963, 0.03)])
def test_a_tone_has_the_frequency_and_decay_that_it_says(freq_hz, tau_s):
    time_s = np.arange(RATE_HZ) / RATE_HZ
    tone = damped(time_s, freq_hz, 1.0 / tau_s, phase=0.7)
    assert obeys_recurrence(tone, freq_hz, 1.0 / tau_s)
    assert not obeys_recurrence(tone, freq_hz * 2 ** (0.5 / 1200), 1.0 / tau_s)  # half a cent off is told
    assert tone[0] == pytest.approx(np.cos(0.7))


def test_a_tone_with_an_end_point_is_flat():
    """0.8 cents at 50 ms (derived: 1200·log2(2205 / 2204)): why the time grid has none."""
    n = round(0.05 * RATE_HZ)
    tone = damped(np.linspace(0.0, 0.05, n), 440.0, 2.0)
    assert not obeys_recurrence(tone, 440.0, 2.0)
    assert obeys_recurrence(tone, 440.0 * n / (n - 1), 2.0 * n / (n - 1))
    assert 1200 * np.log2(n / (n - 1)) == pytest.approx(0.785, abs=1e-3)


def test_the_onset_lies_where_it_says():
    time_s = time_grid_s(RATE_HZ, 1.0)
    assert time_s[round(PRE_S * RATE_HZ)] == 0.0 and len(time_s) == round(PRE_S * RATE_HZ) + RATE_HZ
    sound = render(FormulaPluck(440.0), snr_db=None)
    assert not sound[: round(PRE_S * RATE_HZ)].any() and sound[round(PRE_S * RATE_HZ)] != 0.0


@pytest.mark.parametrize("n, freq_hz, above_cents", [  # derived from Fletcher, JASA 36 (1964) 203: plain steel, 1 mm, 620 mm
    (1, 261.6764, 0.336), (2, 523.6576, 1.344), (5, 1314.4647, 8.366), (10, 2666.5882, 32.990), (16, 4389.2207, 82.067)])
def test_partials_lie_where_fletcher_says(n, freq_hz, above_cents):
    f0_hz, gauge_m, length_m = 261.6256, 1e-3, 0.620
    tension = 7850 * np.pi / 4 * gauge_m**2 * (2 * length_m * f0_hz) ** 2
    b = np.pi**3 * 200e9 * gauge_m**4 / (64 * tension * length_m**2)  # 3.8847e-4
    pluck = FormulaPluck(f0_hz * np.sqrt(1 + b), b)
    assert pluck.freq_hz[n - 1] == pytest.approx(freq_hz, abs=1e-3)
    assert 1200 * np.log2(pluck.freq_hz[n - 1] / (n * f0_hz)) == pytest.approx(above_cents, abs=1e-3)


@pytest.mark.parametrize("snr_db", [20.0, 60.0])
def test_noise_is_as_strong_as_it_says(snr_db):
    pluck = FormulaPluck(440.0, t60_s=1e9, loss_power=0.0)  # never decays
    clean, noisy = render(pluck, snr_db=None)[1000:], render(pluck, snr_db=snr_db)[1000:]
    assert 10 * np.log10(np.mean(clean**2) / np.mean((noisy - clean) ** 2)) == pytest.approx(snr_db, abs=0.1)


def test_decay_over_the_whole_pluck():
    pluck = FormulaPluck(440.0, t60_s=2.0, n_partials=1)
    sound = render(pluck, length_s=2.0, snr_db=None)[round(PRE_S * RATE_HZ):]
    start, end = np.sqrt(np.mean(sound[:4410] ** 2)), np.sqrt(np.mean(sound[-4410:] ** 2))
    assert 20 * np.log10(start / end) == pytest.approx(60.0 * 1.9 / 2.0, abs=0.05)  # T60: 60 dB in 2 s, here over 1.9 s


def test_registers_are_tuned():
    for note, register in REGISTERS.items():  # ISO 16:1975, A4 = 440 Hz, equal temperament
        assert register.f1_hz == pytest.approx(hz_of_note(note), abs=1e-3)
    for note, freq_hz in (("C1", 32.703), ("C4", 261.626), ("G7", 3135.963)):
        assert REGISTERS[note].f1_hz == pytest.approx(freq_hz, abs=1e-3)


def test_the_same_pluck_comes_out_the_same():
    assert np.array_equal(render(FormulaPluck(440.0, seed=3)), render(FormulaPluck(440.0, seed=3)))
    assert not np.array_equal(render(FormulaPluck(440.0, seed=3)), render(FormulaPluck(440.0, seed=4)))
