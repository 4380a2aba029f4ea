"""Bands of a pluck as complex envelopes: amplitude, frequency, decay and noise come through as they are."""

import numpy as np
import pytest
from sounds.formula_plucks import PRE_S, FormulaPluck, damped, render, time_grid_s

from toneprobe.measure.envelope import (
    HANN_BINS,
    Envelope,
    band,
    heard_until,
    noise_around,
    noise_density,
    onset_power,
    pluck_signal,
    smooth_power,
)

RATE_HZ = 44100


def envelope_of(samples, centre_hz, half_width_hz, *, rate_hz=RATE_HZ, pre_s=PRE_S, **how):
    return band(pluck_signal(samples, rate_hz=rate_hz, pre_s=pre_s, f1_hz=centre_hz), centre_hz, half_width_hz, **how)


def slopes(envelope, first_s, last_s):
    """Frequency off the centre in Hz and decay rate in 1/s: straight lines through phase and log magnitude."""
    inside = (envelope.time_s >= first_s) & (envelope.time_s < last_s)
    time_s, z = envelope.time_s[inside], envelope.z[inside]
    return np.polyfit(time_s, np.unwrap(np.angle(z)), 1)[0] / (2 * np.pi), -np.polyfit(time_s, np.log(np.abs(z)), 1)[0]


@pytest.mark.parametrize("rate_hz", [8000, 22050, 44100, 48000, 96000])
@pytest.mark.parametrize("freq_hz, tau_s, half_hz", [(65.406, 2.0, 25.0), (440.0, 0.8, 60.0), (3135.963, 0.1, 600.0)])
def test_a_tone_comes_through_as_it_is(rate_hz, freq_hz, tau_s, half_hz):
    sound = damped(time_grid_s(rate_hz, 4 * tau_s), freq_hz, 1 / tau_s, amplitude=0.3, phase=1.1)
    envelope = envelope_of(sound, freq_hz + 0.05 * half_hz, half_hz, rate_hz=rate_hz)
    off_hz, delta = slopes(envelope, envelope.settle_s + 0.05 * tau_s, 2 * tau_s)
    assert off_hz + 0.05 * half_hz == pytest.approx(0.0, abs=0.002)  # Hz
    assert delta == pytest.approx(1 / tau_s, rel=2e-3)
    at = np.argmin(np.abs(envelope.time_s - tau_s))
    power = 0.09 * np.exp(-2 * envelope.time_s[at] / tau_s)  # |z|² = A² (definition)
    assert np.abs(envelope.z[at]) ** 2 == pytest.approx(power, rel=0.01)


def test_times_run_from_the_onset():
    sound = damped(time_grid_s(RATE_HZ, 1.0, 0.2), 440.0, 5.0, amplitude=0.3)
    envelope = envelope_of(sound, 440.0, 100.0, pre_s=0.2)
    half = np.flatnonzero(np.abs(envelope.z) > 0.15)[0] / envelope.rate_hz  # half height of the smeared onset
    assert half == pytest.approx(0.0, abs=envelope.settle_s)
    assert abs(envelope.time_s[0]) <= 0.5 / envelope.rate_hz and envelope.time_s[-1] == pytest.approx(1.0, abs=0.01)


def test_what_lies_outside_the_band_is_gone():
    time_s = time_grid_s(RATE_HZ, 2.0)
    wanted, other = damped(time_s, 440.0, 1.0, amplitude=0.1), damped(time_s, 660.0, 1.0, amplitude=0.4)
    both, alone = (envelope_of(sound, 440.0, 60.0) for sound in (wanted + other, wanted))
    late = (both.time_s > 0.1) & (both.time_s < 1.9)  # the cut at the end is smeared as the onset is
    assert np.abs(both.z[late] - alone.z[late]).max() < 1e-3 * 0.1  # 60 dB down
    wide = envelope_of(wanted + other, 440.0, 300.0)  # a band too wide lets it in
    assert np.abs(np.abs(wide.z) ** 2 - 0.01)[wide.time_s > 0.1].max() > 0.05


