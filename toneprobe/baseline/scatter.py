"""How far single plucks of untouched strings scatter: learnt from strings plucked more than once, pooled over their register.

A string's own spread has one or two degrees of freedom and is worth little alone. Strings near in pitch are plucked by the same finger in
the same way, so their variances are averaged, weighted by degrees of freedom and nearness in pitch, with a starting value from `limits`
that counts as `PRIOR_FREEDOM` degrees. The result is the scale of the posterior under a scaled-inverse-χ² prior, not its (larger) mean.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.measure.figure import EARLY_RANGE_DB
from toneprobe.session.reading import PartialReading, Reading
from toneprobe.units import DB_PER_NEPER

STRONGEST_DECAY_SHARE = 0.5  # spread of a string's strongest partial, which hides neighbours and noise, over the usual spread of one
DECAY_SHARE_DOUBLES_DB = 38.0  # a partial so much weaker scatters twice as much (measured: 0.07 at the top, 0.17 at −35 dB, 0.21 at −45 dB)
SHOWN_POWER = 1.2  # power of 30 dB over what is shown of its fall, the factor on the scatter of a log decay where neither side shows it all
# (derived here, two modes in another mixture in each pluck: within a tenth from 27 to 8 dB; measured on 96 real plucks, cut short
# and in noise, the same)
LEAST_SHOWN_DB = 6.0  # fewer count as so many (set: hardly any decay is measured on less)
NEARNESS_OCTAVES = 0.7  # distance in pitch at which a string's weight has fallen to exp(−½)
PRIOR_FREEDOM = 8.0  # degrees of freedom that the starting value counts as
N_PARTIALS_ALIKE = 4.0  # the partials of one string's plucks are not independent: this many count as one


@dataclass(frozen=True)
class Scatter:
    """Standard deviation of one pluck of one string."""

    partial_decay: float = limits.PARTIAL_DECAY_SPREAD  # log decay of one partial of middle level
    string_decay: float = limits.STRING_DECAY_SPREAD  # log decay, all partials together


USUAL_SCATTER = Scatter()


def level_factor(level_db: np.ndarray | float) -> np.ndarray | float:
    """Share of `Scatter.partial_decay` for a partial so many dB (at most 0) relative to the string's strongest."""
    return STRONGEST_DECAY_SHARE * 2.0 ** (-np.asarray(level_db) / DECAY_SHARE_DOUBLES_DB)


def fall_factor(shown_db: float) -> float:
    """Factor on a partial's decay scatter where only shown_db of the first EARLY_RANGE_DB are shown: what its beats leave on a fall tilts
    it the more the shorter it is."""
    return (EARLY_RANGE_DB / min(max(shown_db, LEAST_SHOWN_DB), EARLY_RANGE_DB)) ** SHOWN_POWER


def shown_db(partial: PartialReading, decay: float) -> float:
    """How much of its fall a partial shows before the noise or, at that amplitude decay rate in 1/s, before the cut; all where unknown."""
    before_noise = EARLY_RANGE_DB if partial.heard_db is None else partial.heard_db
    return before_noise if partial.heard_s is None else min(before_noise, DB_PER_NEPER * decay * partial.heard_s)


def pooled_scatter(readings: Iterable[Reading]) -> Mapping[str, Scatter]:
    """For every string among the readings (several readings of one string, from several sweeps, all count)."""
    rows = [row for reading in readings if (row := _row(reading))]
    table = np.array([row[1:] for row in rows], float).reshape(-1, 5)
    return {string: _pooled_at(log_pitch, table) for string, log_pitch, *_ in rows}


def _row(reading: Reading) -> tuple | None:
    """(string, log2 pitch, variance of one partial of middle level, its freedom, that of all together, its freedom), as of whole falls."""
    pitch = reading.figures["pitch_hz"]
    lowest = next((p.freq_hz.value / p.n for p in reading.partials if p.freq_hz.known), None)
    hz = pitch.value if pitch.known else lowest
    if not hz:
        return None
    told = [p for p in reading.partials if p.decay_spread is not None]
    partials = [((p.decay_spread / _usual_share(p)) ** 2, p.n_plucks - 1) for p in told]
    freedom = sum(k for _, k in partials)
    variance = sum(v * k for v, k in partials) / freedom if freedom else 0.0
    own = (0.0, 0) if reading.decay_spread is None else ((reading.decay_spread / _string_fall_factor(reading)) ** 2, reading.n_plucks - 1)
    return (reading.string, float(np.log2(hz)), variance, freedom / N_PARTIALS_ALIKE, *own)


def _usual_share(partial: PartialReading) -> float:
    """Share of `Scatter.partial_decay` by which it scatters."""
    return level_factor(partial.level_db.value) * _own_fall_factor(partial)


def _own_fall_factor(partial: PartialReading) -> float:
    return fall_factor(shown_db(partial, math.exp(partial.log_decay.value)))


def _string_fall_factor(reading: Reading) -> float:
    """Factor on the scatter of all its partials together: the middle of theirs."""
    return float(np.median([_own_fall_factor(partial) for partial in reading.partials if partial.log_decay.known]))


def _pooled_at(log_pitch: float, table: np.ndarray) -> Scatter:
    """table: the rows of all strings, without their names."""
    log_pitches, of_partial, partial_freedom, of_string, string_freedom = table.T
    near = np.exp(-0.5 * ((log_pitches - log_pitch) / NEARNESS_OCTAVES) ** 2)
    return Scatter(_pooled(of_partial, near * partial_freedom, limits.PARTIAL_DECAY_SPREAD),
                   _pooled(of_string, near * string_freedom, limits.STRING_DECAY_SPREAD))


def _pooled(variances: np.ndarray, freedom: np.ndarray, prior: float) -> float:
    """Large single variances (a botched pluck) are cut at nine times the prior's."""
    seen = float(np.sum(freedom * np.minimum(variances, 9.0 * prior**2)))
    return float(np.sqrt((PRIOR_FREEDOM * prior**2 + seen) / (PRIOR_FREEDOM + np.sum(freedom))))
