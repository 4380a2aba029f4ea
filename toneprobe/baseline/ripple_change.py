"""A wavering that was not there: ripple that all partials of a string share, beyond what it showed when fresh.

At each rate (see `measure.ripple`) the depth that most present plucks reach, less the greatest usual depth of the fresh plucks; the largest
of these differences over all rates is the new ripple. Being the largest of many it lies above zero for untouched strings too, by about
`limits.RIPPLE_USUAL_DB`: judge it against that. A beat in single partials is no fault: two polarisations and the neighbours make those.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from toneprobe import limits
from toneprobe.measure.figure import Figure
from toneprobe.session.reading import Reading

FRESH_SHARE = 0.75  # rank among the fresh plucks


def ripple_change(now: Reading, fresh: Reading) -> Figure:
    """Depth in dB peak to peak; None where the partials ring too short, or too few of them, to tell in either sweep."""
    if not now.ripples_db or not fresh.ripples_db:
        return Figure(None, None, "the ripple of the partials was not looked for")
    most_now = _ranked([_beside(row) for row in _rows(now)], 0.5 * (now.n_plucks - 1) - 0.25)
    most_fresh = _ranked(_rows(fresh), FRESH_SHARE * (len(fresh.ripples_db) - 1))
    new = most_now - most_fresh
    if not np.isfinite(new).any():
        return Figure(None, None, "too few partials ring long enough to tell a ripple")
    spread = limits.RIPPLE_SPREAD_DB * float(np.sqrt(1.0 / now.n_plucks + 1.0 / fresh.n_plucks))
    return Figure(float(np.nanmax(new)), spread)


def _rows(reading: Reading) -> list[np.ndarray]:
    return [np.array([np.nan if depth is None else depth for depth in row]) for row in reading.ripples_db]


def _beside(row: np.ndarray) -> np.ndarray:
    """The greatest depth at a rate or the next on either side: rates wander by a step from pluck to pluck."""
    padded = np.concatenate([[np.nan], row, [np.nan]])
    return np.fmax(np.fmax(padded[:-2], padded[2:]), row)


def _ranked(rows: Sequence[np.ndarray], rank: float) -> np.ndarray:
    """Value at that rank (rounded) of the ascending depths at each rate; NaN where any pluck cannot tell."""
    return np.sort(np.array(rows), axis=0)[int(np.clip(round(rank), 0, len(rows) - 1))] + 0.0 * np.sum(rows, axis=0)
