"""The checks of one fitting as intervals in days since the string was put on, with the weather taken out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import cached_property

import numpy as np

from toneprobe.settling.creep import Creep, CreepPrior, StretchAndSlip, stretch_and_slip, weigh_creep
from toneprobe.settling.neighbours import Wander, common_drift
from toneprobe.settling.readings import PitchReading, Span, drifts_over, own_spans, retunings
from toneprobe.settling.steady import LEAST_OLD_INTERVALS, LEAST_OLD_SPAN_DAYS, SteadyFall, fit_steady, fit_wandering
from toneprobe.settling.tuned import TunedUp, find_tuned_up

UNKNOWN_AGE_DAYS = 600.0  # a string from before the log is taken to have been on so long (set here; its creep is then next to nothing)
EARLIEST = time(6)  # hardly anybody puts a string on sooner in the day (set here)
JUMP_SDS = 4.0  # moved further than any stretch explains: a bump, a slip, a wrong reading
LEAST_FOR_BOTH = 4  # intervals: fewer are explained by some stretch and some slip together, whatever they are
SET_ASIDE_CENTS2 = 1e6  # variance given to a jump, so that it says nothing


@dataclass(frozen=True)
class Intervals:
    """Falls in cents (n,), positive downwards, over spans in days (n, 2)."""

    origin: datetime  # when the string came under load
    spans: tuple[Span, ...]
    spans_days: np.ndarray
    steps: tuple[tuple[float, float], ...]  # retunings, those that only a rise tells of included: day, cents up
    falls: np.ndarray
    covariance: np.ndarray  # (n, n) cents²
    read_sds: np.ndarray  # (n,) cents: error of readings and neighbours alone, whatever law is fitted
    n_neighbours: tuple[int, ...]
    prior: CreepPrior
    wander: Wander  # of an old string and its neighbours
    tuned: tuple[TunedUp, ...] = ()  # intervals that are not among the spans, for the pin was turned in them
    jumps: tuple[int, ...] = ()
    excesses: tuple[float, ...] = ()  # of the jumps, cents fallen beyond what explains the others

    def until(self, n: int) -> Creep:
        """The laws as weighed at the end of the first n intervals, the retuning at that end included; of all n, every retuning."""
        if n not in self._weighed:
            end = self.spans_days[n - 1, 1] if n < len(self.spans) else np.inf
            steps = [step for step in self.steps if step[0] <= end + 1e-9]
            freedom = max(n - sum(k < n for k in self.jumps) - 1, 0)
            self._weighed[n] = weigh_creep(self.spans_days[:n], steps, self.falls[:n], self.covariance[:n, :n], self.prior, freedom=freedom)
        return self._weighed[n]

    @cached_property
    def _weighed(self) -> dict[int, Creep]:
        """By n: `until` is called for the same n many times."""
        return {}

    @cached_property
    def stretch_and_slip(self) -> StretchAndSlip:
        return stretch_and_slip(self.spans_days, self.steps, self.falls, self.covariance, lag_days=self.prior.lag_days)

    def steady_fall_of_old(self) -> SteadyFall | None:
        """Whether an old string falls steadily, with an error learnt from how it and its neighbours wander from check to check; None of
        too few checks. What it fell at once is set aside, what it rose is not, for that speaks against a steady fall."""
        rows = np.array([k for k in range(len(self.falls)) if k not in self.jumps or self.falls[k] < 0.0], dtype=int)
        lengths = self.lengths_days()[rows]
        if len(rows) < LEAST_OLD_INTERVALS or lengths.sum() < LEAST_OLD_SPAN_DAYS:
            return None
        return fit_wandering(lengths, -self.falls[rows], self.wander.covariance[np.ix_(rows, rows)], self.wander.freedom)

    def lengths_days(self) -> np.ndarray:
        return self.spans_days[:, 1] - self.spans_days[:, 0]

    def steady_over(self, chosen: Sequence[int]) -> SteadyFall | None:
        """The rate over these intervals, None where all of them are jumps, which are left out."""
        rows = np.array([k for k in chosen if k not in self.jumps], dtype=int)
        if not len(rows):
            return None
        return fit_steady(self.lengths_days()[rows], -self.falls[rows], self.covariance[np.ix_(rows, rows)])


def gather(
    readings: Sequence[PitchReading], fitted_on: date | None, neighbours: Mapping[str | int, Sequence[PitchReading]], prior: CreepPrior
) -> Intervals:
    """The intervals of one fitting, jumps set aside, errors made honest."""
    spans = own_spans(readings)
    origin = _origin(readings, fitted_on)
    days = np.array([[days_between(origin, a), days_between(origin, b)] for a, b in spans]).reshape(-1, 2)
    own, common = drifts_over(readings, spans), common_drift(spans, neighbours)
    falls, covariance = common.cents - own.cents, own.covariance() + common.covariance
    tuned = find_tuned_up(readings, spans, days, -falls, covariance)
    unlogged = [(one.since, one.cents) for one in tuned.values()]
    steps = tuple((days_between(origin, at), cents) for at, cents in sorted([*retunings(readings), *unlogged]))
    kept = [k for k in range(len(spans)) if k not in tuned]
    wander = replace(common.wander, covariance=(own.covariance() + common.wander.covariance)[np.ix_(kept, kept)])
    intervals = Intervals(origin, tuple(spans[k] for k in kept), days[kept], steps, falls[kept], covariance[np.ix_(kept, kept)],
                          np.sqrt(np.diag(covariance))[kept], tuple(common.n_neighbours[k] for k in kept),
                          replace(prior, lag_days=_lag_days(origin)), wander, tuple(tuned.values()))
    intervals = _with_jumps_aside(intervals)
    freedom = len(intervals.falls) - len(intervals.jumps) - 1
    if freedom < 2:
        return intervals
    misfit = max(1.0, _better_fit(intervals)[0] / freedom)  # where even stretch and a steady fall together leave more than errors allow
    return replace(intervals, covariance=intervals.covariance * misfit)


def _origin(readings: Sequence[PitchReading], fitted_on: date | None) -> datetime:
    """When the string was under load at the latest: at the first check of the day it was put on, else taken to be at that day's noon; long
    ago where unknown. How long it may have been so by then is `_lag_days`."""
    if not readings:
        return datetime.combine(fitted_on or date.min, time(12))
    first = min(r.at for r in readings)
    if fitted_on is None:
        return first - timedelta(days=UNKNOWN_AGE_DAYS)
    return first if first.date() <= fitted_on else datetime.combine(fitted_on, time(12))


def _lag_days(origin: datetime) -> float:
    """How long it can have been under load by then, on the day on which it was put on."""
    return max(0.0, days_between(datetime.combine(origin.date(), EARLIEST), origin))


def days_between(origin: datetime, at: datetime) -> float:
    return (at - origin).total_seconds() / 86400.0


def _with_jumps_aside(intervals: Intervals) -> Intervals:
    """Without what it moved further than stretch and a steady fall explain, the furthest first, at most a third of the intervals."""
    while len(intervals.jumps) < len(intervals.falls) // 3:
        residuals = _better_fit(intervals)[1]
        sizes = np.abs(residuals) / np.sqrt(np.diag(intervals.covariance))
        if sizes.max() <= JUMP_SDS:
            break
        jump = int(sizes.argmax())
        covariance = intervals.covariance.copy()
        covariance[jump, jump] += SET_ASIDE_CENTS2
        intervals = replace(intervals, covariance=covariance, jumps=(*intervals.jumps, jump),
                            excesses=(*intervals.excesses, float(residuals[jump])))
    return intervals


def _better_fit(intervals: Intervals) -> tuple[float, np.ndarray]:
    """χ² and residuals (n,) in cents of the best fit to the intervals: stretch, a steady fall, or both."""
    n, lengths = len(intervals.falls), intervals.lengths_days()
    creep, steady = intervals.until(n), fit_steady(lengths, -intervals.falls, intervals.covariance)
    fits = [(creep.least_chi2, creep.residuals), (steady.chi2, intervals.falls + steady.rate_cents_per_day * lengths)]
    if n >= LEAST_FOR_BOTH:
        fits.append((intervals.stretch_and_slip.chi2, intervals.stretch_and_slip.residuals))
    return min(fits, key=lambda fit: fit[0])
