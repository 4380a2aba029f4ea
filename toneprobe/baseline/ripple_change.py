"""A wavering that was not there: ripple that all partials of a string share, beyond what it showed when fresh.

At each rate (see `measure.ripple`) the depth that most present plucks reach, less the greatest usual depth of the fresh plucks; the largest
of these differences over all rates is the new ripple. Being the largest of many it lies above zero for untouched strings too, by about
`limits.RIPPLE_USUAL_DB`: judge it against that. A beat in single partials is no fault: two polarisations and the neighbours make those.
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


@dataclass(frozen=True)
class RippleChange:
    depth_db: Figure  # peak to peak
    beat_hz: float | None = None  # its rate; of the first partial where the rate rises with frequency


def ripple_change(now: Reading, fresh: Reading, *, pitch_hz: float) -> RippleChange:
    """None where the partials ring too short, or too few of them, to tell in either sweep."""
    if not now.ripples_db or not fresh.ripples_db:
        return RippleChange(Figure(None, None, "the ripple of the partials was not looked for"))
    n_now, n_fresh = len(now.ripples_db), len(fresh.ripples_db)
    most_now = _ranked([_beside(row) for row in _rows(now)], (n_now - 1) // 2)
    new = most_now - _ranked([_beside(row) for row in _rows(fresh)], round(FRESH_SHARE * (n_fresh - 1)))
    if not np.isfinite(new).any():
        return RippleChange(Figure(None, None, "too few partials ring long enough to tell a ripple"))
    place, spread = int(np.nanargmax(new)), limits.RIPPLE_SPREAD_DB * float(np.sqrt(1.0 / n_now + 1.0 / n_fresh))
    spread *= limits.UNCONFIRMED_RIPPLE if n_now == 1 else 1.0
    return RippleChange(Figure(float(new[place]), spread), _rate_hz(place, pitch_hz))


def _rate_hz(place: int, pitch_hz: float) -> float:
    if place < len(RATES_HZ):
        return RATES_HZ[place]
    return pitch_hz * (2.0 ** (SPLITS_CENTS[place - len(RATES_HZ)] / 1200.0) - 1.0)


def _rows(reading: Reading) -> list[np.ndarray]:
    return [np.array([np.nan if depth is None else depth for depth in row]) for row in reading.ripples_db]


def _beside(row: np.ndarray) -> np.ndarray:
    """The greatest depth at a rate or the next on either side: rates wander by a step from pluck to pluck."""
    padded = np.concatenate([[np.nan], row, [np.nan]])
    return np.fmax(np.fmax(padded[:-2], padded[2:]), row)


def _ranked(rows: Sequence[np.ndarray], rank: int) -> np.ndarray:
    """Value at that rank of the ascending depths at each rate; NaN where any pluck cannot tell."""
    table = np.array(rows)
    return np.where(np.isnan(table).any(axis=0), np.nan, np.sort(table, axis=0)[rank])
