"""Falling steadily, or stretching? A pin or knot that slips lets a string fall at one rate; stretch slows down with age."""

from dataclasses import dataclass

import numpy as np

OLD_DAYS = 60.0  # a string that has been on so long has stretched out; a new harp settles in a month (common practice), doubled here
MOST_AMPLITUDE_CENTS = 25.0  # stretch of at most so much per factor of e in time, which settles in 23.5 days, of 22.5 in 21 (derived: it
# falls by A·ln((x + 3)/x) in three days, see `creep`, and 3 cents are tolerated): what falls faster at its age is no stretch (set)
CLEAR_SDS = 3.0
SD_OF_90 = 1.2816  # standard deviations from the 50 to the 90 % point
BETTER_CHI2 = 9.0  # a steady fall on top must explain the readings of a new string so much better than stretch alone
LEAST_INTERVALS = 5  # for telling the two apart in a new string
LEAST_OLD_INTERVALS = 4  # for calling an old string slipping: of fewer a wandering one looks steady too often (set: old_neighbours.py)
LEAST_OLD_SPAN_DAYS = 4.0  # for the same: in fewer days weather alone looks so (set on the same)
WORTH_SAYING_CENTS = 3.0  # over thirty days


@dataclass(frozen=True)
class SteadyFall:
    """A straight line through the drift, neighbours taken out: cents per day, negative is falling, wherever it stands."""

    rate_cents_per_day: float
    se_cents_per_day: float
    chi2: float

    @property
    def clear(self) -> bool:
        return self._is_clear(-self.rate_cents_per_day)

    @property
    def clear_rise(self) -> bool:
        return self._is_clear(self.rate_cents_per_day)

    def _is_clear(self, rate_cents_per_day: float) -> bool:
        return 30.0 * rate_cents_per_day > WORTH_SAYING_CENTS and rate_cents_per_day > CLEAR_SDS * self.se_cents_per_day


def fit_steady(days: np.ndarray, drifts: np.ndarray, covariance: np.ndarray) -> SteadyFall:
    """Generalised least squares of drifts in cents (n,), negative where it fell, on the length of their intervals in days (n,)."""
    inverse = np.linalg.inv(covariance)
    information = float(days @ inverse @ days)
    rate = float(days @ inverse @ drifts) / information
    rest = drifts - rate * days
    return SteadyFall(rate, information**-0.5, float(rest @ inverse @ rest))


def fit_wandering(days: np.ndarray, drifts: np.ndarray, covariance: np.ndarray, freedom: int) -> SteadyFall:
    """`fit_steady` where the covariance was learnt from so many degrees of freedom: errors widened by the drifts' own scatter and by
    Student's t."""
    from scipy.special import ndtr, stdtrit  # a tenth of a second to load, and only old strings need it

    fall, own = fit_steady(days, drifts, covariance), len(days) - 1
    scale = max(1.0, fall.chi2 / own)
    widening = float(stdtrit(freedom + own, ndtr(CLEAR_SDS))) / CLEAR_SDS
    return SteadyFall(fall.rate_cents_per_day, fall.se_cents_per_day * scale**0.5 * widening, fall.chi2)


def is_slipping_old(fall: SteadyFall | None, age_days: float | None) -> bool:
    """Whether an old string falls faster than any stretch of its age; `age_days` None: older than the log."""
    if fall is None or not fall.clear:
        return False
    return age_days is None or -fall.rate_cents_per_day * age_days > MOST_AMPLITUDE_CENTS


def is_slipping_new(slip: SteadyFall, *, stretch_chi2: float) -> bool:
    """Whether a new string falls steadily on top of its stretch, which alone would explain its readings much worse."""
    return slip.clear and stretch_chi2 - slip.chi2 > BETTER_CHI2
