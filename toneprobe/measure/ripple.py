"""Ripple that all partials of a string share: the swelling and fading of a tone that wavers.

Two polarisations and answering neighbours make single partials beat, each at its own rate and depth; a healthy harp is full of such beats,
and they change with every pluck. A *string* that wavers does so in all its partials at once, in phase from the onset: its loudness swings
at one rate (a loose end, a loose winding), or it has a second voice so many cents away, and each partial beats at a rate in proportion to
its frequency.

Model: ln z_n(t) = slow curve + ripple + own beats. A swing is Re[c·exp(2πi·r·t)] in the level alone. A second voice adds c·exp(2πi·r·t) to
the *complex* logarithm: level and phase swing alike, a quarter turn apart, which no swing of loudness does and a chance beat as often the
other way round. In dB (8.686·ln) a voice of amplitude ratio a has |c| = 8.686·a.
Estimator: per partial, c_n(r) by least squares after a parabola is removed. A partial's own movement is like a random walk: c_n errs by
about its rms swing over the number of swings heard (`OWN_SHARE`, measured on untouched strings). So curves are whitened first, and long
partials count most. The shared c(r) is their mean with Student-t weights, in which a partial that beats by itself counts little. Both parts
are kept, in phase with the onset and a quarter turn later: what the string itself does is the same in every pluck, which starts it, while
chance beats vary (`baseline.ripple_change`).
Width of the split: a player hears how fast it beats, and 1.5 beats a second are 10 cents at C4, but 39 at C2. Three per cent, a quarter
tone, is the set end: beyond it two voices are hardly one string's, and the bands of the upper partials pass less and less of the second
(flat to 2.4 %, two thirds at 3 %). In high strings the envelopes' rate ends it sooner, at 18 swings a second. Wide splits swing 15 to 40
times while a partial rings, so that one between two steps of 7 % would be out of step by the end.
Not seen: ripple slower than 1.3 swings while the partials ring, or 3 where a hand cuts the ring before 5 s (a bass wire rings for 20 s and
its polarisations beat as slowly; 3 s of that are a piece, no parabola, alike in many partials and another with each hand), or in fewer than
about three partials.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.exponentials import exponentials
from toneprobe.measure.envelope import Envelope, heard_until
from toneprobe.measure.figure import SharedRipple
from toneprobe.units import DB_PER_NEPER

RATES_HZ = tuple(np.geomspace(0.8, 12.0, 40).tolist())  # one rate for all partials, 7 % apart
NEAR_CENTS = np.geomspace(1.5, 16.0, 35)  # of a second voice beside the string
FAR_CENTS = np.geomspace(16.0, 52.0, 50)[1:]  # the same up to a quarter tone, 2.4 % apart, for more swings of them are heard
SPLITS_CENTS = tuple(side * cents for row in (NEAR_CENTS, FAR_CENTS) for side in (1.0, -1.0) for cents in row.tolist())
N_BEFORE = len(RATES_HZ) + 2 * len(NEAR_CENTS)  # all that is known of plucks measured before the far ones were added
LEAST_TELLING = 3  # partials; none counts more than the third surest does
MOST_ERROR_DB = 1.0  # a depth less sure than this counts as not measured
MOST_PARTIALS = 14
RANGE_DB = 30.0
NOISE_DB = 12.0  # a partial is followed until so far above its noise; nearer to it the phase slips
LONGEST_S = 5.0
LEAST_SWINGS = 1.3  # of a partial; fewer are two slopes, not a beat
LEAST_OF_CUT = 3.0  # the same of one that is cut before LONGEST_S and before it has fallen so far: fewer may be a piece of a slower beat
FASTEST_SHARE = 0.3  # of the samples' rate
GRID_HZ = 60.0  # at most so many samples a second
LEAST_SAMPLES = 12
CLIP_DB = 6.0
LEVEL_ERROR_DB = 0.3
WHITEN_S = 0.2
OWN_SHARE = 0.9
OWN_POWER = 1.1
OWN_FLOOR_DB = 0.1
FREEDOM = 3.0
N_ROUNDS = 12


NOT_TOLD = SharedRipple(*((None,) * (len(RATES_HZ) + len(SPLITS_CENTS)),) * 3)


def shared_ripple(numbers: Sequence[int], bands: Sequence[Envelope]) -> SharedRipple:
    """At RATES_HZ, then at SPLITS_CENTS. bands: the partials' envelopes, in the order of their numbers."""
    rows = [row for n, one in zip(numbers, bands, strict=True) if n <= MOST_PARTIALS and (row := _partial_ripple(one)) is not None]
    if len(rows) < LEAST_TELLING:
        return NOT_TOLD
    swing, se = shared_swing(np.array([row[0] for row in rows]), np.array([row[1] for row in rows]), most_error=MOST_ERROR_DB)
    return SharedRipple(*told_rows(swing, se))


