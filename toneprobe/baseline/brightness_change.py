"""How much duller a string sounds than when fresh, with the microphone taken out.

The power-weighted mean frequency of the partials found in both sweeps, fresh over now, after the level curve that all strings share was
subtracted. Place and strength of the pluck change it by 5 to 67 %, so it supports a verdict and never makes one.
"""

import numpy as np

from toneprobe.baseline.level_curve import LevelCurve
from toneprobe.baseline.pairing import Pairs
from toneprobe.measure.figure import Figure

BRIGHTNESS_SPREAD = 0.12  # log centroid of the partials (takes.py: 2.5 % median, 22 % in 9 of 10; soft against firm 7 and 56 %)
LEAST_PARTIALS = 3  # found in both sweeps
NOT_LINKED = "too few other strings were heard both now and in its fresh sweep to tell a duller string from another microphone"


def brightness_change(pairs: Pairs, curve: LevelCurve | None, *, n_now: int, n_fresh: int) -> Figure:
    """Natural log of fresh over present brightness: positive is duller. None without a curve: the microphone cannot be taken out."""
    known = pairs.where(np.isfinite(pairs.level_db))
    if len(known.n) < LEAST_PARTIALS:
        return Figure(None, None, "too few partials found in both sweeps")
    if curve is None:
        return Figure(None, None, NOT_LINKED)
    now_db = known.fresh_level_db + known.level_db - curve.at(known.freq_hz)
    ratio = _mean_hz(known.freq_hz, known.fresh_level_db) / _mean_hz(known.freq_hz, now_db)
    return Figure(float(np.log(ratio)), BRIGHTNESS_SPREAD * float(np.sqrt(1.0 / n_now + 1.0 / n_fresh)))


def _mean_hz(freq_hz: np.ndarray, level_db: np.ndarray) -> float:
    power = 10.0 ** (level_db / 10.0)
    return float(np.sum(power * freq_hz) / np.sum(power))
