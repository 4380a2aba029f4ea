"""Several plucks' values of one figure into one: a weighted mean that one bad pluck cannot drag away, and its honest error.

Each value counts by its own standard error; with three or more, values far from the median count less (Huber). The error of the mean
is that of the errors handed in, enlarged where the values scatter by more than those say; how far is learnt from few plucks only
cautiously (as from `PRIOR_PLUCKS` that agreed). Figures that are ratios by nature are pooled as logarithms.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from toneprobe.measure.figure import Figure

LOG_FIGURES = frozenset({"pitch_hz", "inharmonicity", "t60_s", "centroid_hz", "centroid_ratio", "centroid_partials_hz"})
PRIOR_PLUCKS = 3.0
HUBER = 1.5


def pool(figures: Sequence[Figure], *, as_log: bool = False) -> Figure:
    """One figure for several plucks. None with the most frequent reason where no pluck has a value."""
    known = [f for f in figures if f.known and (not as_log or f.value > 0.0)]
    if not known:
        return Figure(None, None, _usual_reason(figures))
    values = np.array([f.value for f in known], float)
    errors = np.array([f.se if f.se else np.nan for f in known], float)
    if as_log:
        errors, values = errors / values, np.log(values)
    centre, se = pool_values(values, errors)
    return Figure(float(np.exp(centre)), float(np.exp(centre) * se) if se else None) if as_log else Figure(centre, se or None)


def pool_values(values: np.ndarray, errors: np.ndarray) -> tuple[float, float]:
    """(centre, its standard error) of values, shape (k,), with standard errors of the same shape, NaN where unknown.

    Where no error is known the scatter alone tells; one value without error has the error 0, which means unknown.
    """
    known = np.isfinite(errors) & (errors > 0)
    usual = float(np.median(errors[known])) if known.any() else _scatter(values)
    if usual <= 0.0:
        return float(np.mean(values)), 0.0
    sigma = np.where(known, errors, usual)
    weights = _huber(values, sigma) / sigma**2
    centre = float(np.sum(weights * values) / np.sum(weights))
    chi2 = float(np.sum(weights * (values - centre) ** 2))
    inflation = max(1.0, (PRIOR_PLUCKS + chi2) / (PRIOR_PLUCKS + len(values) - 1))
    return centre, float(np.sqrt(inflation / np.sum(weights)))


def spread_of(values: Sequence[float]) -> float | None:
    """Standard deviation of one pluck about the mean; None with fewer than two."""
    return float(np.std(values, ddof=1)) if len(values) > 1 else None


def _huber(values: np.ndarray, sigma: np.ndarray) -> np.ndarray:
    if len(values) < 3:
        return np.ones(len(values))
    off = np.abs(values - np.median(values)) / sigma
    scale = max(1.0, 1.4826 * float(np.median(off)))
    return 1.0 / np.maximum(1.0, off / (HUBER * scale))


def _scatter(values: np.ndarray) -> float:
    return float(np.std(values, ddof=1)) if len(values) > 1 else 0.0


def _usual_reason(figures: Sequence[Figure]) -> str:
    reasons = Counter(f.reason for f in figures if f.reason)
    return reasons.most_common(1)[0][0] if reasons else "not measured"