def told_rows(swing: np.ndarray, se: np.ndarray) -> tuple[tuple[float | None, ...], ...]:
    """In phase with the onset, a quarter turn later, and the error, as they are kept: None where not measured."""
    return tuple(tuple(round(float(x), 3) if ok else None for x, ok in zip(row, np.isfinite(se), strict=True))
                 for row in (swing.real, swing.imag, se))


def shared_swing(amplitude: np.ndarray, variance: np.ndarray, *, most_error: float) -> tuple[np.ndarray, np.ndarray]:
    """(complex swing peak to peak, error of either part), both (rates,), NaN where not measured or where the error is more than that, from
    complex amplitudes and their variances E|c|², shape (partials, rates), infinite where not measured."""
    precision = 1.0 / variance
    third = np.sort(precision, axis=0)[-LEAST_TELLING]
    precision = np.minimum(precision, third)
    trust = np.ones(amplitude.shape)
    for _ in range(N_ROUNDS):
        weight = trust * precision
        total = np.maximum(weight.sum(axis=0), 1e-12)
        shared = (weight * amplitude).sum(axis=0) / total
        off2 = np.abs(amplitude - shared) ** 2
        trust = np.minimum((FREEDOM + 2.0) / (FREEDOM + off2 * precision), 1.0)
    se = np.sqrt(2.0 * np.maximum(1.0 / total, (weight**2 * off2).sum(axis=0) / total**2))
    told = (third > 0.0) & (se <= most_error)
    return np.where(told, 2.0 * shared, np.nan), np.where(told, se, np.nan)


def _partial_ripple(envelope: Envelope) -> tuple[np.ndarray, np.ndarray] | None:
    """Complex amplitudes in dB of a swing at each rate and a voice at each split, and their variances, inf where not measured."""
    rates_hz = np.concatenate([RATES_HZ, envelope.centre_hz * (2.0 ** (np.array(SPLITS_CENTS) / 1200.0) - 1.0)])
    found = swings_of(envelope, rates_hz)
    if found is None:
        return None
    is_voice, swings = (np.arange(len(rates_hz)) >= len(RATES_HZ))[found.told], found.n_swings[found.told]
    level, phase = (found.restless(part, most=CLIP_DB) for part in (found.log_db.real, found.log_db.imag))
    fitted = np.where(is_voice, found.fitted(level + 1j * phase), 2.0 * found.fitted(level))
    own = np.where(is_voice, found.rms(level + 1j * phase) / np.sqrt(2.0), found.rms(level))
    amplitude, variance = np.zeros(len(rates_hz), complex), np.full(len(rates_hz), np.inf)
    amplitude[found.told] = fitted
    variance[found.told] = (OWN_SHARE * own / swings**OWN_POWER) ** 2 + OWN_FLOOR_DB**2
    return amplitude, variance


