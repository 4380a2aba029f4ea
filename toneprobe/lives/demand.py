"""How many strings of a register will be needed in the time to come.

Each string on the harp ends within the time with the chance that its register's law of lives gives to its age, and so does each that takes
its place (a renewal process, Cox 1962). The numbers of all positions are added up and averaged over the errors of the law. The answer
speaks of the register as a whole, never of one string.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from toneprobe.fittings import Fitting, age_days
from toneprobe.instrument import Instrument
from toneprobe.lives.registers import RegisterLife, group_of
from toneprobe.lives.weibull import Weibull

ENOUGH_CHANCE = 0.9  # that so many spares suffice
N_NODES = 7  # Gauss-Hermite nodes for each of ln k and ln λ
N_STEPS = 100  # of the time ahead; replacements are taken to end at the middle of one (four times as many change no chance by 0.0005
# up to a shape of 4)
LEAST_CHANCE = 1e-6  # of one string more at a position; less is left out


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
    lives: Sequence[RegisterLife], fittings: Iterable[Fitting], instrument: Instrument, *, today: date, ahead_days: float
) -> tuple[Demand, ...]:
    """For each register with lives; take `lives` with `any_removal=True`, since a planned change uses a spare too. A string of unknown
    age is taken to be as old as the oldest of known age in its register."""
    on = [one for one in fittings if one.removed_on is None and not one.is_stand_in]
    found = []
    for life in lives:
        ages = [age_days(one, today) for one in on if group_of(one, instrument) == life.key]
        if ages and life.weibull is None:
            found.append(Demand(*life.key, len(ages), ahead_days, None, None, life.reason))
        elif ages:
            oldest = max((age for age in ages if age is not None), default=life.weibull.scale_days)
            chances = chances_of_number(life.weibull, [oldest if age is None else age for age in ages], ahead_days)
            enough = int(np.searchsorted(np.cumsum(chances), ENOUGH_CHANCE - 1e-12))
            found.append(Demand(*life.key, len(ages), ahead_days, float(np.arange(len(chances)) @ chances), enough))
    return tuple(found)


def chances_of_number(weibull: Weibull, ages_days: Sequence[float], ahead_days: float) -> np.ndarray:
    """Chance of 0, 1, 2, … ends within the days ahead, those of replacements included, averaged over the errors of the law."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(N_NODES)
    root = np.linalg.cholesky(np.array(weibull.log_covariance))
    total = np.zeros(len(ages_days) + 1)
    for i, j in np.ndindex(N_NODES, N_NODES):
        shift = root @ np.array([nodes[i], nodes[j]])
        law = replace(weibull, shape=weibull.shape * math.exp(shift[0]), scale_days=weibull.scale_days * math.exp(shift[1]))
        number = weights[i] * weights[j] * _number_of_ends(law, ages_days, ahead_days)
        longer, shorter = (total, number) if len(total) >= len(number) else (number, total)
        total = longer + np.pad(shorter, (0, len(longer) - len(shorter)))
    return total / total.sum()


def _number_of_ends(law: Weibull, ages_days: Sequence[float], ahead_days: float) -> np.ndarray:
    """Chance of 0, 1, 2, … ends of all positions together, under one law."""
    replaced_at_least = _replacements(law, ahead_days)
    until_days = np.arange(1, N_STEPS + 1) * ahead_days / N_STEPS
    together = np.ones(1)
    for age in ages_days:
        first_in_step = np.diff(law.chance_of_end(age, until_days), prepend=0.0)
        at_least = replaced_at_least[:, ::-1] @ first_in_step  # 1, 2, … ends: the first in a step, the rest in what is left after it
        together = np.convolve(together, -np.diff(at_least, prepend=1.0, append=0.0))
    return together


def _replacements(law: Weibull, ahead_days: float) -> np.ndarray:
    """(k, N_STEPS): the chance that a new string and those after it make at least 0, 1, 2, … ends within half a step, one and a half, …
    At most one more for each step: by a law under which strings last for hours they would never come to an end."""
    halves = (np.arange(N_STEPS) + 0.5) * ahead_days / N_STEPS
    in_step = np.diff(law.chance_of_end(0.0, halves), prepend=0.0)
    rows = [np.ones(N_STEPS)]
    while len(rows) <= N_STEPS and (more := np.convolve(in_step, rows[-1])[:N_STEPS])[-1] > LEAST_CHANCE:
        rows.append(more)
    return np.stack(rows)
