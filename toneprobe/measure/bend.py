"""Bend: whether a partial falls ever faster, which no string does by itself.

A string's partial is a mode, or two that beat, of which the slower lasts: its level falls straight, wavers about a line or grows flatter,
never steeper on the whole. A recorder's noise suppression turns down what nears the noise in each narrow band, so that every partial falls
over a cliff there. Measured on the level in dB from its greatest value to where it last stands clear of the noise: the mean height over the
chord, over the chord's drop. Straight 0; ever flatter negative; a cliff at three quarters of the way up to a quarter. A partial that beats
may show ± 0.2, so many must agree. Not seen: a fall cut short above the noise, or suppression of all bands alike (`audio.gain`).
"""

import numpy as np

from toneprobe.measure.envelope import Envelope, smooth_power

SPAN_S = 0.04
LEAST_RANGE_DB = 25.0  # of the level's top over the noise
CLEAR_DB = 6.0  # over the noise: there the noise itself bends a fall by less than 1 dB
LEAST_VALUES = 6


def fall_bend(envelope: Envelope, *, start_s: float) -> float | None:
    """Mean height of the level over the straight line, over the line's drop; None where the fall is not heard down to the noise."""
    first = envelope.first_from(start_s)
    level = smooth_power(envelope, max(SPAN_S, 2.0 * envelope.settle_s))[first:]
    if len(level) < LEAST_VALUES:
        return None
    level = level[int(level[: max(4, len(level) // 2)].argmax()):]
    is_clear = level[0] > envelope.noise_power * 10 ** (LEAST_RANGE_DB / 10)
    ended = np.flatnonzero(level < envelope.noise_power * 10 ** (CLEAR_DB / 10))
    if not is_clear or not len(ended) or ended[0] < LEAST_VALUES:
        return None
    level_db = 10.0 * np.log10(np.maximum(level[: ended[0] + 1], envelope.noise_power) / level[0])
    return float((level_db - np.linspace(0.0, level_db[-1], len(level_db))).mean() / -level_db[-1])
