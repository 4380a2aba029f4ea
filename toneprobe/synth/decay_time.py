"""The one decay time that a model truly has: that of its low partials together."""

import numpy as np
from scipy.optimize import brentq

from toneprobe.synth.pluck import USUAL_PLUCK, bridge_force_n
from toneprobe.synth.soundboard import radiation
from toneprobe.synth.string_model import StringModel
from toneprobe.synth.truth import true_partials


def true_t60_s(model: StringModel, n_low: int = 6) -> float:
    """Decay time of partials 1 to n_low together, without beats: three times the time from −5 to −25 dB of the energy still to come, of the
    loud polarisation, plucked at 0.36 of the length and heard through the soundboard. With one partial it is ln(1000)/δ."""
    partials = true_partials(model, n_low)
    heard = bridge_force_n(model, partials, USUAL_PLUCK) * radiation(model.board, partials.freq_hz)
    to_come = heard**2 / (2.0 * partials.delta_per_s)
    early_s, late_s = (_time_of_fall_s(to_come, partials.delta_per_s, fall_db) for fall_db in (5.0, 25.0))
    return 3.0 * (late_s - early_s)


def _time_of_fall_s(energies: np.ndarray, delta_per_s: np.ndarray, fall_db: float) -> float:
    """When Σ energies·exp(−2δt) has fallen by fall_db: between the times of the fastest and of the slowest partial."""
    nepers = fall_db / 20.0 * np.log(10.0)
    low, high = nepers / delta_per_s.max(), nepers / delta_per_s.min()
    target = energies.sum() * 10.0 ** (-fall_db / 10.0)
    return brentq(lambda time_s: energies @ np.exp(-2.0 * delta_per_s * time_s) - target, 0.999 * low, 1.001 * high, xtol=1e-12)
