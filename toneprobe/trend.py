"""Where a fitting is heading: the trend of one figure over months, and when it reaches a threshold, if the readings carry it.

Slope and interval after Theil and Sen (Sen, J. Am. Stat. Assoc. 63 (1968) 1379): the median of the slopes between all pairs of readings,
bounded by the slopes at ranks that Kendall's statistic gives; robust against a third of the readings. The level is the median of what
remains. Four readings rise one after the other by chance once in 4! = 24 times, in two strings of a harp, and their ranks cannot tell that
from wear. So each reading's own error counts too: a figure rises only where its slope is more than twice what such errors give a slope, and
its last reading lies beyond twice its own error. Sweeps of one day share its air and hand: they are one reading, their median. All readings
share one fresh baseline, whose error moves them alike and shows in no scatter: it is added to the level. A date is named only where even
the slow end of the interval rises, and none farther ahead than `REACH` times what was observed.

A date also needs a rise that is still going on. A knot that gave way, a new place or a new hand moves a string once, wear may pause, and
damp and dry months make a ring shorter and longer every year: all of these slope too. So the line is tested against a jump, a rise that is
over and a yearly cycle, and no date is named where one of them explains the readings clearly better. Less than half a cycle looks like a
line in any case: before a year and a half the season is mentioned as a possible part.

The date comes from all shapes together: a line, a rise that levels off, one step, two steps, a rise that quickens. What wear will do is not
known, so the five have equal priors and are weighted by how well they explain the readings, averaged over their places and rates (so a
shape that fits anything gains nothing by it). Each gives, for each day, a chance that the threshold is reached, with Student's t of its own
level and pace; steps and levelling off often never reach it. In the weighted sum the first day is that with a chance of `EARLY`, the last
that of `LATE`; where the readings can't tell a steady rise from one that stops there is no last day, and *at the earliest* is said. No date
where not reaching it is likelier. A chance of `PAST_ALREADY` on the last observed day is told, for a date cut to today would come after the
truth in every string past the threshold. Not seen: an end or a change of pace so late that hardly a reading follows, and wear with a yearly
swing upon it. Wear may also end in a break that no trend shows: a date is a reason to have a spare, never a promise.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median

import numpy as np

from toneprobe.days import DAYS_PER_MONTH, DAYS_PER_YEAR
from toneprobe.limits import ERRORS_TOLD
from toneprobe.medians import SD_OF_DEVIATION

LEAST_READINGS = 4
LEAST_SPAN_DAYS = 60
REACH = 1.5  # times the observed span; farther ahead nothing is said
HALF_WAY = 0.5  # of the threshold: what has not come so far is left alone, for among 47 strings chance alone makes one rise
CONFIDENCE = 0.95  # interval of the slope
ROBUST_FROM = 10  # readings from which the scatter is that of their middle half, so that wild ones have no say; of fewer that half lies on
# one line by chance too often (95 % of the levels of five would ask for 11 errors, simulated): their rms
SHORT_ROW = 3.0  # over n: how much too small the middle half's scatter about its own line looks (simulated, n = 10 to 20)
OWN_SHARE = 0.5  # of a change's told error by which the sweep, and as much the baseline, scatters: those errors are set on the cautious
# side, changes between takes of untouched real strings scatter by 0.5 to 0.75 of them, both sides together (measured, 1 and 2 plucks)
CLEARLY = 1.5  # log likelihood by which another shape must beat the line, ½·n·ln of what the two leave (set on simulated histories:
# tests/benchmarks/where_heading.py; at 1 one rise in twenty more is told nothing, and hardly fewer that do not go on are told a date)
WILD = 2.0  # scatters from the line; farther off a reading may not pull
LEAST_LEFT = 1e-12  # sum of squares: readings on one line leave less than a computer can tell
LEAST_LEVEL = 3  # last readings that show that a rise is over
N_PHASES = 24  # of a yearly cycle, half a month apart
LEVELS_OFF_IN = (0.15, 1.0)  # of the observed span, the time in which 63 % of such a rise is done; slower it is a line as far as is seen
N_LEVELLING = 8  # such times
SHARES_OF_FIRST = (1.0 / 3.0, 0.5, 2.0 / 3.0)  # of two steps
TWO_STEPS_FROM = 6  # readings; fewer are explained by two steps whatever they do
QUICKENING = (1.5, 2.0, 3.0)  # powers of the time
TOLD_FREEDOMS = 3  # readings for which the told errors stand in the scatter: a few readings may lie on one line by chance
EARLY, LATE = 0.05, 0.975  # chances that it is reached by the first and the last day named
PAST_ALREADY = 0.15  # that it is passed; told errors are on the cautious side, so of straight wear hardly any has at less, and one in ten
# at 0.2 to 0.3 (simulated: tests/benchmarks/where_heading.py)
LIKELY = 0.5  # that it is reached within REACH: less, and no date is named
N_AHEAD = 150  # days asked, evenly up to REACH


@dataclass(frozen=True)
class TrendPoint:
    """One sweep's figure, positive is worse: for example `Condition.changes["ring"]`."""

    date: date
    value: float
    se: float | None = None  # of the change, the baseline's share included


