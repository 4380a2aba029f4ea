"""A wavering that was not there: ripple that all partials of a string share, beyond what it showed when fresh.

At each rate (see `measure.ripple`) the depth that most present plucks reach, against the greatest usual depth of the fresh plucks. The new
ripple is at the rate where the difference is surest. Its depth is what was added in power, √(now² − fresh²); its error is such that
depth over error is how sure the difference is. Being the surest of many rates it lies above zero for untouched strings too, for which
the error is enlarged by `limits.RIPPLE_SEARCHED`. A beat in single partials is no fault: two polarisations and the neighbours make those.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.measure.figure import Figure
from toneprobe.measure.ripple import RATES_HZ, SPLITS_CENTS
from toneprobe.session.reading import Reading

FRESH_SHARE = 0.75  # rank among the fresh plucks
N_RATES = len(RATES_HZ) + len(SPLITS_CENTS)
LEAST_ERROR_DB = 0.1  # of one side, where the partials of its plucks agree by chance
NOT_LOOKED_FOR = Figure(None, None, "the ripple of the partials was not looked for")
TOO_SHORT = Figure(None, None, "too few partials ring long enough to tell a ripple")


@dataclass(frozen=True)
class RippleChange:
    depth_db: Figure  # peak to peak
    beat_hz: float | None = None  # its rate; of the first partial where the rate rises with frequency


def ripple_change(now: Reading, fresh: Reading, *, pitch_hz: float) -> RippleChange:
    """None where the partials ring too short, or too few of them, to tell in either sweep."""
    here, then = _rows(now), _rows(fresh)
    if not len(here) or not len(then):
        return RippleChange(NOT_LOOKED_FOR)
    most_now = _ranked([_beside(row) for row in here[:, 0]], (len(here) - 1) // 2)
    most_fresh = _ranked([_beside(row) for row in then[:, 0]], round(FRESH_SHARE * (len(then) - 1)))
    errors = [_error(np.array([_beside(row) for row in rows[:, 1]])) for rows in (here, then)]
    sigmas = (most_now - most_fresh) / np.hypot(*errors)
    if not np.isfinite(sigmas).any():
        return RippleChange(TOO_SHORT)
    place = int(np.nanargmax(sigmas))
    sure = float(sigmas[place])
    if sure <= 0.0:
        return RippleChange(Figure(0.0, limits.RIPPLE_SPREAD_DB), None)
    depth = float(np.sqrt(most_now[place] ** 2 - most_fresh[place] ** 2))
    searched = limits.RIPPLE_SEARCHED * (limits.UNCONFIRMED_RIPPLE if len(here) == 1 else 1.0)
    return RippleChange(Figure(depth, searched * depth / sure), _rate_hz(place, pitch_hz))


def _rate_hz(place: int, pitch_hz: float) -> float:
    if place < len(RATES_HZ):
        return RATES_HZ[place]
    return pitch_hz * (2.0 ** (SPLITS_CENTS[place - len(RATES_HZ)] / 1200.0) - 1.0)


def _rows(reading: Reading) -> np.ndarray:
    """Depths and errors of each pluck, shape (plucks, 2, rates), NaN where not told. What was measured at other rates is left out."""
    rows = [row for row in reading.ripples if len(row.depth_db) == N_RATES]
    return np.array([(row.depth_db, row.se_db) for row in rows], float).reshape(-1, 2, N_RATES)


def _error(errors: np.ndarray) -> np.ndarray:
    """Of the mean over plucks, shape (plucks, rates) to (rates,)."""
    return np.sqrt((errors**2).mean(axis=0) / len(errors) + LEAST_ERROR_DB**2 / 2.0)


def _beside(row: np.ndarray) -> np.ndarray:
    """The greatest depth at a rate or the next on either side: rates wander by a step from pluck to pluck."""
    parts = [np.concatenate([[np.nan], part, [np.nan]]) for part in np.split(row, [len(RATES_HZ)])]
    return np.concatenate([np.fmax(np.fmax(part[:-2], part[2:]), part[1:-1]) for part in parts])


def _ranked(rows: Sequence[np.ndarray], rank: int) -> np.ndarray:
    """Value at that rank of the ascending depths at each rate; NaN where any pluck cannot tell."""
    table = np.array(rows)
    return np.where(np.isnan(table).any(axis=0), np.nan, np.sort(table, axis=0)[rank])
