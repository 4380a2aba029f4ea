"""What the weather did: the drift that settled neighbours of the same material had in common.

Strings of one material differ in how they answer heat and damp, so no constant is used. The neighbours' mean is taken out, and what a
string may differ from it is added to the error. A string that answers 1.3 times as much does so in every interval, so that in a spell of
dry weather its errors add up as a slip does: r²·m·mᵀ, where m is the mean of each interval and r the scatter of the answers. What is
left, as strings answer heat otherwise than damp and wander by themselves, is new in each. The neighbours teach both.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.settling.readings import Drifts, PitchReading, Span, drifts_over

OUTLIER_SDS = 3.5  # a neighbour further off than this is slipping, or was retuned unlogged
FEWEST_FOR_OUTLIERS = 4
SPREAD_SHARE = 0.3  # by which strings differ, of what they do in common, before they have shown it (set here)
SAME_SHARE = 0.8  # of that variance, the same in every interval; the rest is heat against damp, thick against thin (set here)
SPREAD_COUNT = 3.0  # how many neighbours that guess is worth
GOES_ON_SHARE = 0.1  # of what a string wanders by itself: the next check finds it where this one left it (set here)
WEATHER_CENTS = 4.0  # sd of what weather may do in one interval where no neighbour was read (from memory: a few cents)


@dataclass(frozen=True)
class Wander:
    """How far each string moves by itself from check to check, apart from the weather, as the differences between neighbours show."""

    covariance: np.ndarray  # (n, n) cents², of the drift taken out, and of how much a string may wander and answer the weather by itself
    freedom: int  # degrees of freedom from which it is known


@dataclass(frozen=True)
class Common:
    """What was common to the neighbours in each interval."""

    cents: np.ndarray  # (n,) drift to take out, 0 where no neighbour was read
    covariance: np.ndarray  # (n, n) cents², of the drift taken out and of how differently the string may answer
    n_neighbours: tuple[int, ...]
    wander: Wander


def common_drift(spans: Sequence[Span], neighbours: Mapping[str | int, Sequence[PitchReading]]) -> Common:
    """Mean drift of the settled neighbours over each span; give only those of the same material that have settled."""
    drifts = [drifts_over(readings, spans) for readings in neighbours.values()]
    cents = np.array([d.cents for d in drifts]).reshape(len(drifts), len(spans))
    noise = np.array([np.diag(d.covariance()) for d in drifts]).reshape(cents.shape)
    used = _without_outliers(cents, noise)
    counts = used.sum(axis=0)
    means = np.where(used, np.nan_to_num(cents), 0.0).sum(axis=0) / np.maximum(counts, 1)
    apart = _apart(cents, noise, used, means)
    share = 1.0 + 1.0 / np.maximum(counts, 1)  # of the string itself and of the neighbours' mean
    alike = apart.answer * np.outer(means * share**0.5, means * share**0.5) + np.diag(np.where(counts > 0, 0.0, WEATHER_CENTS**2))
    guess = (1.0 - SAME_SHARE) * (SPREAD_SHARE * means) ** 2
    anew = (SPREAD_COUNT * guess + apart.squares) / (SPREAD_COUNT + apart.freedom) * share
    errors = _reading_errors(drifts, used, counts) + alike
    own = _wandering(spans, apart.squares / max(apart.freedom, 1) * share)
    wander = Wander(errors + np.diag(guess * SPREAD_COUNT / (SPREAD_COUNT + apart.freedom) * share) + own, apart.freedom)
    return Common(means, errors + np.diag(np.where(counts > 0, anew, 0.0)), tuple(int(n) for n in counts), wander)


def _without_outliers(cents: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Which neighbour is used in which interval, shape of `cents`."""
    used = ~np.isnan(cents)
    for column in np.flatnonzero(used.sum(axis=0) >= FEWEST_FOR_OUTLIERS):
        rows = np.flatnonzero(used[:, column])
        off = np.abs(cents[rows, column] - np.median(cents[rows, column]))
        sd = max(SD_OF_DEVIATION * float(np.median(off)), float(np.sqrt(np.median(noise[rows, column]))))
        used[rows, column] = off <= OUTLIER_SDS * sd
    return used


@dataclass(frozen=True)
class _Apart:
    """How strings differ beyond their reading noise."""

    answer: float  # r², variance of the share of the common drift by which a string moves more or less, the same in every interval
    squares: float  # cents², sum over all intervals of what is left
    freedom: int  # of that sum


def _apart(cents: np.ndarray, noise: np.ndarray, used: np.ndarray, means: np.ndarray) -> _Apart:
    """The answers are each neighbour's deviations regressed on the mean."""
    counts = used.sum(axis=0)
    known = used & (counts > 1)
    weather, off = np.where(known, means, 0.0), np.where(known, np.nan_to_num(cents) - means, 0.0)
    noise = np.where(known, noise * (1.0 - 1.0 / np.maximum(counts, 1)), 0.0)
    told = np.flatnonzero(weather.any(axis=1))
    squared = (weather[told] ** 2).sum(axis=1)
    answers, variances = np.zeros(len(cents)), np.zeros(len(cents))
    answers[told] = (weather * off)[told].sum(axis=1) / squared
    variances[told] = (weather**2 * noise)[told].sum(axis=1) / squared**2
    n_free = max(len(told) - 1, 0)
    left = float((off**2 - noise).sum() - ((answers**2 - variances)[told] * squared).sum())
    return _Apart(_answer_variance(answers[told], variances[told]), max(0.0, left), int(np.maximum(counts - 1, 0).sum()) - n_free)


def _answer_variance(answers: np.ndarray, variances: np.ndarray) -> float:
    """r², by the answers (k,) about their mean with the variances that reading noise gives them, beside a guess that is worth
    SPREAD_COUNT of them; one counts the less the more of it is noise."""
    guess = SAME_SHARE * SPREAD_SHARE**2
    weights = (guess / (guess + variances)) ** 2
    n_free = float(weights.sum()) * (1.0 - 1.0 / max(len(answers), 1))  # their mean is known from themselves
    return max(0.0, SPREAD_COUNT * guess + float(weights @ (answers**2 - variances))) / (SPREAD_COUNT + n_free)


def _wandering(spans: Sequence[Span], variances: np.ndarray) -> np.ndarray:
    """(n, n) covariance of intervals over which a string wanders by such variances (n,), cents². Part of it goes on from check to check;
    the rest is of each check anew: two intervals that share one have it with opposite signs, so it does not add up."""
    rows = np.diag(variances)
    for k in range(len(spans) - 1):
        if spans[k][1] == spans[k + 1][0]:
            rows[k, k + 1] = rows[k + 1, k] = -0.5 * (1.0 - GOES_ON_SHARE) * min(variances[k], variances[k + 1])
    return rows


def _reading_errors(drifts: Sequence[Drifts], used: np.ndarray, counts: np.ndarray) -> np.ndarray:
    shares = used / np.maximum(counts, 1)
    return sum((share[:, None] * drift.covariance() * share[None, :] for drift, share in zip(drifts, shares, strict=True)),
               np.zeros((len(counts), len(counts))))
