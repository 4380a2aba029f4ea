"""How far a string's pitch goes up and down while it rings, by what the phases of all its partials share.

Whatever lets the pull on a string come and go moves all its partials by the same cents, at one rate, and leaves their levels. A second
voice beats in each partial at a rate of its own, and in the level as much (see `ripple`); two polarisations and neighbours turn the phases
of single partials, in whichever way.
Model: a partial of f Hz whose phase turns by Re[a·exp(2πi·r·t)] about its slow course goes up and down by Re[i·a·exp(2πi·r·t)]·r/f of its
frequency (derived: the frequency is the phase's slope). Estimator: that, in cents, per partial, by the fit of `ripple`, its error likewise
from what the phase does besides; then the mean with Student-t weights. A turn of one radian is so many cents less the higher the partial,
so the high ones tell most.
A partial is followed farther down than for its level, as a phase that slips is a matter of single partials.
Not seen: waves of fewer than two swings while the partials ring. The glide of a hard pluck is taken out before; what is left of it falls
once and comes up no more, as one swing does.
"""

from collections.abc import Sequence

import numpy as np

from toneprobe.measure.envelope import Envelope
from toneprobe.measure.figure import PitchWave
from toneprobe.measure.ripple import LEAST_TELLING, MOST_PARTIALS, OWN_POWER, OWN_SHARE, shared_swing, swings_of, told_rows
from toneprobe.units import CENTS, DB_PER_NEPER

# 0.12 apart: half-way between two, one has turned by 0.3 in the 5 s of a long ring, and sin(0.3π)/0.3π, 0.86, of it is told (derived)
RATES_HZ = tuple(round(0.8 + 0.12 * k, 2) for k in range(79))
LEAST_WAVES = 2.0  # of a partial
RANGE_DB = 45.0  # that its fall is followed for (set: short strings have two swings of 3 Hz in it, and in 30 dB not)
OWN_FLOOR_CENTS = 0.05  # of a single partial (set)
MOST_ERROR_CENTS = 4.0  # of either part; a wave less sure than this counts as not measured (set: two of these are what is heard)


def pitch_wave(numbers: Sequence[int], bands: Sequence[Envelope]) -> PitchWave:
    """At RATES_HZ. bands: the partials' envelopes, in the order of their numbers."""
    rows = [row for n, one in zip(numbers, bands, strict=True) if n <= MOST_PARTIALS and (row := _wave_of(one)) is not None]
    if len(rows) < LEAST_TELLING:
        return PitchWave()
    return PitchWave(*told_rows(*shared_swing(*(np.array(part) for part in zip(*rows, strict=True)), most_error=MOST_ERROR_CENTS)))


def _wave_of(envelope: Envelope) -> tuple[np.ndarray, np.ndarray] | None:
    """Complex amplitudes in cents at each rate, and their variances, inf where not measured."""
    rates_hz = np.array(RATES_HZ)
    found = swings_of(envelope, rates_hz, least=LEAST_WAVES, range_db=RANGE_DB)
    if found is None:
        return None
    phase = found.restless(found.log_db.imag / DB_PER_NEPER)
    cents_of_radian = CENTS * rates_hz[found.told] / envelope.centre_hz
    amplitude, variance = np.zeros(len(rates_hz), complex), np.full(len(rates_hz), np.inf)
    amplitude[found.told] = 2j * found.fitted(phase) * cents_of_radian
    own = OWN_SHARE * found.rms(phase) / found.n_swings[found.told] ** OWN_POWER
    variance[found.told] = (own * cents_of_radian) ** 2 + OWN_FLOOR_CENTS**2
    return amplitude, variance
