"""Slow drift removed: what a recorder's input, a draught or a cheap converter adds far below any string.

Model: drift moves at a hertz at most; the lowest string of a harp sounds above 27 Hz. Estimator: H, the mean under a Hann window of a
quarter of a second, and once more of the rest, H + H·(1 − H). It leaves 1e-7 at 0.07 Hz, 1e-4 at 0.5 and 2e-3 at 1 Hz, and takes 1e-3 of a
string at 27 Hz (derived: the window's transform). A cubic spline joins its values. Without this, a piece cut from a drifting recording
starts and ends at different heights; that step stands above the noise at all frequencies, and strings seemed to lose their ring.
Removed only where it moves, most of the time, by more than the recording's own noise; all other recordings are read as they are. Faster
movement, such as footsteps' rumble, is not followed, the first and last eighth of a second hardly.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from toneprobe.audio.source import Source
from toneprobe.medians import SD_OF_DEVIATION

if TYPE_CHECKING:
    from scipy.interpolate import CubicSpline

WINDOW_S, HOP_S = 0.25, 0.025
SLOW_S = 1.0  # under a window of this length the values move by less than a hertz: strings leave nothing of themselves there
LEAST_S = 2.0  # of a recording
N_AT_ONCE = 1000  # values


@dataclass(frozen=True)
class Drift:
    """The drift of one channel."""

    time_s: np.ndarray  # (T,), from the recording's start
    height: np.ndarray  # (T,), full scale ±1
    spline: CubicSpline = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        from scipy.interpolate import CubicSpline  # with what it loads a tenth of what a short command takes

        object.__setattr__(self, "spline", CubicSpline(self.time_s, self.height))

    def at(self, time_s: np.ndarray) -> np.ndarray:
        """Its samples at these times; beyond its own it stays as it was there."""
        return self.spline(np.clip(time_s, self.time_s[0], self.time_s[-1]))


def find_drift(source: Source, channel: int, *, n_samples: int, floor_db: float) -> Drift | None:
    """None where nothing drifts by more than the noise, of `floor_db` dBFS."""
    size, hop = round(WINDOW_S * source.rate_hz), round(HOP_S * source.rate_hz)
    if n_samples < LEAST_S * source.rate_hz:
        return None
    window = _hann(size)
    starts = np.arange(0, n_samples - size + 1, hop)
    heights = []
    for i in range(0, len(starts), N_AT_ONCE):
        some = starts[i:i + N_AT_ONCE]
        samples = source.read(int(some[0]), int(some[-1]) + size, channel)
        heights.append(np.vecdot(np.lib.stride_tricks.sliding_window_view(samples, size)[::hop], window))  # `@` would copy what overlaps
    height = np.concatenate(heights)
    slow = np.convolve(height, _hann(round(SLOW_S / HOP_S)), mode="valid")
    if SD_OF_DEVIATION * np.median(np.abs(slow - np.median(slow))) <= 10.0 ** (floor_db / 20.0):
        return None
    beside = round(0.5 * WINDOW_S / HOP_S)  # values that the window reaches to each side, the recording's ends among them
    height = np.pad(height, 2 * beside, mode="reflect", reflect_type="odd")
    height = 2.0 * height[beside:-beside] - np.convolve(height, _hann(2 * beside - 1), mode="same")[beside:-beside]
    return Drift((0.5 * size + hop * np.arange(-beside, starts.size + beside)) / source.rate_hz, height)


def _hann(n: int) -> np.ndarray:
    """n values without the zeros at the ends, with sum 1."""
    window = np.hanning(n + 2)[1:-1]
    return window / window.sum()
