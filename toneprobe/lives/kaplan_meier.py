"""The share of strings that outlive an age, from lives that have ended and lives that still run.

The product-limit estimate S = Π (1 − d/n) over the ages at which d of the n strings at risk ended: Kaplan & Meier, J. Am. Stat. Assoc. 53
(1958) 457. Its variance is S²·Σ d/(n·(n − d)) (Greenwood 1926). Intervals on the log(−log S) scale never leave 0 to 1 (Kalbfleisch &
Prentice 1980).

Where lives came under watch late, few are at risk at first, and should one of one end there, S would be 0 for ever. So S begins at the age
from which enough are at risk, and is the share of those that reach it (Klein & Moeschberger, Survival Analysis, section 4.6),
never begun anew. Where the last of those at risk ends, the curve ends too: how many outlive that age may be anything up to what held
before.

Positions of a register differ: a bend at the board or a hard pedal takes string after string, and the lives of one position are alike. So
each position is one draw: its terms of Greenwood's sum, Σ (ends − share at risk·d/n)/(n − d), are added up before they are squared
(Williams, Biometrics 51 (1995) 352), with Student's t of one freedom less than positions; the larger of both variances is told. S remains
that of all strings put on, most of which are of positions that break often.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

LEAST_AT_RISK = 5  # at which the curve begins, or as many as there ever are (set here: one end then takes a fifth at most)
LEAST_POSITIONS = 4  # to show how positions differ (set here: of three, Student's t is more than twice as wide as of many)
Z_95 = NormalDist().inv_cdf(0.975)  # standard deviations either way that hold 95 %


@dataclass(frozen=True)
class Life:
    days: float  # age at the end, or at the last day on which it was seen on
    ended: bool
    entered_days: float = 0.0  # its age when the log began: it cannot have been seen to end before
    position: str = ""  # of the harp, whose strings share a fate; "" where it is not known


@dataclass(frozen=True)
class SurvivalStep:
    """What holds from this age to the next step's."""

    days: float
    n_at_risk: int
    n_ended: int
    share: float  # that outlives this age
    se: float | None  # None where all at risk have ended: one of one says nothing of the spread
    low: float  # interval of the share
    high: float


@dataclass(frozen=True)
class LifeSpan:
    """An age with its interval; None where the lives seen so far do not reach it."""

    days: float | None
    low_days: float | None
    high_days: float | None


def kaplan_meier(lives: Sequence[Life]) -> tuple[SurvivalStep, ...]:
    """One step for each age at which a life ended, from where the curve begins to where it ends, ascending; empty where none has."""
    share, sum_of_risk, steps = 1.0, 0.0, []
    start_days, positions = curve_start_days(lives), position_numbers(lives)
    position_terms = np.zeros(0 if positions is None else positions.max() + 1)
    for days, n, d in _ends(lives):
        if days <= start_days:
            continue
        if n == d:
            steps.append(SurvivalStep(days, n, d, 0.0, None, 0.0, steps[-1].high if steps else 1.0))
            break
        share *= 1.0 - d / n
        sum_of_risk += d / (n * (n - d))
        if positions is not None:
            ended = np.array([life.ended and life.days == days for life in lives])
            at_risk = np.array([life.entered_days < days <= life.days for life in lives])
            position_terms += np.bincount(positions, (ended - at_risk * d / n) / (n - d))
        relative_se = math.sqrt(max(sum_of_risk, clustered_variance(position_terms)))
        half_width = Z_95 * relative_se / abs(math.log(share))  # of the interval of log(−log S)
        steps.append(SurvivalStep(days, n, d, share, share * relative_se, share ** math.exp(half_width), share ** math.exp(-half_width)))
    return tuple(steps)


def position_numbers(lives: Sequence[Life]) -> np.ndarray | None:
    """Of each life the number, from 0, of its position, (n,); None where too few positions are known to show how they differ."""
    names = sorted({life.position for life in lives})
    return np.array([names.index(life.position) for life in lives]) if "" not in names and len(names) >= LEAST_POSITIONS else None


def clustered_variance(position_terms: np.ndarray) -> float:
    """Variance of the sum of the positions' terms, (n,), each position one draw; widened so that `Z_95` standard errors hold 95 %. 0 of
    none."""
    if not len(position_terms):
        return 0.0
    from scipy.special import stdtrit

    freedoms = len(position_terms) - 1
    return float((position_terms**2).sum()) * len(position_terms) / freedoms * (float(stdtrit(freedoms, 0.975)) / Z_95) ** 2


def curve_start_days(lives: Sequence[Life]) -> float:
    """The age that the curve begins at: 0, or the last end before enough are at risk."""
    ends = _ends(lives)
    enough = min(LEAST_AT_RISK, max((n for _, n, _ in ends), default=0))
    first_of_enough = next((k for k, (_, n, _) in enumerate(ends) if n >= enough), 0)
    return ends[first_of_enough - 1][0] if first_of_enough else 0.0


def _ends(lives: Sequence[Life]) -> list[tuple[float, int, int]]:
    """Ages at which lives ended, ascending, each with how many were at risk and how many ended."""
    ages = sorted({life.days for life in lives if life.ended})
    return [(days, sum(life.entered_days < days <= life.days for life in lives),
             sum(life.ended and life.days == days for life in lives)) for days in ages]


def median_life(steps: Sequence[SurvivalStep]) -> LifeSpan:
    """The age that half the strings outlive, with the interval of Brookmeyer & Crowley, Biometrics 38 (1982) 29."""
    return LifeSpan(*(next((step.days for step in steps if getattr(step, field) <= 0.5), None) for field in ("share", "low", "high")))
