"""Brightness: the spectral centroid, in three forms.

Centroid: power-weighted mean frequency of the window 20 to 250 ms after the onset, less the noise. Over f1 it is a ratio that does not
follow the tuning. On the partials alone (each one's energy in the same window, from its level and decay) neither the room nor other sounds
count. Brightness depends on how and where the finger plucks: equal plucks of one string differ by about PLUCK_LOG_SE, which is part of the
standard error.
"""

import numpy as np
from scipy.fft import next_fast_len, rfft
from scipy.ndimage import median_filter

from toneprobe.measure.envelope import HANN_BINS, PluckSignal, noise_density
from toneprobe.measure.figure import Figure
from toneprobe.medians import MEDIAN_OF_EXPONENTIAL

FIRST_S, LAST_S = 0.020, 0.250
PLUCK_LOG_SE = 0.10  # scatter of ln centroid between equal plucks of real strings
PARTIALS_LOG_SE = 0.08
LEAST_SHARE = 0.02  # of the window's power that must be sound
BELOW = 0.7  # of the pitch: lower there is no partial
N_NEAR = 9  # values around each place whose median is the noise there: rumble falls too steeply for as wide a neighbourhood as above


def spectral_centroid(samples: np.ndarray, signal: PluckSignal, f1_hz: float) -> Figure:
    """Centroid in Hz. `samples`: the piece that the signal was made from. `f1_hz`: its pitch, roughly."""
    first = int((signal.pre_s + FIRST_S) * signal.rate_hz)
    piece = samples[first: int((signal.pre_s + LAST_S) * signal.rate_hz)]
    if len(piece) < 0.05 * signal.rate_hz:
        return Figure(None, None, "the pluck is too short for its brightness")
    window = np.hanning(len(piece))
    n_fft = next_fast_len(len(piece))
    density = 4.0 * np.abs(rfft(piece * window, n_fft)) ** 2 / (signal.rate_hz * (window**2).sum())
    freq_hz = np.arange(len(density)) * signal.rate_hz / n_fft
    noise, is_below = noise_density(signal, freq_hz), freq_hz < BELOW * f1_hz
    noise[is_below] = _rumble(signal, freq_hz[is_below])
    sound = density - noise
    total = float(sound.sum())
    if total < LEAST_SHARE * float(density.sum()):
        return Figure(None, None, "the pluck hardly stands out of the noise")
    centroid_hz = float((sound * freq_hz).sum() / total)
    if centroid_hz <= 0:
        return Figure(None, None, "the noise hides the brightness")
    # A place with power s in noise of mean n scatters by n² + 2sn; n itself is known from the median of finer values around it.
    known = (1.0 / MEDIAN_OF_EXPONENTIAL) ** 2 * signal.noise.step_hz * n_fft / signal.rate_hz
    variance = HANN_BINS * ((1.0 + known) * noise**2 + 2.0 * noise * np.maximum(sound, 0.0))
    noise_se_hz = float(np.sqrt((variance * (freq_hz - centroid_hz) ** 2).sum()) / total)
    return Figure(centroid_hz, float(np.hypot(noise_se_hz, PLUCK_LOG_SE * centroid_hz)))


def _rumble(signal: PluckSignal, freq_hz: np.ndarray) -> np.ndarray:
    """Mean |z|² of the noise per Hz where no partial lies."""
    noise = signal.noise
    n = int(freq_hz.max() / noise.step_hz) + 2 + N_NEAR  # values that lie there or beside
    near = median_filter(noise.periodogram[:n], N_NEAR, mode="nearest") / MEDIAN_OF_EXPONENTIAL
    return np.interp(freq_hz, np.arange(len(near)) * noise.step_hz, near)


def centroid_ratio(centroid_hz: Figure, pitch_hz: Figure) -> Figure:
    """The centroid over the sounding first partial, both in Hz; the error is that of the centroid, beside which the pitch's is nothing."""
    if not centroid_hz.known or not pitch_hz.known:
        return Figure(None, None, centroid_hz.reason or pitch_hz.reason)
    return Figure(centroid_hz.value / pitch_hz.value, centroid_hz.se / pitch_hz.value)


def partials_centroid(freq_hz: np.ndarray, level: np.ndarray, delta: np.ndarray) -> Figure:
    """Power-weighted mean of the partials. `level`: |z|² at the onset, `delta`: decay rate in 1/s, nan where not known; of one shape."""
    known = np.isfinite(delta) & (delta > 0)
    if known.sum() < 2:
        return Figure(None, None, "fewer than two partials with a level and a decay")
    energy = level[known] * (np.exp(-2 * delta[known] * FIRST_S) - np.exp(-2 * delta[known] * LAST_S)) / (2 * delta[known])
    value = float((energy * freq_hz[known]).sum() / energy.sum())
    return Figure(value, PARTIALS_LOG_SE * value)
