"""Has a new string settled, and if not, when will it?

Settled: the drift to be expected over the next days stays within the owner's tolerance, as seen at the ends of two intervals running,
and what was measured over these two would not pass it beyond doubt, did the string not slow down. Nor has one settled that slipped more
than once and has not kept still for long enough since (`recurring`).
Each interval is judged with the readings up to its end. Two kinds help to find the law of the stretch but don't count among the two:
intervals of a few hours, and those from before a tuning that only a rise tells of. A string that has been on for long, or since before
the log, is judged by its measured rate alone; so is a new one that rises, for no law of stretch does, and what one foretells means nothing.
Where none of the moves of a new string tells how it stretches (`tuned.hides_stretch`), the laws are those of its kind: it is not settled,
nor foretold to settle, sooner than its kind.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np

from toneprobe.measure.figure import Figure
from toneprobe.settling.creep import Creep, CreepPrior, usual_prior
from toneprobe.settling.forecast import AsOf, read_forecast
from toneprobe.settling.history import as_said_before, none_before
from toneprobe.settling.intervals import Intervals, gather
from toneprobe.settling.readings import LEAST_SE_CENTS, PitchReading, in_order, known
from toneprobe.settling.recurring import recurring_slips
from toneprobe.settling.steady import LEAST_INTERVALS, OLD_DAYS, SD_OF_90, SteadyFall, fit_steady, is_slipping_new, is_slipping_old
from toneprobe.settling.tuned import hides_stretch, usual_fall
from toneprobe.settling.verdict import USUAL_TOLERANCE, DateRange, Grounds, Move, Recurring, Settling, Tolerance
from toneprobe.settling.words import reasons_of, with_next_step

SHORTEST_H = 6.0  # an interval that counts among the two: wires settle in hours, a night is enough
N_RUNNING = 2
DOUBT_SHARE = 1.4  # the 90 % point of the expected drift may exceed the tolerance by no more
LONGEST_FORECAST_DAYS = 365.0
FALLS_ON_SHARE = 0.5  # so much of the weight on laws that never slow down: then no end can be foretold …
FALLS_ON_INTERVALS = 3  # … but of two intervals nobody can say that one is no slower than the other
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

    `readings` of this fitting alone; `fitted_on` None where it has been on since before the book was begun; `neighbours` by name or
    number: settled strings of the same material; `prior` from `usual_prior` or `prior_from` (None: a string of unknown material);
    `day` on which it is asked (None: what the checks tell, whenever); `company`: the strings to pluck with it, which tell the weather
    (None: not asked for).
    """
    known_prior = prior or usual_prior(None, cents_per_day=tolerance.cents / tolerance.ahead_days)

    def judged(known: Sequence[PitchReading]) -> tuple[Settling, Grounds, Intervals]:
        intervals = gather(known, fitted_on, neighbours or {}, known_prior)
        age_days = intervals.first_age_days() if fitted_on is not None else None
        return *_judge(intervals, known, age_days, fitted_on is None, tolerance), intervals

    checks = in_order(readings)
    found, grounds, intervals = judged(readings)
    if found.settled_on is not None:
        found = as_said_before(found, checks, lambda known: judged(known)[0])
    last_move = _last_move(intervals, checks)
    grounds = replace(grounds, last_move=last_move, jumps=_jumps(intervals, checks), today=day.today if day else None,
                      company=None if company is None else tuple(company),
                      falls_short=last_move if grounds.is_hidden and _falls_short(intervals) else None)
    last = max((r.at.date() for r in readings), default=None)
    found = replace(found, string=readings[0].string if readings else "", checked_on=last)
    if day and not grounds.falls_on:
        measured_on = intervals.spans[-1][1].date() if grounds.is_old and intervals.spans else None
        found = read_forecast(found, day, n_counting=grounds.n_counting, measured_on=measured_on, is_hidden=grounds.is_hidden,
                              rises=grounds.rises)
    return with_next_step(replace(found, reasons=reasons_of(found, grounds)), grounds)


