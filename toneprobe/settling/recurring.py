"""Slips that come again: a knot or a pin that gives way in jumps.

A knot that draws through, or a pin that turns in its hole, holds until friction gives way, and the string falls at once. One jump may be a
knot that has bedded in, or a knee against the harp. Two or more are taken to come by chance at one rate (Poisson); n of them in W days tell
the rate, by Gamma(n, W). They may also have ended with the last, seen to or bedded in, as likely as not. Over q days of keeping still a
rate that goes on leaves no jump with chance (W/(W + q))^n, so that the doubt shrinks. Still enough is where the chance of one more within
the tolerance's days is a tenth: with three days, 4.5 days after two slips in six days, or 5.25 after three in fifteen; at once after two in
thirty.

Not seen: jumps too small to stand out from the readings, two between the same two checks, and the first of them.
A fall that takes back a rise, or is taken back by one, is no slip: a reading was wrong, or it was tuned and not logged.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from toneprobe.settling.intervals import Intervals, days_between
from toneprobe.settling.readings import Span
from toneprobe.settling.verdict import Recurring, Tolerance

LEAST_SLIPS = 2
ENDED_SHARE = 0.5  # before it has kept still at all: chance that the last slip was the last (set here)
LEFT_CHANCE = 0.1  # of one more within the tolerance's days; the forecast of stretch leaves as much above its 90 % point
STEP_DAYS = 0.25


@dataclass(frozen=True)
class _Jump:
    span: Span
    fall_cents: float  # beyond what explains the other intervals; negative: it rose


def recurring_slips(intervals: Intervals, tolerance: Tolerance) -> Recurring | None:
    """Falls at once by more than the tolerance, where there are two or more and it has not kept still for long enough since."""
    jumps = [_Jump(intervals.spans[k], cents) for k, cents in zip(intervals.jumps, intervals.excesses, strict=True)]
    rises = [one for one in jumps if one.fall_cents < 0.0] + [_Jump((one.since, one.until), -one.cents) for one in intervals.tuned]
    slips = sorted((one for one in jumps if one.fall_cents > tolerance.cents and not _is_taken_back(one, rises, tolerance)),
                   key=lambda one: one.span)
    if len(slips) < LEAST_SLIPS:
        return None
    last = slips[-1].span[1]
    watched_days = days_between(min(start for start, _ in intervals.spans), last)
    until = last + timedelta(days=days_to_keep_still(len(slips), watched_days, tolerance.ahead_days))
    return Recurring(tuple(one.span for one in slips), until) if intervals.spans[-1][1] < until else None


def days_to_keep_still(n: int, watched_days: float, ahead_days: float) -> float:
    """After the last of n slips in so many days: until the chance of one more in the days ahead is small, in steps of six hours."""
    still = 0.0
    while chance_of_one_more(n, watched_days, still, ahead_days) > LEFT_CHANCE:
        still += STEP_DAYS
    return still


def chance_of_one_more(n: int, watched_days: float, still_days: float, ahead_days: float) -> float:
    """In the days ahead, after n slips in so many days and so many days without."""
    seen = watched_days + still_days
    as_still = (watched_days / seen) ** n
    goes_on = (1.0 - ENDED_SHARE) * as_still / ((1.0 - ENDED_SHARE) * as_still + ENDED_SHARE)
    return goes_on * (1.0 - (seen / (seen + ahead_days)) ** n)


def _is_taken_back(slip: _Jump, rises: Sequence[_Jump], tolerance: Tolerance) -> bool:
    """Whether it rose as far just before or just after."""
    return any((rise.span[1] == slip.span[0] or rise.span[0] == slip.span[1]) and abs(rise.fall_cents + slip.fall_cents) <= tolerance.cents
               for rise in rises)
