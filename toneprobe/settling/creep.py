"""How a new string stretches: creep that runs linearly in the logarithm of time and is restarted by each retuning.

The fall after time x (days) under one load is A·L(x), with L'(x) = (τ + x)^−p. For p = 1 that is A·ln((τ + x)/τ): A cents for each
factor of e in time; p near 1 allows for creep that is only close to linear in log time (the law from memory; that creep runs for hours
to weeks and starts again when the stress is raised: Lynch-Aird & Woodhouse, Materials 10 (2017) 497 and 11 (2018) 2160).
Loads add up (Boltzmann): the whole tension counts from the day the string was put on, and a retuning by u cents adds ρ·u/866 of it from
then on, since 866 cents·ΔT/T (1200/(2·ln 2)) is the pitch that tension gives. ρ = 1 is a linear material, ρ > 1 one that answers
a raised stress more than in proportion.

A pin or a knot may slip as well: a fall of S cents every day, which does not slow down. Laws of stretch alone take a steady fall for
stretch that is nearly over, so one new string in twelve is taken to slip until its checks tell.

A, τ, p, ρ and S are not fitted but weighed: every combination on a grid gets the weight that the readings give it, so that each answer
comes with its range, from the first reading on. τ, p and ρ matter little late, and much early.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import numpy as np

from toneprobe.practice import USUAL_HABITS, Habits
from toneprobe.units import CENTS

CENTS_OF_TENSION = 0.5 * CENTS  # d(cents) per dT/T

# Grids with their prior weights, set here. τ (days) is as long as the pulling up takes, minutes to an hour, or the hours for which the
# string was on before its first check: the log has the day alone, and ln((τ + x)/τ) is a logarithm that began τ before.
TAU_DAYS = ((0.003, 0.2), (0.01, 0.2), (0.04, 0.2), (0.12, 0.2), (0.35, 0.2))
PULLED_UP_DAYS = 0.05  # so long the pulling up alone may take
RETUNED_TAU_DAYS = 0.01  # a retuning is done within a quarter of an hour, at most
POWER = ((0.9, 0.2), (1.0, 0.6), (1.1, 0.2))
RESTART = ((0.0, 0.2), (1.0, 0.4), (4.0, 0.25), (10.0, 0.15))
SLIP_CENTS_PER_DAY = ((0.0, 0.92), (2.0, 0.016), (3.0, 0.016), (4.5, 0.016), (7.0, 0.016), (10.0, 0.016))
AMPLITUDE_CENTS = (0.02, 80.0)  # A, from unmeasurable to more than any string
N_AMPLITUDES = 130
PRIOR_FACTOR = 2.7  # one standard deviation of A between strings of one material, as a factor (set here)
STILL_SHARE = 0.1  # of new strings that hardly stretch any more, whatever their kind does: one that was on before (set here)
HORIZON_DAYS = 400.0
LEAST_WEIGHT = 1e-9  # of the largest; laws of less are passed over
POINTS = (0.1, 0.5, 0.9)  # of a forecast: early, likely, late

# The laws in the order of `product`: all slips of one restart, then the next restart. Laws that differ by their slip alone stretch alike,
# and L(x) knows no restart: each is computed once and repeated.
_N_SLIPS = len(SLIP_CENTS_PER_DAY)
_LAWS = np.array([(s, tw * pw * rw * sw) for (_, tw), (_, pw), (_, rw), (s, sw) in product(TAU_DAYS, POWER, RESTART, SLIP_CENTS_PER_DAY)])
_SLIP, _WEIGHT = (column[:, None] for column in _LAWS.T)  # (k, 1)
_TAU, _POWER = (column[:, None, None] for column in np.array([(t, p) for (t, _), (p, _) in product(TAU_DAYS, POWER)]).T)  # (c, 1, 1)
_TAU_OF_LAW = np.repeat(_TAU[:, 0, 0], len(RESTART) * _N_SLIPS)  # (k,)
_RETUNED_TAU = np.minimum(_TAU, RETUNED_TAU_DAYS)
_RESTART = np.array([r for r, _ in RESTART])[None, :, None]  # (1, r, 1)
_LOG_A = np.linspace(*np.log(AMPLITUDE_CENTS), N_AMPLITUDES)

Steps = Sequence[tuple[float, float]]  # when retuned (days since put on), by how many cents


@dataclass(frozen=True)
class CreepPrior:
    """What to expect before any reading: of A a centre in cents per factor of e in time, and one standard deviation as a factor."""

    centre_cents: float
    factor: float = PRIOR_FACTOR
    lag_days: float = math.inf  # the longest for which it can have been on before its first check


@dataclass(frozen=True)
class Creep:
    """How much weight the readings so far give to each law of creep."""

    weights: np.ndarray  # (k laws, N_AMPLITUDES), sums to 1
    steps: tuple[tuple[float, float], ...]
    least_chi2: float  # of the best law without a slip, over all intervals, as the readings' own errors have it
    residuals: np.ndarray  # (n,) measured fall − that of the best law without a slip, cents

    def fall_cents(self, at_days: float, ahead_days: float) -> np.ndarray:
        """Fall to be expected in the days ahead: its 10, 50 and 90 % points, cents."""
        ahead = _ahead(np.array([at_days]), ahead_days, self.steps)
        return weighted_points(ahead * np.exp(_LOG_A) + _SLIP * ahead_days, self.weights)

    def slip_share(self, tolerance_cents: float, ahead_days: float) -> float:
        """Share of the weight, 0 to 1, on laws whose slip alone passes the tolerance in the days ahead, for ever."""
        return float(self.weights[_slips(tolerance_cents, ahead_days)].sum())

    def quiet_from_days(self, tolerance_cents: float, ahead_days: float) -> np.ndarray:
        """From when on the fall over the days ahead stays within the tolerance if the pin is left alone: 10, 50 and 90 % points, days.
        Only laws under which it ever does count; how much speaks for a slip that never ends is `slip_share`."""
        edges = [moment for when, _ in self.steps for moment in (max(when - 1e-6, 0.0), when)]  # just before and after each retuning
        times = np.unique(np.concatenate([np.geomspace(0.01, HORIZON_DAYS, 180), edges]))  # closer together early
        ends = ~_slips(tolerance_cents, ahead_days)
        if not self.weights[ends].any():
            return np.full(len(POINTS), HORIZON_DAYS)
        falls = _ahead(times, ahead_days, self.steps)
        still_ahead = np.maximum.accumulate(falls[:, ::-1], axis=1)[:, ::-1]  # the worst from then on
        levels = -(tolerance_cents - _SLIP * ahead_days) / np.exp(_LOG_A)
        days = np.stack([np.interp(level, -row, times) for level, row in zip(levels[ends], still_ahead[ends], strict=True)])
        return weighted_points(days, self.weights[ends])

    @property
    def amplitude_cents(self) -> np.ndarray:
        """A, its 10, 50 and 90 % points."""
        return weighted_points(np.broadcast_to(np.exp(_LOG_A), self.weights.shape), self.weights)


@dataclass(frozen=True)
class StretchAndSlip:
    """The best sum of stretch (A ≥ 0, any law) and a steady slip of any rate, by least squares."""

    law: int
    amplitude: float
    slip: float  # cents a day, positive when falling
    covariance: np.ndarray  # (2, 2) of both, could A be less than 0
    chi2: float
    residuals: np.ndarray  # (n,) cents

    def fall_cents(self, at_days: float, ahead_days: float, steps: Steps) -> tuple[float, float]:
        """Fall to be expected in the days ahead, and its standard error."""
        moves = np.array([_ahead(np.array([at_days]), ahead_days, steps)[self.law, 0], ahead_days])
        return float(moves @ (self.amplitude, self.slip)), float(np.sqrt(moves @ self.covariance @ moves))


def usual_prior(material: str | None, *, cents_per_day: float, habits: Habits = USUAL_HABITS) -> CreepPrior:
    """The prior from common practice: at rate A/x, a string that settles in x days to so many cents a day has A = x·rate."""
    return CreepPrior(habits.settle_days_of(material)[0] * cents_per_day)


def prior_from(past_cents: Sequence[float], usual: CreepPrior) -> CreepPrior:
    """The prior from the owner's own settled strings of this material, given their A; the usual one counts as one string more."""
    if not past_cents:
        return usual
    logs = np.log([*past_cents, usual.centre_cents])
    squares = float(((logs - logs.mean()) ** 2).sum()) + math.log(usual.factor) ** 2
    spread = math.sqrt(squares / len(logs) * (1.0 + 1.0 / len(logs)))
    return CreepPrior(float(np.exp(logs.mean())), max(1.3, math.exp(spread)))