@dataclass(frozen=True)
class Swings:
    """One partial's curve, and what it is fitted with: turns at some of the rates asked for, beside a slow course."""

    log_db: np.ndarray  # 8.686·ln z, the phase as imaginary part, shape (times,)
    told: np.ndarray  # which of the rates it is heard long enough for, shape (rates,)
    n_swings: np.ndarray  # that it is heard for, shape (rates,)
    root: np.ndarray  # of the weights, shape (times,)
    slow: np.ndarray  # orthonormal, shape (times, 3)
    turns: np.ndarray  # whitened, shape (rates told, times − 1)
    keep: float  # of a value in the next one

    def restless(self, curve: np.ndarray, *, most: float = np.inf) -> np.ndarray:
        """A curve without its slow part, deep dips cut, times the root of the weights."""
        rest = curve * self.root
        rest = np.clip(rest - self.slow @ (self.slow.T @ rest), -most * self.root, most * self.root)
        return rest - self.slow @ (self.slow.T @ rest)

    def fitted(self, rest: np.ndarray) -> np.ndarray:
        """Complex amplitudes of the turns in such a curve, shape (rates told,)."""
        return np.conj(self.turns) @ _whitened(rest, self.keep) / np.sum(np.abs(self.turns) ** 2, axis=1)

    def rms(self, rest: np.ndarray) -> float:
        return float(np.linalg.norm(rest) / np.linalg.norm(self.root))


def swings_of(envelope: Envelope, rates_hz: np.ndarray, *, least: float = LEAST_SWINGS, range_db: float = RANGE_DB) -> Swings | None:
    """At rates of which so many swings are heard at least while it falls by range_db; None where that is too brief for any."""
    curve = _log_curve(envelope, range_db)
    if curve is None:
        return None
    time_s, log_db, weight, is_cut = curve
    root, step_s, length_s = np.sqrt(weight), time_s[1] - time_s[0], time_s[-1] - time_s[0]
    slow = np.linalg.qr(np.vander(np.linspace(-1.0, 1.0, len(time_s)), 3) * root[:, None])[0]
    swings = np.abs(rates_hz) * length_s
    told = (swings >= (LEAST_OF_CUT if is_cut else least)) & (np.abs(rates_hz) * step_s <= FASTEST_SHARE)
    at = np.rint((time_s - time_s[0]) / step_s).astype(int)  # the last may be no step later
    turns = exponentials(2j * np.pi * rates_hz[told], at[-1] + 1, step_s=step_s, start_s=time_s[0])[:, at] * root
    keep = np.exp(-step_s / WHITEN_S)
    return Swings(log_db, told, swings, root, slow, _whitened(turns - (turns @ slow) @ slow.T, keep), keep)


def _log_curve(envelope: Envelope, range_db: float) -> tuple[np.ndarray, np.ndarray, np.ndarray, bool] | None:
    """(time s, 8.686·ln z with the phase as imaginary part, weight) on a grid of about GRID_HZ, down to the noise; and whether a hand or
    the next pluck cut it before that and before LONGEST_S."""
    first = envelope.first_from(0.015)
    longest = int(LONGEST_S * envelope.rate_hz)
    z = envelope.z[first : first + longest]
    step = max(1, int(envelope.rate_hz / GRID_HZ))
    n, span = len(z) // step, max(2, step)
    if n < LEAST_SAMPLES:
        return None
    start = np.minimum(np.arange(n) * step, len(z) - span)
    power, phase = (_running_mean(x, start, span) for x in (envelope.power[first:first + longest], np.unwrap(np.angle(z))))
    least = max(power[: max(4, n // 2)].max() * 10 ** (-range_db / 10), envelope.noise_power * 10 ** (NOISE_DB / 10))
    stop = heard_until(power > least)
    if stop < LEAST_SAMPLES:
        return None
    is_cut = stop == len(power) and len(z) < longest
    power = np.maximum(power[:stop], 0.1 * least)
    of_noise = 0.5 * DB_PER_NEPER**2 * np.minimum(envelope.noise_power / power, 3.0)
    time_s = (first + start[:stop] + 0.5 * (span - 1)) / envelope.rate_hz + envelope.lag_s
    return time_s, 0.5 * DB_PER_NEPER * np.log(power) + 1j * DB_PER_NEPER * phase[:stop], 1.0 / (LEVEL_ERROR_DB**2 + of_noise), is_cut


def _running_mean(values: np.ndarray, start: np.ndarray, span: int) -> np.ndarray:
    total = np.concatenate([[0.0], np.cumsum(values)])
    return (total[start + span] - total[start]) / span


def _whitened(curve: np.ndarray, keep: float) -> np.ndarray:
    """Along the last axis."""
    return curve[..., 1:] - keep * curve[..., :-1]