def _judge(
    measured: Intervals, readings: Sequence[PitchReading], age_days: float | None, predates_log: bool, tolerance: Tolerance
) -> tuple[Settling, Grounds]:
    n = len(measured.spans)
    is_old = predates_log or (age_days is not None and age_days >= OLD_DAYS)
    is_hidden = not is_old and _is_hidden(measured, readings, tolerance)
    intervals = measured.saying_nothing() if is_hidden else measured
    creep = intervals.until(n)
    counting = _counting(intervals)
    steady = _steady(measured, [k for k in range(n) if k not in intervals.jumps])
    rises = not is_old and _rises(measured, steady, counting, tolerance)
    by_rate = is_old or rises
    slips = is_slipping_old(intervals.steady_fall_of_old(), age_days) if is_old else _is_slipping_new(intervals, creep)
    recurring = None if is_old or slips else recurring_slips(intervals, tolerance)
    state = "slipping" if slips else _quiet_state(intervals, counting, by_rate, tolerance)
    state = "unsure" if state == "settled" and recurring else state
    falls_on = state == "settling" and _falls_on(creep, counting, tolerance)
    moves = state == "settling" and _moves_too_much(intervals, counting[-1:], tolerance)
    days = None if slips or is_old or falls_on or state == "unsure" else _settled_range(intervals, creep, tolerance)
    days = _not_too_soon(days, intervals, recurring, moves=moves) if days else None
    clear_rise = steady is not None and steady.clear_rise
    found = Settling(
        string="", state=state, checked_on=None, n_intervals=n, n_neighbours=min(intervals.n_neighbours, default=0),
        rate_cents_per_day=_measured_rate(measured, counting),
        expected_drift_cents=_going_on(intervals, counting, tolerance) if falls_on or (slips and not by_rate)
        else _told(measured if rises else intervals, counting, by_rate, tolerance),
        tolerance=tolerance, settled=days, settled_on=days.likely if days and state == "settled" else None,
        creep_cents=_amplitude(creep, n, is_old, rises), jumped_on=tuple(intervals.spans[k][1].date() for k in sorted(intervals.jumps)),
        recurring=recurring,
    )
    return found, Grounds(is_old, len(counting), clear_rise, tuned=intervals.tuned, falls_on=falls_on,
                          foretold=days is not None and not moves, rises=rises, quiet=_quiet(intervals, counting, by_rate, tolerance),
                          is_hidden=is_hidden)


def _is_hidden(intervals: Intervals, readings: Sequence[PitchReading], tolerance: Tolerance) -> bool:
    """Whether a string was of an age at which its kind stretches when its last move began, and none of its moves tells of its stretch."""
    usual_days = intervals.prior.centre_cents * tolerance.ahead_days / tolerance.cents  # at rate A/x it falls by the tolerance's rate
    return (bool(intervals.spans) and intervals.spans_days[-1, 0] < usual_days
            and hides_stretch(readings, intervals.spans, intervals.falls, intervals.read_sds))


def _falls_short(intervals: Intervals) -> bool:
    """Whether the last move was no fall, or one hardly as a string of its kind has it at its age."""
    fall, sd = intervals.falls[-1], intervals.read_sds[-1]
    return fall <= 0.0 or usual_fall(intervals.spans_days[-1], intervals.prior.centre_cents) - fall > SD_OF_90 * sd


def _counting(intervals: Intervals) -> list[int]:
    """The intervals that count among the two: long enough, and after the last tuning that only a rise tells of."""
    since = max((one.until for one in intervals.tuned), default=datetime.min)
    return [k for k, (start, end) in enumerate(intervals.spans) if end - start >= timedelta(hours=SHORTEST_H) and start >= since]


def _is_slipping_new(intervals: Intervals, creep: Creep) -> bool:
    if len(intervals.spans) - len(intervals.jumps) < LEAST_INTERVALS:
        return False
    both = intervals.stretch_and_slip
    slip = SteadyFall(-both.slip, float(np.sqrt(both.covariance[1, 1])), both.chi2)
    return is_slipping_new(slip, stretch_chi2=creep.least_chi2)


def _rises(intervals: Intervals, steady: SteadyFall | None, counting: Sequence[int], tolerance: Tolerance) -> bool:
    """Whether a new string does what stretch never does: clearly so over all intervals, or so fast over the last two that count that the
    tolerance would be passed, beyond doubt or as over all of them.

    `steady`: over all intervals. Where no neighbour was read weather leaves every rise in doubt, so that its size alone must tell.
    """
    if steady is None or len(counting) < N_RUNNING:
        return False
    latest = _steady(intervals, [k for k in counting[-N_RUNNING:] if k not in intervals.jumps])
    most = tolerance.cents / tolerance.ahead_days
    if latest is None or latest.rate_cents_per_day <= most:
        return steady.clear_rise
    return (steady.clear_rise or steady.rate_cents_per_day > most
            or latest.rate_cents_per_day - most > TOO_FAST_SDS * latest.se_cents_per_day)


