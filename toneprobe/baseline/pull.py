"""How a partial's frequency goes with the pull, and how far the plucks of a string lie apart beyond that.

A firm pluck sets another mixture of the two polarisations and the neighbours going than a soft one, so single partials move against each
other by some cents, in every sweep alike (untouched lever harp, soft against firm: 2 to 5 cents, correlation between takes 0.5 to 0.99).
Much of that is no scatter. Model: the cents of one partial in pluck j of side s are y = μ_s + h·x + e, with x the log of the pitch glide,
the measure of the pull, and h the same when fresh and now. h is drawn towards 0 (ridge): plucks by one hand tell nothing of it, and part of
the effect is always left in e, for a partial that the hand can move another room moves too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

from toneprobe import limits
from toneprobe.session.reading import PartialReading, Stray


@dataclass(frozen=True)
class PullEffect:
    """Of one partial, now against fresh."""

    cents: float = 0.0  # how much of the difference is the pull's doing
    variance: float = 0.0  # of the difference, from what the plucks of either side differ by otherwise
    freedom: float = 0.0  # degrees of freedom of that; 0: cannot be told
    unexplained: float = 0.0  # the same variance with all of the pull's doing taken out: what the plucks contradict each other by


def pull_effect(now: PartialReading, fresh: PartialReading) -> PullEffect:
    """From the plucks of both sides; nothing is told where no side has two."""
    sides = [one.strays for one in (now, fresh)]
    plucks = sum(len(side) - 1 for side in sides)
    if not all(sides) or plucks < 1:
        return PullEffect()
    pulls = _pulls(sides)
    centres = [(_mean(x), _mean([one.cents for one in side])) for x, side in zip(pulls, sides, strict=True)]
    off = [(a - x, one.cents - y) for (x, y), of, side in zip(centres, pulls, sides, strict=True) for a, one in zip(of, side, strict=True)]
    sums = tuple(sum(one[i] * one[j] for one in off) for i, j in ((0, 0), (0, 1), (1, 1)))
    apart, shares = centres[0][0] - centres[1][0], sum(1.0 / len(side) for side in sides)
    slope, one_pluck, freedom = _ridge(sums, plucks, limits.PULL_RIDGE)
    _, contradiction, _ = _ridge(sums, plucks, limits.ALL_OF_PULL)
    return PullEffect(slope * apart, one_pluck * (shares + apart**2 / (sums[0] + limits.PULL_RIDGE)), freedom, contradiction * shares)


def _ridge(sums: tuple[float, float, float], plucks: int, ridge: float) -> tuple[float, float, float]:
    """Slope, what is left (variance of one pluck) and its degrees of freedom, from the sums x², xy, y² about the sides' means."""
    s_xx, s_xy, s_yy = sums
    slope = s_xy / (s_xx + ridge)
    freedom = plucks - s_xx / (s_xx + ridge)
    return slope, (s_yy - 2.0 * slope * s_xy + slope**2 * s_xx) / freedom, freedom


def _pulls(sides: Sequence[Sequence[Stray]]) -> list[list[float]]:
    """Log glide of each pluck; all alike where the glide of any is not known."""
    if any(one.glide_cents is None for side in sides for one in side):
        return [[0.0] * len(side) for side in sides]
    return [[log(max(one.glide_cents, 0.0) + limits.LEAST_GLIDE_CENTS) for one in side] for side in sides]


def _mean(values: Sequence[float]) -> float:
    return sum(values) / len(values)
