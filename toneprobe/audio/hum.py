"""Mains hum: steady lines at exact multiples of 50 or 60 Hz that stand out of every quiet second.

A ringing string fails one of these: it dies away, it is not exactly there (G1 sounds at 49.0 Hz, B1 at 61.7 Hz), or it is damped by the
next quiet second. A sensitive recorder always has some hum; it counts only where it stands out of the noise.
"""

from dataclasses import dataclass

import numpy as np

from toneprobe.audio.survey import decibels
from toneprobe.medians import MEDIAN_OF_EXPONENTIAL

MAINS_HZ = (50.0, 60.0)
N_LINES_HEARD = 12  # multiples by which a hum is recognised
LEAST_RATIO_DB = 8.0  # of a line's power over the noise in its place, in nine seconds of ten
LONE_RATIO_DB = 20.0  # where only one line is there
MOST_SPREAD_DB = 2.5  # of a line's level from second to second
MAINS_ASTRAY_HZ = 0.3  # the grid keeps within 0.2 Hz in ordinary operation (common practice)
LINE_ASTRAY_HZ = 0.6  # between a line and its multiple of the mains frequency found


@dataclass(frozen=True)
class Line:
    n: int
    mains_hz: float  # the line's frequency over n
    power: float
    ratio_db: float


def find_hum(freqs_hz: np.ndarray, quiet: np.ndarray) -> tuple[float, float] | None:
    """Mains frequency (50 or 60) and level in dBFS rms of all its lines; None where none stands out or no two seconds are quiet.

    freqs_hz: shape (n_bins,), 1 Hz apart; quiet: densities of the quiet seconds, shape (n_seconds, n_bins).
    """
    if quiet.shape[0] < 2:
        return None
    combs = {mains_hz: hum_lines(freqs_hz, quiet, mains_hz) for mains_hz in MAINS_HZ}
    mains_hz = max(combs, key=lambda hz: (sum(line.n * hz % 300 != 0 for line in combs[hz]), sum(line.power for line in combs[hz])))
    own = [line for line in combs[mains_hz] if line.n * mains_hz % 300 != 0]  # 300 Hz belongs to both
    low = [line for line in own if line.n <= 4]
    lone = [line for line in low if line.n <= 2 and line.ratio_db >= LONE_RATIO_DB and quiet.shape[0] >= 3]
    if not lone and not (low and len(own) >= 2):
        return None
    return mains_hz, float(decibels(sum(line.power for line in combs[mains_hz])))


def hum_lines(freqs_hz: np.ndarray, quiet: np.ndarray, mains_hz: float) -> list[Line]:
    """All steady lines of one comb that agree on one mains frequency."""
    found = [measure_line(freqs_hz, quiet, mains_hz, n) for n in range(1, N_LINES_HEARD + 1)]
    lines = [line for line in found if line is not None and abs(line.mains_hz - mains_hz) <= MAINS_ASTRAY_HZ]
    if not lines:
        return []
    common_hz = float(np.median([line.mains_hz for line in lines]))
    return [line for line in lines if abs(line.mains_hz - common_hz) * line.n <= LINE_ASTRAY_HZ]


def measure_line(freqs_hz: np.ndarray, quiet: np.ndarray, mains_hz: float, n: int) -> Line | None:
    """The line near n·mains_hz, or None where it does not stand out in all quiet seconds or is not steady."""
    off_hz = np.abs(freqs_hz - n * mains_hz)
    near, beside = off_hz <= 2.5 + n * 0.2, (off_hz > 5.0 + n * 0.2) & (off_hz < 16.0)
    step_hz = freqs_hz[1]
    noise = np.median(quiet[:, beside], axis=1) / MEDIAN_OF_EXPONENTIAL * near.sum() * step_hz
    power = quiet[:, near].sum(axis=1) * step_hz
    ratio_db = decibels(power) - decibels(noise)
    if np.percentile(ratio_db, 10) < LEAST_RATIO_DB or np.std(decibels(power)) > MOST_SPREAD_DB:
        return None
    mean = quiet[:, near].mean(axis=0)
    peak_hz = float(np.sum(freqs_hz[near] * mean**2) / np.sum(mean**2))
    return Line(n, peak_hz / n, float(max(power.mean() - noise.mean(), 0.0)), float(np.percentile(ratio_db, 10)))
