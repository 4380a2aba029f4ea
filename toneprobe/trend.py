"""Where a fitting is heading: the trend of one figure over months, and when it reaches a threshold, if the readings carry it.

Slope and its interval after Theil and Sen (Sen, J. Am. Stat. Assoc. 63 (1968) 1379): the median of the slopes between all pairs of
readings, bounded by the slopes at ranks that Kendall's statistic gives. A third of the readings may be anywhere. The level is the median
of what remains, known best in the middle of the readings; towards either end the slope's error is added, so a date is sought from the
middle. Four readings rise one after the other by chance once in 4! = 24 times, in two strings of a harp, and the ranks of so few cannot
tell that from wear. So each reading's told error counts too, for a change within it means nothing: a figure rises only where its slope is
more than twice what errors of that size give a slope, and where its last reading lies beyond twice its own. Sweeps of one day share the
day's air and hand: together they are one reading, their median. All readings are compared with one fresh baseline, whose own error moves
them all alike and so shows in no scatter: it is added to the level. A date is named only where even the slow end of the interval rises,
and none farther ahead than `REACH` times what was observed.

A date also asks for a rise that is still going on. A knot that gave way, a new place or a new hand moves a string once and for all, wear
may pause, and damp and dry months make a string ring shorter and longer every year: all of these slope too. So the line stands against a
jump, a rise that is over and a yearly cycle, and no date is named where one of them explains the readings clearly better. Less than half a
cycle looks like a line whatever is fitted: before a year and a half it is said that the season may have a part in it. What it cannot see:
a jump or an end so late that few readings follow, and a pace that changes; wear that quickens comes before its dates.

Level and pace err independently in the middle of the readings, so the days that they allow are Fieller's (J. R. Stat. Soc. B 16 (1954)
175). Where those begin before the last sweep the threshold may be passed already, and that is said instead of a first month: a date cut
to today would come after the truth in every string that has passed it. Wear may also end in a break that no trend shows: a date is a
reason to have a spare, never a promise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from toneprobe.days import DAYS_PER_MONTH, DAYS_PER_YEAR, MONTHS
from toneprobe.limits import ERRORS_TOLD
from toneprobe.medians import SD_OF_DEVIATION, SE_OVER_MEANS

LEAST_READINGS = 4
LEAST_SPAN_DAYS = 60
REACH = 1.5  # times the observed span; farther ahead nothing is said
HALF_WAY = 0.5  # of the threshold: what has not come so far is left alone, for among 47 strings chance alone makes one rise
CONFIDENCE = 0.95  # interval of slope and of middle level; straight rises reach the threshold within what is named nine times in ten at
# least, the sweeps after it included (simulated: tests/benchmarks/where_heading.py)
CONFIDENCE_Z = 1.96  # the same in standard errors, where the scatter is known; where the readings told it, Student's with n − 2 freedoms
ROBUST_FROM = 10  # readings from which the scatter is that of their middle half, so that wild ones have no say; of fewer that half lies on
# one line by chance too often (95 % of the levels of five would ask for 11 errors, simulated): their rms
SHORT_ROW = 3.0  # over n: how much too small the middle half's scatter about its own line looks (simulated, n = 10 to 20)
OWN_SHARE = 0.5  # of a change's told error by which the sweep, and as much the baseline, scatters: those errors are set on the cautious
# side, changes between takes of untouched real strings scatter by 0.5 to 0.75 of them, both sides together (measured, 1 and 2 plucks)
CLEARLY = 1.5  # log likelihood by which another shape must beat the line, ½·n·ln of what the two leave (set on simulated histories:
# tests/benchmarks/where_heading.py; at 1 one rise in twenty more is told nothing, and hardly fewer that do not go on are told a date)
WILD = 2.0  # scatters from the line; farther off a reading may not pull
LEAST_LEVEL = 3  # last readings that show that a rise is over
N_PHASES = 24  # of a yearly cycle, half a month apart
SEASONS_DAYS = 548  # a year and a half: what was seen for less may be half a yearly cycle, which no fit can tell from wear


@dataclass(frozen=True)
class TrendPoint:
    """One sweep's figure, positive is worse: for example `Condition.changes["ring"]`."""

    date: date
    value: float
    se: float | None = None  # of the change, the baseline's share included