def _falls_on(creep: Creep, counting: Sequence[int], tolerance: Tolerance) -> bool:
    """Whether its checks speak for a fall that does not slow down, not clearly enough to call it slipping."""
    return len(counting) >= FALLS_ON_INTERVALS and creep.slip_share(tolerance.cents, tolerance.ahead_days) > FALLS_ON_SHARE


def _quiet_state(intervals: Intervals, counting: Sequence[int], by_rate: bool, tolerance: Tolerance) -> str:
    """Settled, settling or unsure, from the last two intervals that count."""
    last = counting[-N_RUNNING:]
    if any(k in intervals.jumps for k in last) or (by_rate and len(last) < N_RUNNING):
        return "unsure"
    quiet = _quiet(intervals, counting, by_rate, tolerance)
    if len(quiet) == N_RUNNING and all(quiet) and (by_rate or not _is_too_fast(intervals, last, tolerance)):
        return "settled"
    return "unsure" if by_rate else "settling"


def _quiet(intervals: Intervals, counting: Sequence[int], by_rate: bool, tolerance: Tolerance) -> tuple[bool, ...]:
    """At the ends of the last two intervals that count, whether the drift to be expected was within the tolerance."""
    return tuple(_is_quiet(intervals, k + 1, by_rate, tolerance) for k in counting[-N_RUNNING:])


def _ahead_points(intervals: Intervals, n: int, by_rate: bool, ahead_days: float) -> np.ndarray:
    """Fall to be expected at the end of the first n intervals: its 10, 50 and 90 % points, cents."""
    if not by_rate:
        return intervals.until(n).fall_cents(float(intervals.spans_days[n - 1, 1]), ahead_days)
    steady = _steady(intervals, [k for k in range(max(0, n - N_RUNNING), n) if k not in intervals.jumps])
    if steady is None:
        return np.full(3, np.nan)
    return -ahead_days * (steady.rate_cents_per_day + SD_OF_90 * steady.se_cents_per_day * np.array([1.0, 0.0, -1.0]))


def _is_quiet(intervals: Intervals, n: int, by_rate: bool, tolerance: Tolerance) -> bool:
    """Whether after the first n intervals the drift to be expected lay within the tolerance."""
    low, middle, high = _ahead_points(intervals, n, by_rate, tolerance.ahead_days)
    return bool(abs(middle) <= tolerance.cents and max(high, -low) <= DOUBT_SHARE * tolerance.cents)


def _moves_too_much(intervals: Intervals, latest: Sequence[int], tolerance: Tolerance) -> bool:
    """Whether the last interval that counts shows that it has not settled by its end."""
    expected = _expected(intervals, False, tolerance)
    return bool(latest) and (not expected.known or abs(expected.value) > tolerance.cents or _is_too_fast(intervals, latest, tolerance))


def _is_too_fast(intervals: Intervals, chosen: Sequence[int], tolerance: Tolerance) -> bool:
    """Whether it moved so fast over these intervals that the tolerance would be passed beyond doubt, if it did not slow down."""
    steady = _steady(intervals, [k for k in chosen if k not in intervals.jumps])
    if steady is None:
        return False
    beyond = abs(steady.rate_cents_per_day) - tolerance.cents / tolerance.ahead_days
    return beyond > TOO_FAST_SDS * steady.se_cents_per_day


def _steady(intervals: Intervals, chosen: Sequence[int]) -> SteadyFall | None:
    if not chosen:
        return None
    rows = np.array(chosen)
    return fit_steady(intervals.lengths_days()[rows], -intervals.falls[rows], intervals.covariance[np.ix_(rows, rows)])


def _measured_rate(intervals: Intervals, counting: Sequence[int]) -> Figure:
    steady = _steady(intervals, [k for k in counting[-N_RUNNING:] if k not in intervals.jumps])
    if steady is None:
        return Figure(None, reason="no two checks at least six hours apart")
    return Figure(steady.rate_cents_per_day, steady.se_cents_per_day)


def _last_move(intervals: Intervals, checks: Sequence[PitchReading]) -> Move | None:
    return _move(intervals, len(intervals.spans) - 1, checks) if intervals.spans else None


def _jumps(intervals: Intervals, checks: Sequence[PitchReading]) -> tuple[Move, ...]:
    found = sorted(zip(intervals.jumps, intervals.excesses, strict=True))
    return tuple(replace(_move(intervals, k, checks), excess_cents=excess) for k, excess in found)


def _move(intervals: Intervals, k: int, checks: Sequence[PitchReading]) -> Move:
    drift = Figure(float(-intervals.falls[k]), float(intervals.read_sds[k]))
    span = intervals.spans[k]
    return Move(*span, drift, intervals.n_neighbours[k], is_latest=span == tuple(one.at for one in checks[-2:]),
                from_left=any(one.at == span[0] and known(one.left_hz) for one in checks))


