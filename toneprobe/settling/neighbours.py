"""What the weather did: the drift that settled neighbours of the same material had in common.

Strings of one material differ in how they answer heat and damp, so no constant is used. The neighbours' mean is taken out, and their
scatter is added to the error, because the new string may differ from them as much.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.settling.readings import Drifts, PitchReading, Span, drifts_over

OUTLIER_SDS = 3.5  # a neighbour further off than this is slipping, or was retuned unlogged
FEWEST_FOR_OUTLIERS = 4
SPREAD_SHARE = 0.3  # how much strings differ, as a share of what they do in common, before they have shown it (set here)
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
    seen, freedom = _scatter(cents, noise, used, means)
    guess = (SPREAD_SHARE * means) ** 2
    share = 1.0 + 1.0 / np.maximum(counts, 1)  # of the string itself and of the neighbours' mean
    doubt = np.where(counts > 0, (SPREAD_COUNT * guess + seen) / (SPREAD_COUNT + freedom) * share, WEATHER_CENTS**2)
    errors = _reading_errors(drifts, used, counts)
    answer = np.where(counts > 0, guess * SPREAD_COUNT / (SPREAD_COUNT + freedom) * share, WEATHER_CENTS**2)
    wander = Wander(errors + np.diag(answer) + _wandering(spans, seen / max(freedom, 1) * share), freedom)
    return Common(means, errors + np.diag(doubt), tuple(int(n) for n in counts), wander)


def _without_outliers(cents: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Which neighbour is used in which interval, shape of `cents`."""
    used = ~np.isnan(cents)
    for column in np.flatnonzero(used.sum(axis=0) >= FEWEST_FOR_OUTLIERS):
        rows = np.flatnonzero(used[:, column])
        off = np.abs(cents[rows, column] - np.median(cents[rows, column]))
        sd = max(SD_OF_DEVIATION * float(np.median(off)), float(np.sqrt(np.median(noise[rows, column]))))
        used[rows, column] = off <= OUTLIER_SDS * sd
    return used


def _scatter(cents: np.ndarray, noise: np.ndarray, used: np.ndarray, means: np.ndarray) -> tuple[float, int]:
    """By how much strings differ beyond their reading noise: sum of squares in cents² over all intervals, and its degrees of freedom."""
    counts = used.sum(axis=0)
    squares = np.where(used, (np.nan_to_num(cents) - means) ** 2 - noise * (1.0 - 1.0 / np.maximum(counts, 1)), 0.0)
    return max(0.0, float(squares[:, counts > 1].sum())), int(np.maximum(counts - 1, 0).sum())


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
