"""The damping law: what a string loses over frequency, and which partials lose more than any smooth law explains.

Model: δ(f) = board + air·√(f/1 kHz) + inner·(f/1 kHz), each ≥ 0. The end at the soundboard takes about the same share of the energy at each
reflection, a constant rate; air friction grows as √f; loss inside the material and between windings at least as f (Valette 1995, from
memory). Fitted with non-negative shares to the logs of the decay rates, robust against a partial on a soundboard resonance. In logs,
because rates scatter by a share of themselves: divided by the measured rates, low ones count most and the law runs low (by 5 % at a scatter
of 20 %, 20 % at 40 %); divided by the law's own, it runs high by half the scatter's square. Over few partials the three terms look alike:
trust the curve, not its shares.
"""

from collections.abc import Sequence

import numpy as np

from toneprobe.measure.figure import DampingLaw, Partial
from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.units import LN_1000

LEAST_PARTIALS = 4
LEAST_LOG_SE = 0.05
HUBER = 1.5
N_ROUNDS = 8
STEP = 0.7  # of ln δ: most that one partial counts for in a round, so that none leads to a negative rate


def fit_damping(partials: Sequence[Partial]) -> DampingLaw | None:
    """The law of one pluck; None with fewer than LEAST_PARTIALS decays."""
    known = [one for one in partials if one.t60_s is not None and one.t60_se_s is not None]
    if len(known) < LEAST_PARTIALS:
        return None
    from scipy.optimize import nnls  # slow to load, and only those that measure need it

    freq_khz = np.array([one.freq_hz for one in known]) / 1000.0
    delta = LN_1000 / np.array([one.t60_s for one in known])
    log_se = np.maximum([one.t60_se_s / one.t60_s for one in known], LEAST_LOG_SE)
    terms = np.stack([np.ones(len(known)), np.sqrt(freq_khz), freq_khz], axis=1)
    trust, law, residual = np.ones(len(known)), delta, np.zeros(len(known))
    for _ in range(N_ROUNDS):
        # Gauss–Newton in ln δ: ln(terms·shares) ≈ ln(law) + terms·shares/law − 1, from the rates themselves at first
        weight = np.sqrt(trust) / log_se
        shares, _ = nnls(terms / law[:, None] * weight[:, None], (1.0 + np.clip(residual, -STEP, STEP)) * weight)
        law = np.maximum(terms @ shares, 1e-9)
        residual = np.log(delta / law)
        spread = max(SD_OF_DEVIATION * float(np.median(np.abs(residual))), LEAST_LOG_SE)
        trust = 1.0 / np.maximum(1.0, np.abs(residual) / (HUBER * spread))
    board, air, inner = (float(share) for share in shares)
    return DampingLaw(board, air, inner, float(np.sqrt(np.mean(residual**2))), tuple(one.n for one in known), tuple(residual.tolist()))


def law_delta(law: DampingLaw, freq_hz: float) -> float:
    """Amplitude decay rate in 1/s that a law gives at a frequency."""
    freq_khz = freq_hz / 1000.0
    return law.board_per_s + law.air_per_s * freq_khz**0.5 + law.inner_per_s * freq_khz
