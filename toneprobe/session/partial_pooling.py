"""The partials of several plucks of one string, matched by number, into one row of partial readings.

A string may stand some cents higher in one pluck than in the next (a pin touched, a warm hand, a firm pull). All its partials move with it,
so that is no scatter of any of them: it is subtracted before they are pooled, and their mean pitch stays.

On a short string other lines ring within reach of a partial and as loud, and a little noise decides which is taken. Several plucks show
that by contradicting each other; for one alone, what rings beside its partials is kept with them.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from toneprobe.measure.figure import EARLY_OVER_NOISE, EARLY_RANGE_DB, HUM, Figure, Partial, PluckMeasurement
from toneprobe.session.pooling import pool, spread_of
from toneprobe.session.reading import PartialReading, Stray
from toneprobe.units import LN_1000, cents_between, shift_hz

NO_DECAY = "decay not measured"
LEAST_SHARED = 3  # partials that plucks must share to be compared as a whole
OVER_NOISE_DB = 10.0 * math.log10(EARLY_OVER_NOISE)  # down to there a partial's early fall is followed
NO_FREQUENCY_ERROR_HZ = 0.05  # where the measurement gives none
BESIDE_CENTS = 25.0  # within so many of a partial another line may be the string's own instead: so far a soundboard pulls it (set)
BESIDE_DB = 10.0  # such a line is weaker by no more than this (set)


def pool_partials(plucks: Sequence[PluckMeasurement]) -> tuple[PartialReading, ...]:
    """Ascending n; a partial that any pluck has is there."""
    rows = [pluck.partials for pluck in plucks]
    found: dict[int, list[_Found]] = {}
    for pluck, cents in zip(plucks, pitch_offsets_cents(rows), strict=True):
        for partial in pluck.partials:
            found.setdefault(partial.n, []).append(_Found(partial, shift_hz(partial.freq_hz, -cents), pluck))
    return tuple(_pooled(n, found[n]) for n in sorted(found))


class _Found(NamedTuple):
    """One partial in one pluck."""

    partial: Partial
    freq_hz: float  # with all plucks at one pitch
    pluck: PluckMeasurement


def pitch_offsets_cents(rows: Sequence[Sequence[Partial]]) -> list[float]:
    """How far each pluck's partials lie, all together, above the mean of the plucks: the median over those shared with the fullest pluck.

    0 for a pluck that shares fewer than LEAST_SHARED with it: where it stands cannot be told.
    """
    fullest = {p.n: p.freq_hz for p in max(rows, key=len, default=())}
    apart = [[cents_between(p.freq_hz, fullest[p.n]) for p in row if p.n in fullest] for row in rows]
    told = {place: float(np.median(cents)) for place, cents in enumerate(apart) if len(cents) >= LEAST_SHARED}
    mean = sum(told.values()) / max(len(told), 1)
    return [told[place] - mean if place in told else 0.0 for place in range(len(rows))]


def string_decay_spread(plucks: Sequence[PluckMeasurement]) -> float | None:
    """Spread of the log decay of all partials together: each pluck's median distance from the partials' means. None unless two plucks share
    LEAST_SHARED of them."""
    rows = [{p.n: log_decay(p).value for p in pluck.partials if log_decay(p).known} for pluck in plucks]
    shared = sorted(set.intersection(*map(set, rows)))
    if len(shared) < LEAST_SHARED:
        return None
    table = np.array([[row[n] for n in shared] for row in rows])
    return spread_of(np.median(table - table.mean(axis=0), axis=1).tolist())


def log_decay(partial: Partial) -> Figure:
    """Natural log of the partial's decay rate, ln(ln(1000)/T60), from the part of its fall that noisier recordings still show."""
    if partial.t60_s is None or partial.t60_s <= 0.0:
        return Figure(None, None, NO_DECAY)
    log_se = partial.t60_se_s / partial.t60_s if partial.t60_se_s else None
    return Figure(math.log(LN_1000 / (partial.early_t60_s or partial.t60_s)), log_se)


def _pooled(n: int, found: Sequence[_Found]) -> PartialReading:
    """found: partial n in each pluck that has it."""
    partials = [one.partial for one in found]
    decays = [log_decay(p) for p in partials]
    late = [math.log(LN_1000 / p.late_t60_s) for p in partials if p.late_t60_s]
    freq_hz = pool([Figure(one.freq_hz, one.partial.freq_se_hz or NO_FREQUENCY_ERROR_HZ) for one in found], as_log=True)
    return PartialReading(
        n,
        freq_hz=freq_hz,
        log_decay=pool(decays),
        level_db=pool([Figure(p.level_db) for p in partials]),
        n_plucks=len(partials),
        decay_spread=spread_of([d.value for d in decays if d.known]),
        snr_db=min(p.snr_db for p in partials),
        strays=tuple(Stray(cents_between(one.freq_hz, freq_hz.value), one.pluck.glide_cents.value) for one in found),
        heard_db=sum(min(max(p.snr_db - OVER_NOISE_DB, 0.0), EARLY_RANGE_DB) for p in partials) / len(partials),
        heard_s=sum(one.pluck.ring_s for one in found) / len(found),
        beside_cents=_beside_cents(found[0]) if len(found) == 1 else 0.0,
        late_log_decay=sum(late) / len(late) if late else None,
    )


def _beside_cents(found: _Found) -> float:
    """The rms distance of the lines about a partial, each weighted by its power, none more than the partial itself."""
    partial = found.partial
    rows = [(10.0 ** (min(line.level_db - partial.level_db, 0.0) / 10.0), cents_between(line.freq_hz, partial.freq_hz))
            for line in found.pluck.others if line.level_db >= partial.level_db - BESIDE_DB and line.taken_for != HUM]
    near = [(power, cents) for power, cents in rows if abs(cents) <= BESIDE_CENTS]
    return math.sqrt(sum(power * cents**2 for power, cents in near) / (1.0 + sum(power for power, _ in near)))
