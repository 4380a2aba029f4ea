"""A wavering that was not there: ripple that all partials of a string share, beyond what it showed when fresh.

What a string does of itself begins with the pluck and is the same, swing for swing, in every pluck of it; what chance does comes now so,
now so. So at each rate (see `measure.ripple`) the complex swings of the plucks are averaged, now and fresh, and what was added is the
distance of the two means. Its variance is that of the plucks' own errors or what they differ by, whichever is more: a wavering in one
pluck of two counts little. The new ripple is at the rate where that distance is surest. Being the surest of many rates it lies above zero
for untouched strings too: of n rates so far apart that each is chance of its own, the surest passes t errors in n·exp(−t²) of cases
(Rayleigh's distribution), n about 30 here. What chance usually makes is taken off its depth, in power. A beat in single partials is no
fault: two polarisations and the neighbours make those.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.measure.figure import Figure
from toneprobe.measure.ripple import RATES_HZ, SPLITS_CENTS
from toneprobe.session.reading import Reading

N_RATES = len(RATES_HZ) + len(SPLITS_CENTS)
LEAST_ERROR_DB = 0.1  # of one side, where the partials of its plucks agree by chance
NOT_LOOKED_FOR = Figure(None, None, "the ripple of the partials was not looked for")
TOO_SHORT = Figure(None, None, "too few partials ring long enough to tell a ripple")


@dataclass(frozen=True)
class RippleChange:
    depth_db: Figure  # peak to peak
    beat_hz: float | None = None  # its rate; of the first partial where the rate rises with frequency


def ripple_change(now: Reading, fresh: Reading, *, pitch_hz: float, hand: float = 0.0) -> RippleChange:
    """None where the partials ring too short, or too few of them, to tell in either sweep.

    hand: log ratio of pitch glides, how differently the string was plucked (see `hand`).
    """
    here, then = _rows(now), _rows(fresh)
    if not here or not then:
        return RippleChange(NOT_LOOKED_FOR)
    (swing_now, variance_now), (swing_fresh, variance_fresh) = _mean(here), _mean(then)
    doubtful = np.hypot(1.0, limits.HAND_RIPPLE * hand) * (limits.UNCONFIRMED_RIPPLE if len(here) == 1 else 1.0)
    added, error = np.abs(swing_now - swing_fresh), doubtful * np.sqrt(variance_now + variance_fresh)
    if not np.isfinite(added).any():
        return RippleChange(TOO_SHORT)
    place = int(np.nanargmax(added / error))
    depth = float(np.sqrt(max(0.0, added[place] ** 2 - (limits.RIPPLE_BY_CHANCE * error[place]) ** 2)))
    return RippleChange(Figure(depth, float(limits.RIPPLE_SEARCHED * error[place])), _rate_hz(place, pitch_hz) if depth else None)


def _rate_hz(place: int, pitch_hz: float) -> float:
    if place < len(RATES_HZ):
        return RATES_HZ[place]
    return abs(pitch_hz * (2.0 ** (SPLITS_CENTS[place - len(RATES_HZ)] / 1200.0) - 1.0))


def _rows(reading: Reading) -> list[tuple[np.ndarray, np.ndarray]]:
    """Complex swing in dB and its variance E|c|² of each pluck at each rate, NaN where not told. What has other rates is left out."""
    told = [row for row in reading.ripples if len(row.in_phase_db) == N_RATES]
    parts = [np.array([row.in_phase_db, row.quadrature_db, row.se_db], float) for row in told]
    return [(re + 1j * im, 2.0 * se**2) for re, im, se in parts]


def _mean(rows: list[tuple[np.ndarray, np.ndarray]]) -> tuple[np.ndarray, np.ndarray]:
    """Mean swing over the plucks and its variance, shape (rates,); NaN where any pluck cannot tell."""
    swings, variances = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    mean = swings.mean(axis=0)
    differ = np.sum(np.abs(swings - mean) ** 2, axis=0) / max(len(rows) - 1, 1)
    return mean, np.maximum(variances.mean(axis=0), differ) / len(rows) + LEAST_ERROR_DB**2