@dataclass(frozen=True)
class Trend:
    """The figure's change per month with a 95 % interval (92 % of four readings: all their slopes together hold no more), and its level on
    the last day and in the middle of the readings."""

    per_month: float
    low_per_month: float
    high_per_month: float
    level: float
    level_se: float  # the slope's error included; its 95 % interval over 2·1.96
    middle_level: float
    middle_se: float
    middle_doubt: float  # half of its 95 % interval (the level lies in it in 93 to 97 % of rises of 4 to 20 readings, simulated)
    middle_days: float  # before the last day
    n_readings: int  # sweeps
    first: date
    last: date
    baseline_se: float = 0.0  # of all levels together: what the readings are compared with
    told_se_per_month: float = 0.0  # of the slope, from the readings' told errors alone
    last_is_beyond_doubt: bool = True  # the last reading, by its own told error
    is_straight: bool = True  # no jump, no rise that is over and no yearly cycle explains the readings better than a line

    @property
    def rises(self) -> bool:
        is_beyond_doubt = self.last_is_beyond_doubt and self.per_month > ERRORS_TOLD * self.told_se_per_month
        return self.low_per_month > 0.0 and is_beyond_doubt


@dataclass(frozen=True)
class Crossing:
    """When a threshold is reached at this pace. latest None: not within what can be said."""

    earliest: date
    latest: date | None
    may_be_past: bool = False  # by the early end it was reached on or before the last day, which `earliest` then is


def fit_trend(points: Sequence[TrendPoint]) -> Trend | None:
    """None with fewer than LEAST_READINGS different days, or over less than LEAST_SPAN_DAYS. Any order."""
    dates = sorted({point.date for point in points})
    if len(dates) < LEAST_READINGS or (dates[-1] - dates[0]).days < LEAST_SPAN_DAYS:
        return None
    days = np.array([(day - dates[0]).days for day in dates], float)
    values = np.array([np.median([point.value for point in points if point.date == day]) for day in dates])
    from scipy.special import stdtrit
    from scipy.stats import theilslopes  # a fifth of a second to load, and only strings of several months need it

    slope, _, low, high = theilslopes(values, days, alpha=CONFIDENCE)
    rest = values - slope * days
    own_se = OWN_SHARE * float(np.median([point.se or 0.0 for point in points]))
    seen, per_scatter = _scatter(rest), SE_OVER_MEANS / float(np.sqrt(len(days)))
    middle, middle_se = float(np.mean(days)), per_scatter * max(seen, own_se)  # a few readings may lie on one line by chance
    student = float(stdtrit(len(days) - 2, 0.5 + 0.5 * CONFIDENCE))
    middle_doubt = per_scatter * max(student * seen, CONFIDENCE_Z * own_se)
    end_days, slope_doubt = float(days[-1]) - middle, 0.5 * float(high - low)
    level, middle_level = (float(np.median(rest) + slope * day) for day in (days[-1], middle))
    told_se = np.array([np.median([point.se or 0.0 for point in points if point.date == day]) for day in dates])
    is_beyond_doubt = bool(values[-1] > ERRORS_TOLD * told_se[-1])
    level_se = float(np.hypot(middle_doubt, slope_doubt * end_days)) / CONFIDENCE_Z
    return Trend(*(DAYS_PER_MONTH * float(s) for s in (slope, low, high)), level, level_se,
                 middle_level, middle_se, middle_doubt, end_days, len(points), dates[0], dates[-1], own_se,
                 DAYS_PER_MONTH * _slope_error(days, told_se), is_beyond_doubt,
                 _is_straight(days, values, slope * days + np.median(rest), max(seen, own_se)))


def _scatter(rest: np.ndarray) -> float:
    """Standard deviation of readings about the line fitted to them, shape (n,), n ≥ 4."""
    if len(rest) < ROBUST_FROM:
        return float(np.std(rest, ddof=2))
    return SD_OF_DEVIATION * float(np.median(np.abs(rest - np.median(rest)))) * (1.0 + SHORT_ROW / len(rest))


def _is_straight(days: np.ndarray, values: np.ndarray, line: np.ndarray, scatter: float) -> bool:
    """Whether nothing else explains readings, shapes (n,), clearly better than a line: a jump, a rise that is over, a yearly cycle.

    Each is a shape times an amplitude above a level, and what it leaves is compared. Wild readings, which would decide that, are drawn in.
    """
    kept = np.clip(values, line - WILD * scatter, line + WILD * scatter)
    phases = np.arange(N_PHASES)[:, None] / N_PHASES
    others = np.concatenate([(days >= days[1:, None]).astype(float), np.minimum(days, days[1:-LEAST_LEVEL, None]),
                             np.cos(2.0 * np.pi * (days / DAYS_PER_YEAR - phases))])
    left = float(_left_by(days[None, :], kept)[0])
    return bool(left <= np.exp(2.0 * CLEARLY / len(days)) * _left_by(others, kept).min() + 1e-12)