def _expected(intervals: Intervals, by_rate: bool, tolerance: Tolerance) -> Figure:
    n = len(intervals.spans)
    if n == 0:
        return Figure(None, reason="no two checks yet")
    low, middle, high = _ahead_points(intervals, n, by_rate, tolerance.ahead_days)
    if np.isnan(middle):
        return Figure(None, reason="no interval without a jump")
    return Figure(float(-middle), max(LEAST_SE_CENTS, float((high - low) / (2.0 * SD_OF_90))))


def _going_on(intervals: Intervals, counting: Sequence[int], tolerance: Tolerance) -> Figure:
    """What is to be expected of a new string whose fall does not slow down: by stretch and a slip of any rate, fitted together, for of the
    few slips by which laws are weighed the nearest takes all the weight. The error reaches half way to what the last two intervals say."""
    fall, se = intervals.stretch_and_slip.fall_cents(float(intervals.spans_days[-1, 1]), tolerance.ahead_days, intervals.steps)
    rate = _measured_rate(intervals, counting)
    apart = fall + tolerance.ahead_days * rate.value if rate.known else 0.0
    return Figure(-fall, max(LEAST_SE_CENTS, float(np.hypot(se, apart / 2.0))))


def _told(intervals: Intervals, counting: Sequence[int], by_rate: bool, tolerance: Tolerance) -> Figure:
    """What is to be expected, as it is told.

    What stretches slows down: left alone it falls no further in the days ahead than it did in as many before. Where its law foretells
    more than the last two intervals measured, beyond their errors, the two contradict each other, and it is told half way between
    them, with an error that reaches both. (What the first falls foretold was told as sure beside checks that found the string at rest.)
    """
    law, last = _expected(intervals, by_rate, tolerance), counting[-N_RUNNING:]
    steady = _steady(intervals, [k for k in last if k not in intervals.jumps])
    if by_rate or steady is None or not law.known or _tuned_since(intervals, last[0]):
        return law
    k = next(k for k in reversed(last) if k not in intervals.jumps)
    alone = float(np.sqrt(intervals.read_sds[k] ** 2 / intervals.covariance[k, k]))  # no misfit of a law makes a reading unsure
    measured, se = min(tolerance.ahead_days * steady.rate_cents_per_day, 0.0), tolerance.ahead_days * steady.se_cents_per_day * alone
    apart = (measured - law.value) / float(np.hypot(law.se, se))  # falls are negative: positive where it fell less than was foretold
    if apart <= 1.0:
        return law
    return Figure((law.value + measured) / 2.0, max(LEAST_SE_CENTS, (measured - law.value) / 2.0))


def _tuned_since(intervals: Intervals, k: int) -> bool:
    """Whether the pin was turned after the k-th interval began: then it may well fall further than it did."""
    return any(when > intervals.spans_days[k, 0] + 1e-9 for when, _ in intervals.steps)


def _settled_range(intervals: Intervals, creep: Creep, tolerance: Tolerance) -> DateRange | None:
    """Never before the last tuning that only a rise tells of, nor before the last move left out: how it went until then nobody knows."""
    days = creep.quiet_from_days(tolerance.cents, tolerance.ahead_days)
    if days[1] > LONGEST_FORECAST_DAYS:
        return None
    unknown = [one.until for one in intervals.tuned] + [intervals.spans[k][1] for k in intervals.jumps]
    since = max(unknown, default=intervals.origin)
    return DateRange(*(max(since, intervals.origin + timedelta(days=float(d))).date() for d in days))


def _not_too_soon(days: DateRange, intervals: Intervals, recurring: Recurring | None, *, moves: bool) -> DateRange:
    """Not by the last check where that still found it moving too much, nor before it has kept still for long enough after its slips."""
    if moves:
        days = none_before(intervals.spans[-1][1].date() + timedelta(days=1), days)
    return none_before(recurring.still_until.date(), days) if recurring else days


def _amplitude(creep: Creep, n_intervals: int, is_old: bool, rises: bool) -> Figure:
    if rises:
        return Figure(None, reason="it rises, so its stretch cannot be told")
    if n_intervals == 0 or is_old:
        return Figure(None, reason="too old to tell" if is_old else "no two checks yet")
    low, middle, high = creep.amplitude_cents
    return Figure(float(middle), float((high - low) / (2.0 * SD_OF_90)))
