"""How a partial's frequency goes with the pull, and how far the plucks of a string lie apart beyond that.

A firm pluck excites another mixture of the two polarisations and the neighbours than a soft one, so single partials move against each other
by some cents, in every sweep alike (untouched lever harp, soft against firm: 2 to 5 cents, correlation between takes 0.5 to 0.99). Model:
the cents of one partial in pluck j of side s are y = μ_s + h·x + e, x the log of the pitch glide, the measure of the pull, and h the same
when fresh and now. h is drawn towards 0 (ridge regression): plucks by one hand tell nothing of it, and some of the effect is always left in
e, for a partial that the hand can move a room can move too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import NamedTuple

from toneprobe.measure.pull import squared_pull
from toneprobe.session.reading import PartialReading, Stray

PULL_RIDGE = 2.0  # sum of squared log glides that takes half of the pull's effect on a partial out; soft and firm, twice each: 3 (set)
ALL_OF_PULL = 0.25  # the same, so small that all that a soft and a firm pluck can show is taken out (set)


@dataclass(frozen=True)
class PullEffect:
    """Of one partial, now against fresh."""

    cents: float = 0.0  # how much of the difference is the pull's doing
    variance: float = 0.0  # of the difference, from what the plucks of either side differ by otherwise
    freedom: float = 0.0  # degrees of freedom of that; 0: unknown
    unexplained: float = 0.0  # the same variance with what the pull does on both sides taken out: the plucks' contradictions


def pull_effect(now: PartialReading, fresh: PartialReading) -> PullEffect:
    """From the plucks of both sides; nothing is told unless one side has two."""
    sides = [one.strays for one in (now, fresh)]
    of_plucks = sum(len(side) - 1 for side in sides)  # degrees of freedom, before a slope is fitted
    if not all(sides) or of_plucks < 1:
        return PullEffect()
    (pull_now, here), (pull_then, then) = (_centred(side, pulls) for side, pulls in zip(sides, _pulls(sides), strict=True))
    both = _Sums(*(a + b for a, b in zip(here, then, strict=True)))
    apart, shares = pull_now - pull_then, sum(1.0 / len(side) for side in sides)
    slope, freedom = both.slope(PULL_RIDGE), of_plucks - both.freedom_of_slope(PULL_RIDGE)
    confirmed = _confirmed_slope(here, then)
    confirmed_freedom = of_plucks - min(here.freedom_of_slope(ALL_OF_PULL), then.freedom_of_slope(ALL_OF_PULL))
    return PullEffect(
        cents=slope * apart,
        variance=both.rest(slope) / freedom * (shares + apart**2 / (both.xx + PULL_RIDGE)),
        freedom=freedom,
        unexplained=both.rest(confirmed) / confirmed_freedom * shares,
    )


class _Sums(NamedTuple):
    """Of the plucks of a side about their means: x the log glide, y the cents."""

    xx: float
    xy: float
    yy: float

    def slope(self, ridge: float) -> float:
        return self.xy / (self.xx + ridge)

    def freedom_of_slope(self, ridge: float) -> float:
        """The degrees of freedom that the slope takes, 0 to 1: how far the plucks, and not the ridge, decide it."""
        return self.xx / (self.xx + ridge)

    def rest(self, slope: float) -> float:
        """Sum of squares that a slope leaves."""
        return self.yy - 2.0 * slope * self.xy + slope**2 * self.xx


def _confirmed_slope(here: _Sums, then: _Sums) -> float:
    """The slope that both sides show: what one shows alone may be a partial mistaken for another in its firm pluck."""
    slopes = [side.slope(ALL_OF_PULL) for side in (here, then)]
    return min(slopes, key=abs) if slopes[0] * slopes[1] > 0.0 else 0.0


def _centred(side: Sequence[Stray], pulls: Sequence[float]) -> tuple[float, _Sums]:
    """The mean pull of a side, and its sums."""
    x_mean, y_mean = sum(pulls) / len(side), sum(one.cents for one in side) / len(side)
    off = [(x - x_mean, one.cents - y_mean) for x, one in zip(pulls, side, strict=True)]
    return x_mean, _Sums(*(sum(one[i] * one[j] for one in off) for i, j in ((0, 0), (0, 1), (1, 1))))


def _pulls(sides: Sequence[Sequence[Stray]]) -> list[list[float]]:
    """Log glide of each pluck; all alike where the glide of any is not known."""
    if any(one.glide_cents is None for side in sides for one in side):
        return [[0.0] * len(side) for side in sides]
    return [[log(squared_pull(one.glide_cents)) for one in side] for side in sides]
