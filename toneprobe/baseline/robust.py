"""Weighted means and fits that a few wrong members cannot drag away.

The noise is taken as Student's t with `FREEDOM` degrees of freedom about the model: a member far off loses its say, one near keeps it
all. The errors that come out are those of the weights left, enlarged where the members scatter by more than their variances say.
"""

from __future__ import annotations

import numpy as np

FREEDOM = 4.0
N_ROUNDS = 25
LEAST_FOR_SCALE = 4  # members from which the scatter about the fit is believed
PRIOR_MEMBERS = 3.0  # members that scattered as their variances say, added to those seen


def robust_fit(values: np.ndarray, variances: np.ndarray, design: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(coefficients, their covariance, weights) of values ≈ design @ coefficients. Shapes (n,), (n,), (n, k); n ≥ k, rank k."""
    trust = np.ones(len(values))
    for _ in range(N_ROUNDS):
        weights = trust / variances
        normal = design.T @ (weights[:, None] * design)
        coefficients = np.linalg.solve(normal, design.T @ (weights * values))
        off2 = (values - design @ coefficients) ** 2 / variances
        scale2 = _scale2(off2, design.shape[1])
        trust = (FREEDOM + 1.0) / (FREEDOM + off2 / scale2)
    weights = np.minimum(trust, 1.0) / variances
    normal = design.T @ (weights[:, None] * design)
    return coefficients, np.linalg.inv(normal) * scale2, weights


def robust_mean(values: np.ndarray, variances: np.ndarray) -> tuple[float, float]:
    """(mean, standard error); shapes (n,), n ≥ 1."""
    coefficients, covariance, _ = robust_fit(values, variances, np.ones((len(values), 1)))
    return float(coefficients[0]), float(np.sqrt(covariance[0, 0]))


def _scale2(off2: np.ndarray, n_fitted: int) -> float:
    """How far the members scatter beyond their variances, as a factor on these, at least 1."""
    if len(off2) < LEAST_FOR_SCALE:
        return 1.0
    middle = float(np.median(off2)) / 0.4549 * len(off2) / max(len(off2) - n_fitted, 1)  # 0.4549: median of χ² with one degree
    return max(1.0, (PRIOR_MEMBERS + len(off2) * middle) / (PRIOR_MEMBERS + len(off2)))
