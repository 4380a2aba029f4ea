"""Faults planted by arithmetic into the recording of a healthy pluck, so that the truth is known and everything else stays real.

Each takes samples, shape (n,), starting `PRE_S` before the onset, and gives new ones of the same shape.
"""

import numpy as np
from scipy.fft import irfft, next_fast_len, rfft
from scipy.signal import istft, stft

PRE_S = 0.005


def lose_ring(x: np.ndarray, rate_hz: float, freq_hz: np.ndarray, more_loss: np.ndarray) -> np.ndarray:
    """Every sound near freq_hz decays by more_loss (1/s) more, from the onset on; between the given points straight lines."""
    f, t, spectrum = stft(x, rate_hz, nperseg=2048, noverlap=1536)
    loss = np.interp(f, freq_hz, more_loss)
    factor = np.exp(-loss[:, None] * np.maximum(t - PRE_S, 0.0))
    return istft(spectrum * factor, rate_hz, nperseg=2048, noverlap=1536)[1][: len(x)]


def shift_partials(x: np.ndarray, rate_hz: float, freq_hz: np.ndarray, cents: np.ndarray) -> np.ndarray:
    """All that sounds about each of the ascending freq_hz, up to half-way to the next, moves by so many cents."""
    n_fft = next_fast_len(len(x) + int(0.2 * rate_hz), real=True)
    spectrum, grid_hz, t = rfft(x, n_fft), np.fft.rfftfreq(n_fft, 1.0 / rate_hz), np.arange(len(x)) / rate_hz
    edges = np.concatenate([[0.5 * freq_hz[0]], 0.5 * (freq_hz[1:] + freq_hz[:-1]), [freq_hz[-1] + 0.5 * (freq_hz[-1] - freq_hz[-2])]])
    out = x.copy()
    for i, (hz, by) in enumerate(zip(freq_hz, cents, strict=True)):
        zone = spectrum * _zone(grid_hz, edges[i], edges[i + 1], 0.04 * freq_hz[0])
        real = irfft(zone, n_fft)[: len(x)]
        other = irfft(-1j * zone, n_fft)[: len(x)]
        turn = 2.0 * np.pi * hz * (2.0 ** (by / 1200.0) - 1.0) * t
        out += real * np.cos(turn) - other * np.sin(turn) - real
    return out


def add_beat(x: np.ndarray, depth_db: float, *, cents: float) -> np.ndarray:
    """A second voice of the string, cents higher: every partial beats with that ripple peak to peak, the faster the higher."""
    swing = 10.0 ** (depth_db / 20.0)
    ratio, t = (swing - 1.0) / (swing + 1.0), np.arange(len(x), dtype=float)
    return (x + ratio * np.interp(t * 2.0 ** (cents / 1200.0), t, x)) / (1.0 + ratio)


def pulse(x: np.ndarray, rate_hz: float, depth_db: float, *, beat_hz: float) -> np.ndarray:
    """The whole tone swells and fades beat_hz times a second."""
    swing = 10.0 ** (depth_db / 20.0)
    ratio, t = (swing - 1.0) / (swing + 1.0), np.arange(len(x)) / rate_hz
    return x * (1.0 + ratio * np.cos(2.0 * np.pi * beat_hz * t)) / (1.0 + ratio)


def lower(x: np.ndarray, semitones: float) -> np.ndarray:
    """The string sounds so much lower, played slower; the end is filled with silence."""
    t = np.arange(len(x), dtype=float)
    return np.interp(t * 2.0 ** (-semitones / 12.0), t, x)


def _zone(grid_hz: np.ndarray, low_hz: float, high_hz: float, edge_hz: float) -> np.ndarray:
    return np.clip((grid_hz - low_hz) / edge_hz + 0.5, 0.0, 1.0) * np.clip((high_hz - grid_hz) / edge_hz + 0.5, 0.0, 1.0)