@dataclass(frozen=True)
class Trend:
    """The figure's change per month, the low end of its 95 % interval (92 % of four readings: all their slopes together hold no more), its
    level on the last day, and the readings."""

    per_month: float
    low_per_month: float
    level: float
    days: tuple[float, ...]  # of the readings, from the first on
    values: tuple[float, ...]  # wild ones drawn in
    n_readings: int  # sweeps
    first: date
    last: date
    baseline_se: float  # of all levels together: what the readings are compared with
    told_se_per_month: float  # of the slope, from the readings' told errors alone
    last_is_beyond_doubt: bool  # the last reading, by its own told error
    is_straight: bool  # no jump, no rise that is over and no yearly cycle explains the readings better than a line

    @property
    def rises(self) -> bool:
        is_beyond_doubt = self.last_is_beyond_doubt and self.per_month > ERRORS_TOLD * self.told_se_per_month
        return self.low_per_month > 0.0 and is_beyond_doubt


@dataclass(frozen=True)
class Crossing:
    """When a threshold is reached at this pace. latest None: not within what can be said."""

    earliest: date
    latest: date | None
    may_be_past: bool  # it may well have been reached on or before the last day, which `earliest` then is


def fit_trend(points: Sequence[TrendPoint]) -> Trend | None:
    """None with fewer than LEAST_READINGS different days, or over less than LEAST_SPAN_DAYS. Any order."""
    of_day: dict[date, list[TrendPoint]] = {}
    for point in sorted(points, key=lambda point: point.date):
        of_day.setdefault(point.date, []).append(point)
    dates = list(of_day)
    if len(dates) < LEAST_READINGS or (dates[-1] - dates[0]).days < LEAST_SPAN_DAYS:
        return None
    days = np.array([(day - dates[0]).days for day in dates], float)
    values = np.array([median(point.value for point in found) for found in of_day.values()])
    from scipy.stats import theilslopes  # a fifth of a second to load, and only strings of several months need it

    slope, _, low, _ = theilslopes(values, days, alpha=CONFIDENCE)
    rest = values - slope * days
    usual_se = _usual_se(points)
    own_se = OWN_SHARE * usual_se
    line, scatter = slope * days + np.median(rest), max(_scatter(rest), own_se)  # a few readings may lie on one line by chance
    kept = np.clip(values, line - WILD * scatter, line + WILD * scatter)  # wild ones would decide which shape explains them
    told_se = np.array([median(usual_se if point.se is None else point.se for point in found) for found in of_day.values()])
    is_beyond_doubt = bool(values[-1] > ERRORS_TOLD * told_se[-1])
    return Trend(*(DAYS_PER_MONTH * float(s) for s in (slope, low)), float(line[-1]), tuple(days.tolist()), tuple(kept.tolist()),
                 len(points), dates[0], dates[-1], own_se, DAYS_PER_MONTH * _slope_error(days, told_se), is_beyond_doubt,
                 _is_straight(days, kept))


def _usual_se(points: Sequence[TrendPoint]) -> float:
    """The median of the known errors, which stands for unknown ones; 0 where none is known."""
    told = [point.se for point in points if point.se is not None]
    return median(told) if told else 0.0


def _scatter(rest: np.ndarray) -> float:
    """Standard deviation of readings about the line fitted to them, shape (n,), n ≥ 4."""
    if len(rest) < ROBUST_FROM:
        return float(np.std(rest, ddof=2))
    return SD_OF_DEVIATION * float(np.median(np.abs(rest - np.median(rest)))) * (1.0 + SHORT_ROW / len(rest))


def _is_straight(days: np.ndarray, values: np.ndarray) -> bool:
    """Whether nothing explains readings, shapes (n,), clearly better than a line: no jump, no rise that is over, no yearly cycle. Each of
    these is a shape times an amplitude above a level; what they leave is compared."""
    phases = np.arange(N_PHASES)[:, None] / N_PHASES
    others = np.concatenate([(days >= days[1:, None]).astype(float), np.minimum(days, days[1:-LEAST_LEVEL, None]),
                             np.cos(2.0 * np.pi * (days / DAYS_PER_YEAR - phases))])
    left = float(_left_by(days[None, :], values)[0])
    return bool(left <= np.exp(2.0 * CLEARLY / len(days)) * _left_by(others, values).min() + LEAST_LEFT)