def _left_by(shapes: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Sum of the squares (m,) that each shape (m, n), times an amplitude above a level, leaves of values (n,). It must rise."""
    off, about = shapes - shapes.mean(axis=1, keepdims=True), values - values.mean()
    return (about**2).sum() - np.maximum(off @ about, 0.0) ** 2 / (off**2).sum(axis=1)


def _slope_error(days: np.ndarray, se: np.ndarray) -> float:
    """Of a straight line through readings that have these errors, per day: the slope is Σ d·y / Σ d², d days from their middle."""
    off = days - days.mean()
    return float(np.sqrt((off**2 * se**2).sum()) / (off**2).sum())


def threshold_crossing(trend: Trend, threshold: float) -> Crossing | None:
    """None where the figure does not surely rise, is there already or not yet half way, or would come there too far ahead to say."""
    if not trend.rises or not trend.is_straight or not HALF_WAY * threshold <= trend.level < threshold:
        return None
    observed_days = (trend.last - trend.first).days
    left, doubt = threshold - trend.middle_level, float(np.hypot(trend.middle_doubt, CONFIDENCE_Z * trend.baseline_se))
    pace, low, high = (rate / DAYS_PER_MONTH for rate in (trend.per_month, trend.low_per_month, trend.high_per_month))
    soon_days = _least_days(left, doubt, pace, high - pace) - trend.middle_days
    late_days = max(_most_days(left, doubt, pace, pace - low) - trend.middle_days, 0.0)
    if soon_days > REACH * observed_days:
        return None
    latest = trend.last + timedelta(days=round(late_days)) if late_days <= REACH * observed_days else None
    return Crossing(trend.last + timedelta(days=max(round(soon_days), 0)), latest, soon_days <= 0.0)


def _least_days(left: float, doubt: float, pace: float, pace_doubt: float) -> float:
    """From the middle of the readings to the first day that they allow: the least x with (left − pace·x)² ≤ doubt² + (pace_doubt·x)².

    0 where they allow the middle itself.
    """
    if left <= doubt:
        return 0.0
    return (left**2 - doubt**2) / (pace * left + float(np.sqrt((pace_doubt * left) ** 2 + doubt**2 * (pace**2 - pace_doubt**2))))


def _most_days(left: float, doubt: float, pace: float, pace_doubt: float) -> float:
    """To the last such day, where the pace is surely above 0: pace_doubt < pace."""
    root = float(np.sqrt((pace_doubt * left) ** 2 + doubt**2 * (pace**2 - pace_doubt**2)))
    return (pace * left + root) / (pace**2 - pace_doubt**2)


def trend_sentence(trend: Trend | None, threshold: float, what: str, state: str) -> str:
    """What a player is told, "" where the readings carry nothing.

    what, state: what the threshold means, "a quarter of its ring" is "gone".
    """
    if trend is None:
        return ""
    seen = f"{trend.n_readings} sweeps since {_month(trend.first)}"
    if trend.rises and trend.level >= threshold:
        return f"It has been getting worse over {seen}."
    crossing = threshold_crossing(trend, threshold)
    if crossing is None:
        return ""
    is_short = (trend.last - trend.first).days < SEASONS_DAYS
    season = " Over less than a year and a half the season may have a part in it." if is_short else ""
    if crossing.may_be_past and crossing.latest is None:
        return f"Going by {seen}, {what} may be {state} already.{season}"
    return f"If it goes on as over {seen}, {what} will be {state} {_when(crossing)}.{season}"


def _when(crossing: Crossing) -> str:
    earliest, latest = crossing.earliest, crossing.latest
    if crossing.may_be_past:
        return f"by {_month(latest)}, and may be already"
    if latest is None:
        return f"in {_month(earliest)} at the earliest"
    if (earliest.year, earliest.month) == (latest.year, latest.month):
        return f"in {_month(earliest)}"
    return f"between {MONTHS[earliest.month - 1] if earliest.year == latest.year else _month(earliest)} and {_month(latest)}"


def _month(day: date) -> str:
    return f"{MONTHS[day.month - 1]} {day.year}"
