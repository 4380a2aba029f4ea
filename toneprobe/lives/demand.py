"""How many strings of a register will be needed in the time to come.

Each string on the harp has the chance that its register's law of lives gives to its age; the number that end is the sum of such chances
(Poisson's binomial), averaged over the doubt of the law itself. The answer speaks of the register as a whole, never of one string.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from toneprobe.fittings import Fitted, age_days
from toneprobe.instrument import Instrument
from toneprobe.lives.registers import RegisterLife, group_of
from toneprobe.lives.weibull import Weibull

ENOUGH = 0.9  # chance that so many spares suffice
N_NODES = 7  # Gauss-Hermite nodes for each of ln k and ln λ


@dataclass(frozen=True)
class Demand:
    """Strings of one material and register likely to be needed within the days ahead."""

    material: str
    register: str
    n_strings: int  # on the harp now
    ahead_days: float
    expected: float | None
    enough: int | None  # as many suffice with nine chances in ten
    reason: str = ""  # why there are no figures


def foresee_demand(
    lives: Sequence[RegisterLife], fittings: Iterable[Fitted], instrument: Instrument, *, today: date, ahead_days: float
) -> tuple[Demand, ...]:
    """For each register with lives; take `lives` with `any_removal=True`, since a planned change uses a spare too.

    A string of unknown age is taken to be as old as the oldest of known age in its register.
    """
    on = [one for one in fittings if one.removed_on is None and not one.is_stand_in]
    groups = [(life, [age_days(one, today) for one in on if group_of(one, instrument) == life.key]) for life in lives]
    return tuple(_demand(life, ages, ahead_days) for life, ages in groups if ages)


def chances_of_number(weibull: Weibull, ages_days: Sequence[float], ahead_days: float) -> np.ndarray:
    """Chance of 0, 1, … n ends within the days ahead, averaged over the law's own doubt; shape (n + 1,)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(N_NODES)
    root = np.linalg.cholesky(np.array(weibull.log_covariance))
    total = np.zeros(len(ages_days) + 1)
    for i, j in np.ndindex(N_NODES, N_NODES):
        shift = root @ np.array([nodes[i], nodes[j]])
        law = replace(weibull, shape=weibull.shape * math.exp(shift[0]), scale_days=weibull.scale_days * math.exp(shift[1]))
        total += weights[i] * weights[j] * _number_of_ends([law.chance_of_end(age, ahead_days) for age in ages_days])
    return total / total.sum()


def _number_of_ends(chances: Sequence[float]) -> np.ndarray:
    spread = np.ones(1)
    for chance in chances:
        spread = np.convolve(spread, [1.0 - chance, chance])
    return spread


def _demand(life: RegisterLife, ages: Sequence[int | None], ahead_days: float) -> Demand:
    if life.weibull is None:
        return Demand(*life.key, len(ages), ahead_days, None, None, life.reason)
    oldest = max((age for age in ages if age is not None), default=life.weibull.scale_days)
    chances = chances_of_number(life.weibull, [oldest if age is None else age for age in ages], ahead_days)
    expected = float(np.arange(len(chances)) @ chances)
    return Demand(*life.key, len(ages), ahead_days, expected, int(np.searchsorted(np.cumsum(chances), ENOUGH - 1e-12)))