def _left_by(shapes: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Sum of squares (m,) that each shape (m, n), times an amplitude ≥ 0 above a level, leaves of values (n,)."""
    off, about = shapes - shapes.mean(axis=1, keepdims=True), values - values.mean()
    return (about**2).sum() - np.maximum(off @ about, 0.0) ** 2 / (off**2).sum(axis=1)


def _slope_error(days: np.ndarray, se: np.ndarray) -> float:
    """Of a straight line through readings with these errors, per day: the slope is Σ d·y / Σ d², d days from their mean."""
    off = days - days.mean()
    return float(np.sqrt((off**2 * se**2).sum()) / (off**2).sum())


def threshold_crossing(trend: Trend, threshold: float) -> Crossing | None:
    """None where the figure does not surely rise, is there already or not yet half way, or would come there too far ahead to say."""
    if not trend.rises or not trend.is_straight or not HALF_WAY * threshold <= trend.level < threshold:
        return None
    ahead_days, chances = _chances(trend, threshold)
    if chances[-1] < LIKELY:
        return None
    first, last = np.searchsorted(chances, (EARLY, LATE))
    soon, late = (trend.last + timedelta(days=round(ahead_days[k])) if k < N_AHEAD else None for k in (first, last))
    return Crossing(soon, late, bool(chances[0] >= PAST_ALREADY))


def _chances(trend: Trend, threshold: float) -> tuple[np.ndarray, np.ndarray]:
    """Days after the last reading, as far as REACH, and the chances that the threshold is reached by then, ascending, shapes (N_AHEAD,).

    With flat priors of level and amplitude, and the known errors as prior of the scatter, a shape's evidence is the power −ν/2 of what it
    leaves, ν its degrees of freedom (the unknown scatter integrated out).
    """
    from scipy.special import stdtr

    days, values = np.array(trend.days), np.array(trend.values)
    n, ahead, own = len(days), np.linspace(0.0, REACH * trend.days[-1], N_AHEAD), trend.baseline_se
    told = TOLD_FREEDOMS if own > 0.0 else 0
    freedoms, chances, weights = n - 2 + told, np.zeros(N_AHEAD), 0.0
    for shapes in _ways_to_rise(days, np.concatenate([days, days[-1] + ahead])):
        seen, middles = shapes[:, :n], shapes[:, :n].mean(axis=1, keepdims=True)
        squares = ((seen - middles) ** 2).sum(axis=1, keepdims=True)
        rises = np.maximum((seen - middles) @ (values - values.mean()), 0.0)[:, None] / squares
        left = np.maximum(_left_by(seen, values), LEAST_LEFT)[:, None] + told * own**2
        beyond = shapes[:, n:] - middles
        se = np.sqrt(left / freedoms * (1.0 / n + beyond**2 / squares) + own**2)
        reached = np.maximum.accumulate(stdtr(freedoms, (values.mean() + rises * beyond - threshold) / se), axis=1)
        weight = (left / max(float(np.var(values)), LEAST_LEFT)) ** (-0.5 * freedoms) / len(shapes)
        chances, weights = chances + (weight * reached).sum(axis=0), weights + float(weight.sum())
    return ahead, chances / weights


def _ways_to_rise(days: np.ndarray, at_days: np.ndarray) -> list[np.ndarray]:
    """Of a line, levelling off, quickening, one step, two steps: the shapes (m, len(at_days)). Steps lie between two readings of `days`, so
    they are over the day after: only that is given (m, len(days) + 1)."""
    span, between = days[-1], ((days[1:] + days[:-1]) / 2.0)[:, None]
    times = span * np.geomspace(*LEVELS_OFF_IN, N_LEVELLING)[:, None]
    powers = np.array(QUICKENING)[:, None]
    ways = [at_days[None, :] / span, 1.0 - np.exp(-at_days / times), (at_days / span) ** powers]
    at_days = at_days[:len(days) + 1]
    ways.append((at_days >= between).astype(float))
    if len(days) >= TWO_STEPS_FROM:
        one, other = np.triu_indices(len(between), 1)
        ways.append(np.concatenate([share * (at_days >= between[one]) + (1.0 - share) * (at_days >= between[other])
                                    for share in SHARES_OF_FIRST]))
    return ways
