"""How loud a sound is to the ear, for playing two at one level: ITU-R BS.1770 momentary loudness of one channel.

The recommendation gives its two filters for 48 kHz; here they are designed for any rate, from the analogue prototypes of that table.
"""

import math

import numpy as np

BLOCK_S, STEP_S = 0.4, 0.1  # momentary loudness: 400 ms windows
SHELF_HZ, SHELF_DB, SHELF_Q = 1681.974450955533, 3.999843853973347, 0.7071752369554196
HIGHPASS_HZ, HIGHPASS_Q = 38.13547087602444, 0.5003270373238773


def loudest_lufs(samples: np.ndarray, rate_hz: int) -> float | None:
    """The loudest 400 ms of a sound, shape (n,), in LUFS; of a shorter sound its energy over 400 ms. None for silence."""
    from scipy.signal import lfilter

    weighted = lfilter(*highpass(rate_hz), lfilter(*shelf(rate_hz), np.asarray(samples, dtype=np.float64)))
    block, step = max(1, round(BLOCK_S * rate_hz)), max(1, round(STEP_S * rate_hz))
    energy = np.concatenate(([0.0], np.cumsum(weighted**2)))
    starts = np.arange(0, max(len(weighted) - block, 0) + 1, step)
    mean_square = float(np.max(energy[np.minimum(starts + block, len(weighted))] - energy[starts])) / block
    return -0.691 + 10.0 * math.log10(mean_square) if mean_square > 1e-14 else None


def shelf(rate_hz: int) -> tuple[np.ndarray, np.ndarray]:
    """Numerator and denominator of the first stage: 4 dB more above 1.7 kHz, for the head."""
    k, v_high = math.tan(math.pi * SHELF_HZ / rate_hz), 10.0 ** (SHELF_DB / 20.0)
    v_band = v_high**0.4996667741545416
    a0 = 1.0 + k / SHELF_Q + k * k
    b = np.array([v_high + v_band * k / SHELF_Q + k * k, 2.0 * (k * k - v_high), v_high - v_band * k / SHELF_Q + k * k])
    return b / a0, np.array([1.0, 2.0 * (k * k - 1.0) / a0, (1.0 - k / SHELF_Q + k * k) / a0])


def highpass(rate_hz: int) -> tuple[np.ndarray, np.ndarray]:
    """Numerator and denominator of the second stage, as the recommendation scales it."""
    k = math.tan(math.pi * HIGHPASS_HZ / rate_hz)
    a0 = 1.0 + k / HIGHPASS_Q + k * k
    return np.array([1.0, -2.0, 1.0]), np.array([1.0, 2.0 * (k * k - 1.0) / a0, (1.0 - k / HIGHPASS_Q + k * k) / a0])
