"""What became of a string's series of partials: its pitch, its stiffness, and partials that went astray.

The same partial's frequency now against fresh, in cents, is c_n = a + 600·log2((1 + B'·n²)/(1 + B·n²)) + r_n: `a` is the pitch that the
pin, the weather or a pedal moved, B' the present inharmonicity, and r_n what no even string can do: the pattern of a local fault. A mass
at one place shifts partials up and down with n (Rayleigh), a loose winding scatters them. Because each partial is compared with itself,
what the harp itself does to the partials of a healthy string (board resonances, neighbours) cancels.

How astray: the rms of r_n, less what two plucks of an untouched string would show. How sure: Σ min(r_n²/σ_n², CUT), so that no single
mistaken partial can condemn a string.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import CENTS, Pairs, pitch_variance
from toneprobe.baseline.robust import robust_fit
from toneprobe.measure.figure import Figure

LEAST_FOR_PITCH = 1
LEAST_FOR_STRETCH = 3
LEAST_FOR_ASTRAY = 4
CUT = 9.0
MOST_CENTS = 25.0  # of one partial in the rms
TOO_FEW = Figure(None, None, "too few partials found in both sweeps")


@dataclass(frozen=True)
class SeriesChange:
    pitch_cents: Figure  # by how much all partials moved together
    stretch: Figure  # natural log of present over fresh B
    astray_cents: Figure  # rms beyond what plucks differ by; the error is that of a string that did not change
    freedom: int  # of the r_n after the fit; 0: not known
    pattern: tuple[tuple[int, float, float], ...]  # (n, r_n in cents, σ_n in cents)


def series_change(pairs: Pairs, fresh_b: Figure) -> SeriesChange:
    """Needs 1 pair for the pitch, 3 and a fresh B for the stretch, 4 for what went astray."""
    n = len(pairs.n)
    if n < LEAST_FOR_PITCH:
        return SeriesChange(TOO_FEW, TOO_FEW, TOO_FEW, 0, ())
    variance, b = pitch_variance(pairs), fresh_b.value if fresh_b.known else None
    stretchable = n >= LEAST_FOR_STRETCH and b is not None
    fit = _fit(pairs, variance, b if stretchable else None)
    stretch = Figure(fit.stretch, fit.stretch_se) if stretchable else (TOO_FEW if b is not None else Figure(None, None, fresh_b.reason))
    pitch = Figure(fit.pitch, fit.pitch_se)
    freedom = n - (2 if stretchable else 1)
    if n < LEAST_FOR_ASTRAY:
        return SeriesChange(pitch, stretch, TOO_FEW, 0, ())
    pattern = tuple((int(n), float(r), float(s)) for n, r, s in zip(pairs.n, fit.rest, np.sqrt(variance), strict=True))
    return SeriesChange(pitch, stretch, _astray(fit.rest, variance, freedom), freedom, pattern)


def cut_chi2(change: SeriesChange, scale: float = 1.0) -> float:
    """Σ min(r²/(scale·σ)², CUT): scale is how much more than σ this sweep's plucks scatter."""
    return sum(min((rest / (scale * sigma)) ** 2, CUT) for _, rest, sigma in change.pattern)


@dataclass(frozen=True)
class _Fit:
    pitch: float
    pitch_se: float
    stretch: float
    stretch_se: float
    rest: np.ndarray


def _fit(pairs: Pairs, variance: np.ndarray, b: float | None) -> _Fit:
    """Gauss–Newton in (a, ln B'); a step in ln B' is held within a factor e."""
    n2, ones, log_ratio = pairs.n**2, np.ones(len(pairs.n)), 0.0
    for _ in range(1 if b is None else 6):
        if b is None:
            design, model = ones[:, None], 0.0
        else:
            b_now = b * np.exp(log_ratio)
            model = 0.5 * CENTS * np.log((1.0 + b_now * n2) / (1.0 + b * n2))
            design = np.stack([ones, 0.5 * CENTS * b_now * n2 / (1.0 + b_now * n2)], axis=1)
        coefficients, covariance, _ = robust_fit(pairs.cents - model, variance, design)
        log_ratio += float(np.clip(coefficients[1], -1.0, 1.0)) if b is not None else 0.0
    rest = pairs.cents - model - design @ coefficients
    se = np.sqrt(np.diag(covariance))
    return _Fit(float(coefficients[0]), float(se[0]), log_ratio, float(se[-1]) if b is not None else 0.0, rest)


def _astray(rest: np.ndarray, variance: np.ndarray, freedom: int) -> Figure:
    weights = 1.0 / variance
    share = freedom / len(rest)
    seen = float(np.sum(weights * np.minimum(rest**2, MOST_CENTS**2)) / np.sum(weights))
    expected = float(share * len(rest) / np.sum(weights))
    return Figure(float(np.sqrt(max(0.0, seen - expected) / share)), float(np.sqrt(expected / (2.0 * freedom))))
