"""Beats that were not there: how much more the partials' strength swings than when fresh.

A string that is not round, or uneven along its length, beats in all its partials; a neighbour answers in few. So the depth of each
partial's beat is compared with the same partial's fresh depth, and many partials together tell.
"""

from __future__ import annotations

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.robust import robust_mean
from toneprobe.measure.figure import Figure

LEAST_PARTIALS = 2
DEEPEST_DB = 12.0  # a partial that all but vanishes counts no more than this


def beat_change(pairs: Pairs) -> Figure:
    """Mean new depth over the partials, dB peak to peak; negative where beats have gone."""
    known = np.isfinite(pairs.beat_db)
    if known.sum() < LEAST_PARTIALS:
        return Figure(None, None, "too few partials followed in time in both sweeps")
    variance = limits.PARTIAL_BEAT_SPREAD_DB**2 * pairs.per_pluck[known]
    centre, se = robust_mean(np.clip(pairs.beat_db[known], -DEEPEST_DB, DEEPEST_DB), variance)
    return Figure(centre, float(np.hypot(se, limits.BEAT_SPREAD_DB * np.sqrt(pairs.per_pluck[known].mean()))))