def weigh_creep(
    spans_days: np.ndarray, steps: Steps, falls: np.ndarray, covariance: np.ndarray, prior: CreepPrior, *, freedom: int
) -> Creep:
    """The weights of all laws, given falls in cents (n,) over spans (n, 2) in days since put on, and their covariance in cents². Where
    even the best law leaves χ² above `freedom` (0: never), all are less sure by that factor: else the least wrong of them would take the
    whole weight, and its forecast would have no error."""
    shape = _shape(spans_days, steps)
    amplitudes = np.exp(_LOG_A)
    inverse = np.linalg.inv(covariance) if len(falls) else np.zeros((0, 0))
    rest = falls - _SLIP * (spans_days[:, 1] - spans_days[:, 0])  # (k, n): what is left for stretch
    unmoved, cross = np.tile(_squares(rest[:_N_SLIPS], inverse), len(shape) // _N_SLIPS), np.einsum("ki,ij,kj->k", shape, inverse, rest)
    own = np.repeat(_squares(shape[::_N_SLIPS], inverse), _N_SLIPS)
    chi2 = unmoved[:, None] - 2.0 * cross[:, None] * amplitudes + own[:, None] * amplitudes**2
    chi2 = np.where(_can_be(prior.lag_days)[:, None], chi2, np.inf)
    misfit = max(1.0, float(chi2.min()) / freedom) if freedom > 0 else 1.0
    log_weights = _log_expected(prior) - 0.5 * chi2 / misfit
    weights = np.exp(log_weights - log_weights.max())
    alone, stretching = chi2[_SLIP[:, 0] == 0.0], shape[_SLIP[:, 0] == 0.0]
    law, amplitude = np.unravel_index(np.argmin(alone), alone.shape)
    return Creep(weights / weights.sum(), tuple(steps), float(alone[law, amplitude]), falls - amplitudes[amplitude] * stretching[law])


def stretch_and_slip(
    spans_days: np.ndarray, steps: Steps, falls: np.ndarray, covariance: np.ndarray, *, lag_days: float
) -> StretchAndSlip:
    """Fitted to falls in cents (n,) over spans (n, 2) in days since put on, with their covariance in cents²."""
    shape, lengths = _shape(spans_days, steps), spans_days[:, 1] - spans_days[:, 0]
    inverse = np.linalg.inv(covariance)
    a, b = np.einsum("ki,ij,kj->k", shape, inverse, shape), shape @ inverse @ lengths
    c, u, v = float(lengths @ inverse @ lengths), shape @ inverse @ falls, float(lengths @ inverse @ falls)
    determinant = np.maximum(a * c - b * b, 1e-9 * a * c)
    amplitude = np.maximum((c * u - b * v) / determinant, 0.0)
    slip = (v - b * amplitude) / c
    residuals = falls - amplitude[:, None] * shape - slip[:, None] * lengths
    chi2 = np.where(_can_be(lag_days), np.einsum("ki,ij,kj->k", residuals, inverse, residuals), np.inf)
    k = int(chi2.argmin())
    errors = np.array([[c, -b[k]], [-b[k], a[k]]]) / determinant[k]
    return StretchAndSlip(k, float(amplitude[k]), float(slip[k]), errors, float(chi2[k]), residuals[k])


def weighted_points(values: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """The values below which a tenth, half and nine tenths of the weight lie."""
    kept = weights > LEAST_WEIGHT * weights.max()
    order = np.argsort(values[kept])
    cumulative = np.cumsum(weights[kept][order])
    return np.interp(POINTS, cumulative / cumulative[-1], values[kept][order])


def _squares(rows: np.ndarray, inverse: np.ndarray) -> np.ndarray:
    """(k,) χ² of each of the rows (k, n) of cents."""
    return np.einsum("ki,ij,kj->k", rows, inverse, rows)


@lru_cache(maxsize=64)
def _log_expected(prior: CreepPrior) -> np.ndarray:
    """(k, N_AMPLITUDES) log prior weight of each law and amplitude, not to be written into: strings of this kind, and a few that stretch
    less."""
    centre, spread = math.log(prior.centre_cents), math.log(prior.factor)
    of_its_kind = np.exp(-0.5 * ((_LOG_A - centre) / spread) ** 2) / (spread * math.sqrt(2.0 * math.pi))
    still = np.where(centre > _LOG_A, 1.0 / max(centre - _LOG_A[0], spread), 0.0)
    return np.log(_WEIGHT * ((1.0 - STILL_SHARE) * of_its_kind + STILL_SHARE * still + np.finfo(float).tiny))


def _slips(tolerance_cents: float, ahead_days: float) -> np.ndarray:
    """(k,) whether the slip of each law alone passes the tolerance."""
    return _SLIP[:, 0] * ahead_days >= tolerance_cents


def _can_be(lag_days: float) -> np.ndarray:
    """(k,) the laws by which it was on no longer before its first check than it can have been."""
    return max(lag_days, PULLED_UP_DAYS) >= _TAU_OF_LAW


def _shape(spans_days: np.ndarray, steps: Steps) -> np.ndarray:
    """(k, n) fall over each span for A = 1, for each law."""
    start, end = spans_days[:, 0], spans_days[:, 1]
    total = log_time(end) - log_time(start)
    for when, cents in steps:
        after, before = np.maximum(end - when, 0.0), np.maximum(start - when, 0.0)
        total = total + _RESTART * cents / CENTS_OF_TENSION * (log_time(after, _RETUNED_TAU) - log_time(before, _RETUNED_TAU))
    return _of_every_law(total)


def _ahead(times_days: np.ndarray, ahead_days: float, steps: Steps) -> np.ndarray:
    """(k, n) fall for A = 1 from each time over the days ahead, knowing only the retunings until then."""
    total = log_time(times_days + ahead_days) - log_time(times_days)
    for when, cents in steps:
        since = np.maximum(times_days - when, 0.0)
        more = log_time(since + ahead_days, _RETUNED_TAU) - log_time(since, _RETUNED_TAU)
        total = total + np.where(times_days >= when - 1e-9, _RESTART * cents / CENTS_OF_TENSION * more, 0.0)
    return _of_every_law(total)


def _of_every_law(falls: np.ndarray) -> np.ndarray:
    """(k, n) from (c, r, n), or from (c, 1, n) where the pin was never turned."""
    n = falls.shape[-1]
    restarts = np.broadcast_to(falls, (len(_TAU), len(RESTART), n)).reshape(len(_TAU) * len(RESTART), n)
    return np.repeat(restarts, _N_SLIPS, axis=0)


def log_time(days: np.ndarray, tau: np.ndarray = _TAU) -> np.ndarray:
    """(c, 1, n) L(x) for each τ and p: ln((τ + x)/τ) for p = 1, else ((τ + x)^(1−p) − τ^(1−p))/(1 − p)."""
    bend = np.where(_POWER == 1.0, 1.0, 1.0 - _POWER)
    curved = ((tau + days) ** bend - tau**bend) / bend
    return np.where(_POWER == 1.0, np.log1p(days / tau), curved)
