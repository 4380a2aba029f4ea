"""A pitch as a check reads it, for tests of what it does in cents."""

import math

from toneprobe.measure.figure import Figure


def heard(cents, se_cents):
    """A pitch so many cents from 440 Hz, as a figure in Hz."""
    freq_hz = 440.0 * 2.0 ** (cents / 1200.0)
    return Figure(freq_hz, freq_hz * math.log(2.0) / 1200.0 * se_cents)
