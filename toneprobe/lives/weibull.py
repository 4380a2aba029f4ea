"""Weibull lives, S(t) = exp(−(t/λ)^k), from lives that have ended, that still run, or that were not watched from the first day.

Maximum likelihood. For a given shape k the scale is known, λ^k = Σ(t^k − e^k)/d with e the age at entry and d the ends, so that only k is
sought. Errors from the observed information in (ln k, ln λ) (Lawless, Statistical Models and Methods for Lifetime Data, ch. 5). The
median's interval is from the profile likelihood (Cox & Oakes, Analysis of Survival Data, ch. 3): while most strings still run it may lie
far up, and a symmetric interval ends too low. Where positions differ their lives are no separate draws: errors and interval are widened by
the scatter of the scores of whole positions (the sandwich of Huber and White; Student's t), never narrowed. The shape is then that of all
strings together, lower than that of any one position. k < 1: new strings end most; k = 1: age does not matter; k > 1: they wear out.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.lives.kaplan_meier import Z_95, Life, LifeSpan, clustered_variance, position_numbers

SHAPES = (0.05, 50.0)  # outside, the lives say nothing of the shape
N_COARSE = 200
N_HALVINGS = 80
LARGEST_LOG = 300.0  # beyond, a chance is 1 to any digit
FARTHEST_LOG = math.log(100.0)  # of a median over the likeliest; farther off its interval is open


@dataclass(frozen=True)
class Weibull:
    shape: float  # k
    scale_days: float  # λ, the age that 37 % outlive
    log_covariance: tuple[tuple[float, float], tuple[float, float]]  # of (ln k, ln λ)
    n_lives: int
    n_ended: int
    median_interval_days: tuple[float | None, float | None] = (None, None)  # 95 %; None where the lives set no end to it
    widened: tuple[float, float] = (1.0, 1.0)  # the errors of ln k and ln λ by positions that differ, over those of `log_covariance`

    def chance_of_end(self, age_days: float, ahead_days: float | np.ndarray) -> float | np.ndarray:
        """The chance that one of so many like strings, on since `age_days`, ends within the days ahead, more than 0."""
        return -np.expm1(-self.hazard(age_days, ahead_days))

    def hazard(self, age_days: float, ahead_days: float | np.ndarray) -> float | np.ndarray:
        """((t + a)^k − t^k)/λ^k: the ends expected within the days ahead, each followed by another string of that age."""
        if age_days <= 0.0:
            return np.exp(np.minimum(LARGEST_LOG, self.shape * np.log(ahead_days / self.scale_days)))
        so_far = math.exp(min(LARGEST_LOG, self.shape * math.log(age_days / self.scale_days)))
        return so_far * np.expm1(np.minimum(LARGEST_LOG, self.shape * np.log1p(ahead_days / age_days)))

    def interval(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """95 % intervals of shape and scale."""
        factors = [math.exp(Z_95 * self.widened[k] * math.sqrt(self.log_covariance[k][k])) for k in (0, 1)]
        return (self.shape / factors[0], self.shape * factors[0]), (self.scale_days / factors[1], self.scale_days * factors[1])

    def ageing_words(self) -> str:
        """What the shape says of age, as far as its interval carries it."""
        (low, high), _ = self.interval()
        return "they wear out" if low > 1.0 else "new ones end most" if high < 1.0 else "whether age matters cannot be told yet"

    def median_life(self) -> LifeSpan:
        """The age that half outlive, λ·(ln 2)^(1/k), with its 95 % interval."""
        return LifeSpan(_median(self.shape, self.scale_days), *self.median_interval_days)


def fit_weibull(lives: Sequence[Life]) -> Weibull | str:
    """The Weibull law of the lives, or one line on why there is none."""
    n_ended = sum(life.ended for life in lives)
    if n_ended < 2:
        return f"{n_ended} ended: too few for a law of lives"
    unit_days = max(life.days for life in lives)
    days = np.array([life.days for life in lives]) / unit_days
    entered = np.array([life.entered_days for life in lives]) / unit_days
    ended = np.array([life.ended for life in lives])
    shape = _likeliest_shape(days, entered, ended)
    if not 1.01 * SHAPES[0] < shape < 0.99 * SHAPES[1]:
        return "the lives do not say how the risk changes with age"
    scale = (_exposure(shape, days, entered) / n_ended) ** (1.0 / shape)
    information = _information(shape, scale, days, entered, ended)
    if np.linalg.det(information) <= 0.0:
        return "the lives do not say how the risk changes with age"
    covariance = np.linalg.inv(information)
    gradients = np.array([[1.0, 0.0], [0.0, 1.0], [-math.log(math.log(2.0)) / shape, 1.0]])  # of ln k, ln λ and the ln of the median
    *widened, median_widened = _widened(gradients, covariance, lives, _scores(shape, scale, days, entered, ended))
    ends = _median_interval(_median(shape, scale), days, entered, ended, median_widened)
    interval = tuple(None if end is None else end * unit_days for end in ends)
    return Weibull(shape, scale * unit_days, tuple(map(tuple, covariance.tolist())), len(lives), n_ended, interval, tuple(widened))


def _widened(gradients: np.ndarray, covariance: np.ndarray, lives: Sequence[Life], scores: np.ndarray) -> list[float]:
    """The factor by which each figure's error is larger where each position is one draw, 1 at least. gradients: of m figures by (ln k,
    ln λ), (m, 2); scores: of each life, (n, 2)."""
    positions = position_numbers(lives)
    if positions is None:
        return [1.0] * len(gradients)
    terms = np.stack([np.bincount(positions, column) for column in scores.T], axis=1) @ covariance @ gradients.T  # (positions, m)
    variances = [float(row @ covariance @ row) for row in gradients]
    return [math.sqrt(max(1.0, clustered_variance(column) / variance)) for column, variance in zip(terms.T, variances, strict=True)]


def _median(shape: float, scale: float) -> float:
    return scale * math.log(2.0) ** (1.0 / shape)


def _median_interval(
    likeliest: float, days: np.ndarray, entered: np.ndarray, ended: np.ndarray, widened: float
) -> tuple[float | None, float | None]:
    """The medians that make the lives' log likelihood less than its maximum by half of the χ² that chance passes once in twenty, times the
    square of the factor by which the error is `widened`."""
    shapes = np.exp(np.linspace(*np.log(SHAPES), N_COARSE))
    exposures = (days[:, None] ** shapes - entered[:, None] ** shapes).sum(axis=0)
    n_ended, logs = int(ended.sum()), float(np.log(days[ended]).sum())

    def profile_log_likelihood(log_median: float) -> float:
        log_power = shapes * log_median - math.log(math.log(2.0))  # ln λ^k, of each shape with this median
        hazards = exposures * np.exp(np.minimum(LARGEST_LOG, -log_power))
        return float((n_ended * (np.log(shapes) - log_power) + (shapes - 1.0) * logs - hazards).max())

    middle = math.log(likeliest)
    least = profile_log_likelihood(middle) - (widened * Z_95) ** 2 / 2.0
    low, high = (_first_beyond(lambda off, way=way: profile_log_likelihood(middle + way * off) < least) for way in (-1.0, 1.0))
    return None if low is None else likeliest * math.exp(-low), None if high is None else likeliest * math.exp(high)


def _first_beyond(is_beyond: Callable[[float], bool]) -> float | None:
    """The distance from 0 at which `is_beyond` turns true, by bisection; None where it does not up to FARTHEST_LOG."""
    near, far = 0.0, FARTHEST_LOG
    if not is_beyond(far):
        return None
    for _ in range(N_HALVINGS):
        middle = (near + far) / 2.0
        near, far = (near, middle) if is_beyond(middle) else (middle, far)
    return far


def _likeliest_shape(days: np.ndarray, entered: np.ndarray, ended: np.ndarray) -> float:
    """The best of a coarse grid in ln k, then golden section between its neighbours."""
    grid = np.linspace(*np.log(SHAPES), N_COARSE)
    best = int(np.argmax([_log_likelihood(math.exp(a), days, entered, ended) for a in grid]))
    low, high = grid[max(best - 1, 0)], grid[min(best + 1, N_COARSE - 1)]
    golden = (math.sqrt(5.0) - 1.0) / 2.0
    for _ in range(N_HALVINGS):
        left, right = high - golden * (high - low), low + golden * (high - low)
        at_left, at_right = (_log_likelihood(math.exp(a), days, entered, ended) for a in (left, right))
        low, high = (low, right) if at_left > at_right else (left, high)
    return math.exp((low + high) / 2.0)


def _log_likelihood(shape: float, days: np.ndarray, entered: np.ndarray, ended: np.ndarray) -> float:
    """Up to a constant, at the best scale for this shape."""
    n_ended = int(ended.sum())
    log_exposure = math.log(_exposure(shape, days, entered))
    return n_ended * math.log(shape) + (shape - 1.0) * float(np.log(days[ended]).sum()) - n_ended * log_exposure


def _exposure(shape: float, days: np.ndarray, entered: np.ndarray) -> float:
    """Σ(t^k − e^k)."""
    return float((days**shape - entered**shape).sum())


def _logs_and_powers(shape: float, scale: float, ages: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """k·ln(t/λ) and (t/λ)^k, both 0 for age 0, which adds nothing."""
    seen = ages > 0.0
    logs = shape * np.log(np.where(seen, ages, scale) / scale)
    return logs, np.where(seen, np.exp(logs), 0.0)


def _scores(shape: float, scale: float, days: np.ndarray, entered: np.ndarray, ended: np.ndarray) -> np.ndarray:
    """What each life adds to the first derivatives of the log likelihood in (ln k, ln λ), (n, 2)."""
    (end, end_power), (entry, entry_power) = (_logs_and_powers(shape, scale, ages) for ages in (days, entered))
    return np.stack([ended * (1.0 + end) - end * end_power + entry * entry_power, shape * (end_power - entry_power - ended)], axis=1)


def _information(shape: float, scale: float, days: np.ndarray, entered: np.ndarray, ended: np.ndarray) -> np.ndarray:
    """Minus the second derivatives of the log likelihood in (ln k, ln λ) at its maximum."""
    (end, end_power), (entry, entry_power) = (_logs_and_powers(shape, scale, ages) for ages in (days, entered))
    first = float((end * end_power - entry * entry_power).sum())
    second = float((end**2 * end_power - entry**2 * entry_power).sum())
    mixed = -shape * first
    return np.array([[first + second - float(end[ended].sum()), mixed], [mixed, shape**2 * int(ended.sum())]])