@pytest.mark.parametrize("rate_hz", [22050, 48000])
def test_noise_power_is_that_of_the_band(rate_hz):
    sigma = 0.02
    noise = np.random.default_rng(1).normal(0.0, sigma, 4 * rate_hz)
    signal = pluck_signal(noise, rate_hz=rate_hz, pre_s=PRE_S, f1_hz=440.0)
    expected = 4 * sigma**2 / rate_hz  # derived: σ² over 0 … fs/2, and |z|² is twice the mean square
    grid_hz = np.linspace(300.0, 9000.0, 50)
    assert np.mean(noise_density(signal, grid_hz)) == pytest.approx(expected, rel=0.1)
    bands = [band(signal, centre_hz, 150.0) for centre_hz in np.linspace(500.0, 9000.0, 20)]
    power = np.mean([np.mean(np.abs(one.z) ** 2) for one in bands])
    assert np.mean([one.noise_power for one in bands]) == pytest.approx(power, rel=0.08)


@pytest.mark.parametrize("f1_hz, length_s", [(65.4, 4.0), (261.6, 2.4), (3136.0, 0.25)])
def test_the_noise_around_is_as_sure_as_it_says(f1_hz, length_s):
    """Without bias, and scattering as a median of n independent exponential values does: 1/(ln 2·√n), derived here from its density ½."""
    density, n_values = np.transpose([noise_around(pluck_signal(
        np.random.default_rng(seed).normal(0.0, 1.0, int(length_s * RATE_HZ)), rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=f1_hz), f1_hz)
        for seed in range(300)])
    expected = 1 / (np.log(2) * np.sqrt(n_values[0]))
    assert np.mean(density) * RATE_HZ / 4 == pytest.approx(1.0, abs=0.02 + 4 * expected / np.sqrt(300))
    assert np.std(density) / np.mean(density) == pytest.approx(expected, rel=0.2)


@pytest.mark.parametrize(("at_s", "told_s", "loud"), [
    ((2.2, 3.6), (2.2, 3.6), False),  # the second half of it between and behind them: 2.6 to 3.6 s is quiet
    ((2.2, 3.6), (), True),  # nobody said when
    ((0.5, 3.6), (0.5, 3.6), False),  # quiet from the middle on
    ((2.2, 2.7, 3.2, 3.7), (2.2, 2.7, 3.2, 3.7), True),  # nowhere 0.3 s, from 0.4 s behind one to the next
])
def test_noise_is_told_where_no_knock_sounds(at_s, told_s, loud):
    """Knocks a fifth of a second long, thirty times as high as the noise: in what is heard of the end more than a hundred times its power
    (derived: a sixth of 900)."""
    rate_hz, sigma = 8000, 1e-3
    time_s, rng = np.arange(4 * rate_hz) / rate_hz, np.random.default_rng(3)
    knocks = sum(((time_s >= one_s) & (time_s < one_s + 0.2)) * 30.0 for one_s in at_s)
    sound = rng.normal(0.0, sigma, len(time_s)) * (1.0 + knocks)
    signal = pluck_signal(sound, rate_hz=rate_hz, pre_s=0.0, f1_hz=261.6, knocks_s=told_s)
    over = np.median(noise_density(signal, np.linspace(300.0, 3500.0, 100))) / (4 * sigma**2 / rate_hz)
    assert over > 50.0 if loud else over == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize("f1_hz", [65.4, 261.6, 1046.5])
def test_partials_that_still_ring_are_no_noise(f1_hz):
    pluck = FormulaPluck(f1_hz, 2e-4, t60_s=6.0)
    signal = pluck_signal(render(pluck, length_s=3.0, snr_db=50.0), rate_hz=RATE_HZ, pre_s=PRE_S, f1_hz=f1_hz)
    sigma = np.sqrt(0.5 * np.sum(pluck.amplitude**2)) * 10 ** (-50 / 20)
    grid_hz = np.linspace(f1_hz, 10 * f1_hz, 40)
    excess_db = 10 * np.log10(np.mean(noise_density(signal, grid_hz)) / (4 * sigma**2 / RATE_HZ))
    assert abs(excess_db) < 1.0
    tail = render(pluck, length_s=3.0, snr_db=50.0)[-RATE_HZ:]  # the naive floor, rms of the end, takes the ring for noise
    assert 20 * np.log10(np.sqrt(np.mean(tail**2)) / sigma) > 3.0


