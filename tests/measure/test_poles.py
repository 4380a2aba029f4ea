"""Damped exponentials: found exactly, and in noise as well as physics allows."""

import bound
import numpy as np
import pytest

from toneprobe.measure.envelope import band, pluck_signal
from toneprobe.measure.poles import find_poles

RATE_HZ = 500.0


def ringing(*modes, length_s: float = 2.0, noise: float = 0.0, seed: int = 0) -> np.ndarray:
    """Σ a·exp((2πif − δ)t) of (a, f, δ), and complex white noise of that standard deviation."""
    time_s = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    z = sum(a * np.exp((2j * np.pi * freq_hz - delta) * time_s) for a, freq_hz, delta in modes)
    parts = np.random.default_rng(seed).normal(0.0, noise / np.sqrt(2), (2, len(time_s)))
    return z + parts[0] + 1j * parts[1]


@pytest.mark.parametrize("freq_hz", [-160.0, -3.3, 0.0, 0.013, 88.8])
@pytest.mark.parametrize("delta", [0.1, 1.0, 8.0])  # over 2 s
def test_one_without_noise_is_found_exactly(freq_hz, delta):
    (pole,) = find_poles(ringing((0.5 * np.exp(0.8j), freq_hz, delta)), rate_hz=RATE_HZ, n_poles=1)
    assert pole.freq_hz == pytest.approx(freq_hz, abs=1e-6)
    assert pole.delta == pytest.approx(delta, rel=1e-4)
    assert pole.amplitude == pytest.approx(0.5 * np.exp(0.8j), rel=1e-4)
    expected = 0.25 * -np.expm1(-4.0 * delta) / (2 * delta)  # ∫|a·exp(−δt)|² dt over 2 s
    assert pole.energy == pytest.approx(expected, rel=0.02)


# Noise relative to the start of the tone; largest error of 20 draws, Hz and 1/s: 3.3 deviations of the Cramér–Rao bound.
@pytest.mark.parametrize("noise, allowed_hz, allowed_delta", [(1e-3, 4.7e-5, 2.95e-4), (1e-2, 4.7e-4, 2.95e-3), (1e-1, 4.7e-3, 2.95e-2)])
def test_one_in_noise(noise, allowed_hz, allowed_delta):
    delta = 1.0
    bound_delta = 2.0 * noise * np.sqrt(delta**3 / RATE_HZ)  # long record, one complex exponential; that of ω is the same (derived)
    assert allowed_delta == pytest.approx(3.3 * bound_delta, rel=0.01)
    assert allowed_hz == pytest.approx(3.3 * bound_delta / (2 * np.pi), rel=0.01)
    sounds = [ringing((1.0, 12.3, delta), length_s=5.0, noise=noise, seed=seed) for seed in range(20)]
    found = [find_poles(z, rate_hz=RATE_HZ, n_poles=1)[0] for z in sounds]
    assert max(abs(pole.freq_hz - 12.3) for pole in found) < allowed_hz
    assert max(abs(pole.delta - delta) for pole in found) < allowed_delta
    spectrum = np.abs(np.fft.fft(sounds[0][:-7]))  # the naive way, the highest bin, misses it
    assert abs(np.fft.fftfreq(len(spectrum), 1 / RATE_HZ)[spectrum.argmax()] - 12.3) > allowed_hz


def test_two_apart_are_told_and_two_together_are_one():
    far = find_poles(ringing((1.0, 10.0, 1.0), (0.3, 25.0, 4.0)), rate_hz=RATE_HZ, n_poles=2)
    assert [round(pole.freq_hz, 1) for pole in far] == [10.0, 25.0]
    assert [pole.delta for pole in far] == pytest.approx([1.0, 4.0], rel=0.05)
    near = find_poles(ringing((1.0, 10.0, 1.0), (0.5, 10.1, 1.0)), rate_hz=RATE_HZ, n_poles=1)  # 0.1 Hz apart over 2 s
    assert near[0].freq_hz == pytest.approx(10.03, abs=0.03)  # near their mean, weighed by amplitude


def test_silence_has_no_energy():
    assert all(pole.energy == 0.0 for pole in find_poles(np.zeros(100, complex), rate_hz=RATE_HZ, n_poles=2))


@pytest.mark.parametrize("n", [0, 1, 7])
def test_too_short_gives_none(n):
    assert find_poles(np.ones(n, complex), rate_hz=RATE_HZ, n_poles=1) == []


def test_the_input_stays_as_it_was():
    z = ringing((1.0, 10.0, 1.0))
    before = z.copy()
    find_poles(z, rate_hz=RATE_HZ, n_poles=3)
    assert np.array_equal(z, before)


# The bound itself

def test_bound_for_a_long_record():
    # derived (checked by Fisher matrix and Monte Carlo elsewhere): σ_f = (2/π)·√(δ³/fs)·σ/A, σ_T60/T60 = 4·√(δ/fs)·σ/A
    cell = bound.Cell(440.0, 0.5, 40.0, 8000)
    limit = bound.cramer_rao(cell, length_s=3.0)
    assert limit.freq_hz == pytest.approx(1.42e-4, rel=0.01)
    assert limit.decay_share(cell) == pytest.approx(4.5e-4, rel=0.01)
    sigma_over_a = np.sqrt(0.5e-4)
    assert limit.freq_hz == pytest.approx(2 / np.pi * np.sqrt(2.0**3 / 8000) * sigma_over_a, rel=0.01)


@pytest.mark.parametrize("lengths, factor", [(0.5, 4.46), (1.0, 2.05), (2.0, 1.21), (3.0, 1.05), (5.0, 1.00)])  # derived
def test_bound_against_record_length(lengths, factor):
    cell = bound.Cell(440.0, 0.5, 40.0, 8000)
    short, long = (bound.cramer_rao(cell, length_s=length_s).delta for length_s in (0.5 * lengths, 10.0))
    assert short / long == pytest.approx(factor, rel=0.01)


def test_a_partial_in_noise_is_measured_at_the_bound():
    """Standard deviations within 1.5 × the Cramér–Rao bound, bias below a third of it; the whole table: tests/benchmarks/bound.py."""
    for cell in bound.QUICK_CELLS[1:]:
        row = bound.run(cell, n_runs=25)
        for errors, limit in ((row.pitch_cents, row.bound.pitch_cents(cell)), (row.decay_share, row.bound.decay_share(cell))):
            assert len(errors) == 25
            assert np.std(errors) < 1.5 * limit
            assert abs(np.mean(errors)) < limit / 3 + 2 * limit / np.sqrt(25)


def test_a_line_through_the_levels_is_not_at_the_bound():
    def dumb(samples, cell):
        signal = pluck_signal(samples, rate_hz=cell.rate_hz, pre_s=bound.PRE_S, f1_hz=cell.freq_hz)
        envelope = band(signal, cell.freq_hz, 0.45 * cell.freq_hz)
        inside = (envelope.time_s > envelope.settle_s) & (envelope.time_s < 2 * cell.tau_s)
        slope = np.polyfit(envelope.time_s[inside], np.log(np.abs(envelope.z[inside])), 1)[0]
        return cell.freq_hz, np.log(1000.0) / -slope

    cell = bound.QUICK_CELLS[0]
    assert np.std(bound.run(cell, n_runs=40, listen=dumb).decay_share) > 1.5 * bound.cramer_rao(cell).decay_share(cell)
