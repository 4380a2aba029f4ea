"""Has a new string settled, and if not, when will it?

Settled: the drift to be expected over the next days stays within the owner's tolerance at the ends of two intervals running, and the rate
measured over these two, kept up, would not pass it beyond doubt. A string that slipped more than once must also have kept still for long
enough since (`recurring`). Each interval is judged with the readings up to its end. Intervals of a few hours, and those before a tuning
that only a rise tells of, help to find the law of the stretch but don't count among the two.
A string that has been on for long, or since before the log, is judged by its measured rate alone; so is a new one that rises, for no law of
stretch does. Where none of the moves of a new string tells how it stretches (`tuned.hides_stretch`), the laws are those of its kind: it is
not settled, nor foretold to settle, sooner than its kind.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property

import numpy as np

from toneprobe.measure.figure import Figure
from toneprobe.settling.creep import Creep, CreepPrior, usual_prior
from toneprobe.settling.forecast import AsOf, read_forecast
from toneprobe.settling.history import as_said_before
from toneprobe.settling.intervals import SET_ASIDE_CENTS2, Intervals, days_between, gather
from toneprobe.settling.readings import LEAST_SE_CENTS, PitchReading, in_order, known
from toneprobe.settling.recurring import recurring_slips
from toneprobe.settling.steady import LEAST_INTERVALS, OLD_DAYS, SD_OF_90, SteadyFall, is_slipping_new, is_slipping_old
from toneprobe.settling.tuned import hides_stretch, usual_fall
from toneprobe.settling.verdict import USUAL_TOLERANCE, DateRange, Grounds, Move, Recurring, Settling, Tolerance
from toneprobe.settling.words import reasons_of, with_next_step

SHORTEST_H = 6.0  # an interval that counts among the two: wires settle in hours, a night is enough
N_RUNNING = 2
DOUBT_SHARE = 1.4  # the 90 % point of the expected drift may exceed the tolerance by no more
LONGEST_FORECAST_DAYS = 365.0
FALLS_ON_SHARE = 0.5  # of the weight on laws that never slow down, from which on no end can be foretold
FALLS_ON_INTERVALS = 3  # fewer don't tell that: of two intervals nobody can say that one is no slower than the other
TOO_FAST_SDS = 1.0  # set on simulated strings (tests/benchmarks/settled_days.py): hardly one that stretches waits longer for it


def judge_settling(
    readings: Sequence[PitchReading],
    *,
    fitted_on: date | None,
    neighbours: Mapping[str | int, Sequence[PitchReading]] | None = None,
    tolerance: Tolerance = USUAL_TOLERANCE,
    prior: CreepPrior | None = None,
    day: AsOf | None = None,
    company: Sequence[str] | None = None,
) -> Settling:
    """The state of one fitting from its checks.

    `fitted_on` None: on since before the book was begun; `neighbours`, by name or number: settled strings of the same material; `prior`
    None: a string of unknown material; `day` on which it is asked (None: what the checks tell, whenever); `company`: the strings to
    pluck with it, which tell the weather (None: not asked for).
    """
    known_prior = prior or usual_prior(None, cents_per_day=tolerance.cents_per_day)

    def judged(known: Sequence[PitchReading]) -> _Judged:
        return _Judged(gather(known, fitted_on, neighbours or {}, known_prior), known, fitted_on is None, tolerance)

    checks, last = in_order(readings), judged(readings)
    found = last.found()
    if found.settled_on is not None:
        found = as_said_before(found, checks, lambda known: judged(known).found())
    found = replace(found, string=readings[0].string if readings else "", checked_on=max((r.at.date() for r in readings), default=None))
    grounds = last.grounds(checks, day.today if day else None, None if company is None else tuple(company))
    if day and not grounds.falls_on:
        measured_on = last.measured.spans[-1][1].date() if grounds.is_old and last.measured.spans else None
        found = read_forecast(found, day, n_counting=grounds.n_counting, measured_on=measured_on, is_hidden=grounds.is_hidden,
                              rises=grounds.rises)
    return with_next_step(replace(found, reasons=reasons_of(found, grounds)), grounds)


@dataclass(frozen=True)
class _Judged:
    """The intervals up to one check, and what they say of the string."""

    measured: Intervals
    readings: Sequence[PitchReading]
    predates_log: bool
    tolerance: Tolerance

    @cached_property
    def age_days(self) -> float | None:
        """How long the string had been on when its first interval began; None where that is not known, or there is none."""
        starts = [start for start, _ in self.measured.spans] + [one.since for one in self.measured.tuned]
        return days_between(self.measured.origin, min(starts)) if starts and not self.predates_log else None

    @cached_property
    def is_old(self) -> bool:
        return self.predates_log or (self.age_days is not None and self.age_days >= OLD_DAYS)

    @cached_property
    def is_hidden(self) -> bool:
        """Whether it was of an age at which its kind stretches when its last move began, and none of its moves tells of its stretch."""
        if self.is_old or not self.measured.spans:
            return False
        usual_days = self.measured.prior.centre_cents / self.tolerance.cents_per_day  # at rate A/x it falls by the tolerance's rate
        is_young = self.measured.spans_days[-1, 0] < usual_days
        return is_young and hides_stretch(self.readings, self.measured.spans, self.measured.falls, self.measured.read_sds)

    @cached_property
    def intervals(self) -> Intervals:
        """As weighed: where the moves are hidden, with errors so large that any law explains them."""
        if not self.is_hidden:
            return self.measured
        return replace(self.measured, covariance=self.measured.covariance + SET_ASIDE_CENTS2 * np.eye(len(self.measured.spans)))

    @cached_property
    def creep(self) -> Creep:
        return self.intervals.until(len(self.measured.spans))

    @cached_property
    def counting(self) -> list[int]:
        """The intervals that count among the two: long enough, and after the last tuning that only a rise tells of."""
        since = max((one.until for one in self.measured.tuned), default=datetime.min)
        return [k for k, (start, end) in enumerate(self.measured.spans) if end - start >= timedelta(hours=SHORTEST_H) and start >= since]

    @cached_property
    def last_two(self) -> list[int]:
        return self.counting[-N_RUNNING:]

    @cached_property
    def steady(self) -> SteadyFall | None:
        """Over all intervals."""
        return self.measured.steady_over(range(len(self.measured.spans)))

    @cached_property
    def rises(self) -> bool:
        """Whether a new string rises, as stretch never does: clearly over all intervals, or over the last two that count so fast that the
        tolerance would be passed, beyond doubt or as over all of them. (Without neighbours weather leaves every rise in doubt, so that
        its size alone must tell.)"""
        if self.is_old or self.steady is None or len(self.counting) < N_RUNNING:
            return False
        latest, most = self.measured.steady_over(self.last_two), self.tolerance.cents_per_day
        if latest is None or latest.rate_cents_per_day <= most:
            return self.steady.clear_rise
        return (self.steady.clear_rise or self.steady.rate_cents_per_day > most
                or latest.rate_cents_per_day - most > TOO_FAST_SDS * latest.se_cents_per_day)

    @property
    def by_rate(self) -> bool:
        return self.is_old or self.rises

    @cached_property
    def slips(self) -> bool:
        if self.is_old:
            return is_slipping_old(self.intervals.steady_fall_of_old(), self.age_days)
        if len(self.measured.spans) - len(self.intervals.jumps) < LEAST_INTERVALS:
            return False
        both = self.intervals.stretch_and_slip
        slip = SteadyFall(-both.slip, float(np.sqrt(both.covariance[1, 1])), both.chi2)
        return is_slipping_new(slip, stretch_chi2=self.creep.least_chi2)

    @cached_property
    def recurring(self) -> Recurring | None:
        return None if self.is_old or self.slips else recurring_slips(self.intervals, self.tolerance)

    @cached_property
    def quiet(self) -> tuple[bool, ...]:
        """At the ends of the last two intervals that count, whether the drift to be expected was within the tolerance."""
        points = [self._ahead_points(self.intervals, k + 1) for k in self.last_two]
        most = self.tolerance.cents
        return tuple(bool(abs(middle) <= most and max(high, -low) <= DOUBT_SHARE * most) for low, middle, high in points)

    @cached_property
    def state(self) -> str:
        """Slipping, settled, settling or unsure, from the last two intervals that count."""
        if self.slips:
            return "slipping"
        if any(k in self.intervals.jumps for k in self.last_two) or (self.by_rate and len(self.last_two) < N_RUNNING):
            return "unsure"
        if len(self.quiet) == N_RUNNING and all(self.quiet) and (self.by_rate or not self._is_too_fast(self.last_two)):
            return "unsure" if self.recurring else "settled"
        return "unsure" if self.by_rate else "settling"

    @cached_property
    def falls_on(self) -> bool:
        """Whether its checks speak for a slip, alone or beside its stretch, not clearly enough to call it slipping."""
        share = self.creep.slip_share(self.tolerance.cents, self.tolerance.ahead_days)
        return self.state == "settling" and len(self.counting) >= FALLS_ON_INTERVALS and share > FALLS_ON_SHARE

    @cached_property
    def moves(self) -> bool:
        """Whether the last interval that counts shows that it has not settled by its end."""
        if self.state != "settling" or not self.counting:
            return False
        expected = self._expected(self.intervals)
        return not expected.known or abs(expected.value) > self.tolerance.cents or self._is_too_fast(self.counting[-1:])

    @cached_property
    def days(self) -> DateRange | None:
        """When it has settled: never before the last tuning that only a rise tells of, nor before the last move left out, for how it went
        until then nobody knows; not by the last check where that found it still moving too much, nor before it has kept still for long
        enough after its slips."""
        if self.is_old or self.falls_on or self.state not in ("settled", "settling"):
            return None
        days = self.creep.quiet_from_days(self.tolerance.cents, self.tolerance.ahead_days)
        if days[1] > LONGEST_FORECAST_DAYS:
            return None
        origin = self.intervals.origin
        unknown = [one.until for one in self.intervals.tuned] + [self.measured.spans[k][1] for k in self.intervals.jumps]
        since = max(unknown, default=origin)
        found = DateRange(*(max(since, origin + timedelta(days=float(d))).date() for d in days))
        if self.moves:
            found = found.not_before(self.measured.spans[-1][1].date() + timedelta(days=1))
        return found.not_before(self.recurring.still_until.date()) if self.recurring else found

    def found(self) -> Settling:
        """The state by the checks alone, whatever the day; without its words and the string's name."""
        drift = self._going_on() if self.falls_on or (self.slips and not self.by_rate) else self._told()
        steady = self.measured.steady_over(self.last_two)
        rate = (Figure(steady.rate_cents_per_day, steady.se_cents_per_day) if steady
                else Figure(None, reason="no two checks at least six hours apart"))
        if self.rises:
            creep_cents = Figure(None, reason="it rises, so its stretch cannot be told")
        elif self.is_old or not self.measured.spans:
            creep_cents = Figure(None, reason="too old to tell" if self.is_old else "no two checks yet")
        else:
            low, middle, high = self.creep.amplitude_cents
            creep_cents = Figure(float(middle), float((high - low) / (2.0 * SD_OF_90)))
        return Settling(
            string="", state=self.state, checked_on=None, n_intervals=len(self.measured.spans),
            n_neighbours=min(self.intervals.n_neighbours, default=0), rate_cents_per_day=rate, expected_drift_cents=drift,
            tolerance=self.tolerance, settled=self.days, settled_on=self.days.likely if self.days and self.state == "settled" else None,
            creep_cents=creep_cents, jumped_on=tuple(self.measured.spans[k][1].date() for k in sorted(self.intervals.jumps)),
            recurring=self.recurring,
        )

    def grounds(self, checks: Sequence[PitchReading], today: date | None, company: tuple[str, ...] | None) -> Grounds:
        last_move = self._move(len(self.measured.spans) - 1, checks) if self.measured.spans else None
        clear_rise = self.steady is not None and self.steady.clear_rise
        falls_short = False
        if self.is_hidden:  # no fall, or one hardly as a string of its kind has it at its age
            fall, sd = self.measured.falls[-1], self.measured.read_sds[-1]
            usual = usual_fall(self.measured.spans_days[-1], self.measured.prior.centre_cents)
            falls_short = fall <= 0.0 or usual - fall > SD_OF_90 * sd
        jumps = tuple(replace(self._move(k, checks), excess_cents=excess)
                      for k, excess in sorted(zip(self.intervals.jumps, self.intervals.excesses, strict=True)))
        return Grounds(self.is_old, len(self.counting), clear_rise, last_move, today, self.falls_on, self.rises,
                       foretold=self.days is not None and not self.moves, quiet=self.quiet, jumps=jumps, tuned=self.intervals.tuned,
                       is_hidden=self.is_hidden, company=company, falls_short=last_move if falls_short else None)

    def _move(self, k: int, checks: Sequence[PitchReading]) -> Move:
        drift, span = Figure(float(-self.measured.falls[k]), float(self.measured.read_sds[k])), self.measured.spans[k]
        return Move(*span, drift, self.measured.n_neighbours[k], is_latest=span == tuple(one.at for one in checks[-2:]),
                    from_left=any(one.at == span[0] and known(one.left_hz) for one in checks))

    def _ahead_points(self, intervals: Intervals, n: int) -> np.ndarray:
        """Fall to be expected at the end of the first n intervals: its 10, 50 and 90 % points, cents."""
        ahead_days = self.tolerance.ahead_days
        if not self.by_rate:
            return intervals.until(n).fall_cents(float(intervals.spans_days[n - 1, 1]), ahead_days)
        steady = intervals.steady_over(range(max(0, n - N_RUNNING), n))
        if steady is None:
            return np.full(3, np.nan)
        return -ahead_days * (steady.rate_cents_per_day + SD_OF_90 * steady.se_cents_per_day * np.array([1.0, 0.0, -1.0]))

    def _is_too_fast(self, chosen: Sequence[int]) -> bool:
        """Whether it moved so fast over these intervals that the tolerance would be passed beyond doubt, if it did not slow down."""
        steady = self.intervals.steady_over(chosen)
        if steady is None:
            return False
        return abs(steady.rate_cents_per_day) - self.tolerance.cents_per_day > TOO_FAST_SDS * steady.se_cents_per_day

    def _expected(self, intervals: Intervals) -> Figure:
        if not self.measured.spans:
            return Figure(None, reason="no two checks yet")
        low, middle, high = self._ahead_points(intervals, len(self.measured.spans))
        if np.isnan(middle):
            return Figure(None, reason="no interval without a jump")
        return Figure(float(-middle), max(LEAST_SE_CENTS, float((high - low) / (2.0 * SD_OF_90))))

    def _going_on(self) -> Figure:
        """Expected drift of a new string that slips, by stretch and a slip of any rate fitted together: of the few slips
        of the weighed laws the nearest would take all the weight. The error reaches half way to what the last two intervals say."""
        intervals, ahead_days = self.intervals, self.tolerance.ahead_days
        fall, se = intervals.stretch_and_slip.fall_cents(float(intervals.spans_days[-1, 1]), ahead_days, intervals.steps)
        rate = intervals.steady_over(self.last_two)
        apart = fall + ahead_days * rate.rate_cents_per_day if rate else 0.0
        return Figure(-fall, max(LEAST_SE_CENTS, float(np.hypot(se, apart / 2.0))))

    def _told(self) -> Figure:
        """Expected drift as it is told to the player. Stretch slows down: left alone the string falls no further in the days ahead than
        in as many before. Where its law foretells more than the last two intervals measured, beyond their errors, the value half way
        between is told, with an error that reaches both."""
        intervals, ahead_days = self.intervals, self.tolerance.ahead_days
        law, steady = self._expected(self.measured if self.rises else intervals), intervals.steady_over(self.last_two)
        if self.by_rate or steady is None or not law.known:
            return law
        if any(when > intervals.spans_days[self.last_two[0], 0] + 1e-9 for when, _ in intervals.steps):
            return law  # the pin was turned in the last two: it may well fall further than it did
        k = next(k for k in reversed(self.last_two) if k not in intervals.jumps)
        alone = float(np.sqrt(intervals.read_sds[k] ** 2 / intervals.covariance[k, k]))  # no misfit of a law makes a reading unsure
        measured, se = min(ahead_days * steady.rate_cents_per_day, 0.0), ahead_days * steady.se_cents_per_day * alone
        apart = (measured - law.value) / float(np.hypot(law.se, se))  # falls are negative: positive where it fell less than was foretold
        if apart <= 1.0:
            return law
        return Figure((law.value + measured) / 2.0, max(LEAST_SE_CENTS, (measured - law.value) / 2.0))
