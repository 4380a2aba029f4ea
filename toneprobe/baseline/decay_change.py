"""How much faster a string dies away than when fresh, partial against the same partial: all, the lowest, the upper half.

Δ_n = ln δ_n(now) − ln δ_n(fresh), positive where the partial dies faster. How hard or where the string was plucked hardly enters a
partial's decay; which mixture of its two polarisations was excited does, so one Δ_n scatters by 10 to 60 % and only many together tell.
The error of the whole has six parts: the partials' scatter, what all partials of a pluck share (the pull's direction), the day's, the
hand's where it differs, how much less of the fall the noise leaves in one of the two, and how much less a pluck shows that was cut short.

The damping-law view: what a string loses through its own matter grows with frequency (δ = π·f·η), dirt in the windings with its square,
while a loss at the ends or on the surface adds the same rate to all: the low partials, slow to die, lose half their ring where the high
ones hardly change. So the lowest partials, which carry the ring, and the upper half are given apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.robust import robust_mean
from toneprobe.baseline.scatter import Scatter, by_level
from toneprobe.measure.decay import LOW_PARTIALS
from toneprobe.measure.figure import Figure

LEAST_PARTIALS = 2
LEAST_HALF = 3  # partials in each half before the halves are told apart
TOO_FEW = Figure(None, None, "too few partials ring long enough in both sweeps")


@dataclass(frozen=True)
class DecayChange:
    """Natural logs of fresh over present decay time: 0.69 is half the ring."""

    all: Figure
    low: Figure  # the lowest partials, which carry the ring
    high: Figure  # upper half
    less_rung_db: float = 0.0  # by how much less of the fall one of the two shows because it was cut short, mean of the lowest partials


def decay_change(pairs: Pairs, scatter: Scatter, *, n_now: int, n_fresh: int, hand: float = 0.0) -> DecayChange:
    """Change from the pairs, which need at least LEAST_PARTIALS decays known in both. n_now, n_fresh: plucks.

    hand: log ratio of pitch glides, how differently the string was plucked (see `hand`).
    """
    pairs = pairs.where(np.isfinite(pairs.log_decay))
    n = len(pairs.n)
    if n < LEAST_PARTIALS:
        return DecayChange(TOO_FEW, TOO_FEW, TOO_FEW)
    variance = np.maximum(limits.CORE_SHARE * pairs.log_decay_var, scatter.partial_decay**2 * pairs.per_pluck)
    variance = variance * by_level(np.minimum(pairs.fresh_level_db, 0.0)) ** 2
    variance = variance + (limits.LESS_HEARD_PARTIAL * pairs.less_heard_db) ** 2 + (limits.CUT_SHORT_PARTIAL * pairs.less_rung_db) ** 2
    shared = scatter.string_decay**2 * (1.0 / n_now + 1.0 / n_fresh) + 2.0 * limits.SESSION_DECAY_SPREAD**2
    of_high = shared + (limits.HAND_HIGHS_SHARE * hand) ** 2
    shared += (limits.HAND_DECAY_SHARE * hand) ** 2
    whole = _mean(pairs, variance, shared)
    low = pairs.n <= LOW_PARTIALS
    less_rung_db = float(pairs.less_rung_db[low].mean()) if low.any() else 0.0
    lowest = _mean(pairs.where(low), variance[low], shared) if low.sum() >= LEAST_HALF else TOO_FEW
    if n < 2 * LEAST_HALF:
        return DecayChange(whole, lowest, TOO_FEW, less_rung_db)
    high = np.arange(n) >= n // 2
    return DecayChange(whole, lowest, _mean(pairs.where(high), variance[high], of_high), less_rung_db)


def whole_ring_change(now: Figure, fresh: Figure, *, n_now: int, n_fresh: int) -> Figure:
    """The change from the strings' decay times alone, where too few partials can be paired; other partials may decide in each."""
    if not (now.known and fresh.known):
        return TOO_FEW
    errors = [f.se / f.value if f.se else 0.0 for f in (now, fresh)]
    spread = limits.WHOLE_DECAY_SPREAD * float(np.sqrt(1.0 / n_now + 1.0 / n_fresh))
    return Figure(float(np.log(fresh.value / now.value)), float(np.sqrt(errors[0] ** 2 + errors[1] ** 2 + spread**2)))


def _mean(pairs: Pairs, variance: np.ndarray, shared: float) -> Figure:
    """Where one of the two shows less of the fall, all partials seem to die faster there, for what comes first is the steeper."""
    centre, se = robust_mean(pairs.log_decay, variance)
    hidden = limits.LESS_HEARD_DECAY * pairs.less_heard_db.mean()
    cut = limits.CUT_SHORT_DECAY * max(pairs.less_rung_db.mean() - limits.CUT_SHORT_DB, 0.0)
    return Figure(centre, float(np.sqrt(se**2 + shared + hidden**2 + cut**2)))
