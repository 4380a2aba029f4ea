"""What the weather did: the drift that settled neighbours of the same material had in common.

Strings of one material differ in how they answer heat and damp, so no constant is used. The neighbours' mean is taken out, and how
much they differ among themselves is added to the doubt, because the new string may differ from them as much.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.settling.readings import Drifts, PitchReading, Span, drifts_over

OUTLIER_SDS = 3.5  # a neighbour further off than this is slipping, or was retuned unlogged
FEWEST_FOR_OUTLIERS = 4
SPREAD_SHARE = 0.3  # how much strings differ, as a share of what they do in common, before they have shown it (set here)
SPREAD_COUNT = 3.0  # how many neighbours that guess is worth
WEATHER_CENTS = 4.0  # sd of what weather may do in one interval where no neighbour was read (from memory: a few cents)


@dataclass(frozen=True)
class Common:
    """What was common to the neighbours in each interval."""

    cents: np.ndarray  # (n,) drift to take out, 0 where no neighbour was read
    covariance: np.ndarray  # (n, n) cents², of the drift taken out and of how differently the string may answer
    n_neighbours: tuple[int, ...]


def common_drift(spans: Sequence[Span], neighbours: Mapping[str | int, Sequence[PitchReading]]) -> Common:
    """Mean drift of the settled neighbours over each span; give only those of the same material that have settled."""
    drifts = [drifts_over(readings, spans) for readings in neighbours.values()]
    cents = np.array([d.cents for d in drifts]).reshape(len(drifts), len(spans))
    noise = np.array([np.diag(d.covariance()) for d in drifts]).reshape(cents.shape)
    used = _without_outliers(cents, noise)
    counts = used.sum(axis=0)
    means = np.where(used, np.nan_to_num(cents), 0.0).sum(axis=0) / np.maximum(counts, 1)
    doubt = np.where(counts > 0, _spread(cents, noise, used, means) * (1.0 + 1.0 / np.maximum(counts, 1)), WEATHER_CENTS**2)
    return Common(means, _reading_errors(drifts, used, counts) + np.diag(doubt), tuple(int(n) for n in counts))


def _without_outliers(cents: np.ndarray, noise: np.ndarray) -> np.ndarray:
    """Which neighbour is used in which interval, shape of `cents`."""
    used = ~np.isnan(cents)
    for column in np.flatnonzero(used.sum(axis=0) >= FEWEST_FOR_OUTLIERS):
        rows = np.flatnonzero(used[:, column])
        off = np.abs(cents[rows, column] - np.median(cents[rows, column]))
        sd = max(SD_OF_DEVIATION * float(np.median(off)), float(np.sqrt(np.median(noise[rows, column]))))
        used[rows, column] = off <= OUTLIER_SDS * sd
    return used


def _spread(cents: np.ndarray, noise: np.ndarray, used: np.ndarray, means: np.ndarray) -> np.ndarray:
    """(n,) variance between strings beyond their reading noise, cents²: what the intervals together show, shrunk to a first guess."""
    squares = np.where(used, (np.nan_to_num(cents) - means) ** 2 - noise * (1.0 - 1.0 / np.maximum(used.sum(axis=0), 1)), 0.0)
    freedom = np.maximum(used.sum(axis=0) - 1, 0).sum()
    seen = max(0.0, float(squares[:, used.sum(axis=0) > 1].sum()))
    return (SPREAD_COUNT * (SPREAD_SHARE * means) ** 2 + seen) / (SPREAD_COUNT + freedom)


def _reading_errors(drifts: Sequence[Drifts], used: np.ndarray, counts: np.ndarray) -> np.ndarray:
    total = np.zeros((used.shape[1], used.shape[1]))
    for drift, row in zip(drifts, used, strict=True):
        share = row / np.maximum(counts, 1)
        total += share[:, None] * drift.covariance() * share[None, :]
    return total