def test_a_glide_taken_out_stands_still():
    pluck = FormulaPluck(261.6, n_partials=1, glide_cents=20.0, t60_s=2.0)
    sound = render(pluck, snr_db=None)
    fall, start = 2 * pluck.delta[0], 2 ** (20.0 / 1200) - 1
    grid_s = np.arange(1000) / 200.0
    advance_s = start * -np.expm1(-fall * grid_s) / fall  # ∫ of start·exp(−fall·t)
    still, _ = slopes(envelope_of(sound, 261.6, 60.0, advance_s=advance_s), 0.02, 0.2)
    moving, _ = slopes(envelope_of(sound, 261.6, 60.0), 0.02, 0.2)
    assert still == pytest.approx(0.0, abs=0.01)
    assert moving > 1.0  # Hz: the same assertion fails when nothing is taken out


def test_smoothing_keeps_the_mean():
    envelope = envelope_of(damped(time_grid_s(RATE_HZ, 1.0), 440.0, 0.0, amplitude=0.5), 440.0, 60.0)
    smooth = smooth_power(envelope, 0.1)
    assert smooth.shape == envelope.z.shape
    assert smooth[len(smooth) // 4 : len(smooth) * 3 // 4] == pytest.approx(0.25, rel=0.01)


def test_onset_power_of_a_fast_and_a_slow_tone():
    for tau_s in (0.05, 2.0):
        envelope = envelope_of(damped(time_grid_s(RATE_HZ, 1.0), 1046.5, 1 / tau_s, amplitude=0.5), 1046.5, 300.0)
        first_s = envelope.settle_s + 0.0075  # the first smoothed stretch that is not smeared
        assert onset_power(envelope) == pytest.approx(0.25 * np.exp(-2 * first_s / tau_s), rel=0.2)


def test_near_its_ends_power_is_smoothed_over_what_there_is():
    """Powers 1, 4, 9, 16, 25, means of four values from two before each on (worked by hand)."""
    envelope = Envelope(np.arange(1.0, 6.0) + 0j, 100.0, 440.0, 0.0, 1e-9)
    assert smooth_power(envelope, 0.04) == pytest.approx([2.5, 14 / 3, 7.5, 13.5, 50 / 3])
    assert smooth_power(envelope, 1e-4) == pytest.approx([1.0, 4.0, 9.0, 16.0, 25.0])


@pytest.mark.parametrize(("heard", "until"), [
    ("", 0), ("....", 0), ("####", 4), ("##########....", 10),
    ("#######..#", 10), ("######...#", 6),  # eight of ten come up out of a beat's dip, seven of ten were long after
    ("#######..#" + 9 * "." + "#", 10), (".#########", 10), ("..###", 0), ("..#####", 7),
])
def test_a_partial_is_heard_until_it_is_silent_for_most_of_the_time(heard, until):
    """For more than 0.7 of it (set)."""
    assert heard_until(np.array([one == "#" for one in heard], bool)) == until


def test_of_noise_through_a_hann_window_neighbouring_places_are_not_independent():
    """|X|² of two places correlate by the square of the transform of the window's square between them; summed over all (derived)."""
    power = np.fft.fft(np.hanning(4001)[:-1] ** 2)
    assert np.sum(np.abs(power / power[0]) ** 2) == pytest.approx(HANN_BINS, rel=1e-6)


def test_silence_has_no_power():
    envelope = envelope_of(np.zeros(RATE_HZ), 440.0, 60.0)
    assert np.all(envelope.z == 0) and 0 < envelope.noise_power < 1e-15 and np.isfinite(onset_power(envelope))


def test_the_input_stays_as_it_was():
    sound = render(FormulaPluck(440.0))
    before = sound.copy()
    envelope_of(sound, 440.0, 60.0)
    assert np.array_equal(sound, before)
