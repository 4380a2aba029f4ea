"""Which pluck of now is heard beside which fresh one: two of a like touch, so that the string differs and not the finger."""

import math
from collections.abc import Iterable
from itertools import product
from typing import NamedTuple

from toneprobe import limits
from toneprobe.condition.doubt_words import is_within_doubt
from toneprobe.measure.figure import Figure, PluckMeasurement
from toneprobe.measure.pull import squared_pull

LIKE_BRIGHTNESS = 0.25  # natural log, twice the 12 % by which two plucks of one string differ (limits); set here


class Pair(NamedTuple):
    """Places of the two among the given plucks, and whether their touch was alike."""

    fresh: int
    now: int
    is_alike: bool


def like_pair(fresh: Iterable[PluckMeasurement], now: Iterable[PluckMeasurement], *, ring: Figure, brightness: Figure) -> Pair | None:
    """The pair of like touch whose rings differ most nearly as judged; without one, the least unlike pair. None where a side has no pluck.

    ring, brightness: ratios now/fresh as judged; a like touch sounds duller by a brightness that is beyond doubt. The pitch glide tells how
    hard a string was plucked, whatever the recorder's gain, see `baseline.hand`.
    """
    brightness = Figure(1.0) if is_within_doubt(brightness) else brightness
    found = [(_unlike(then, later, brightness), _misfit(then.t60_s, later.t60_s, ring), -min(then.clearness_db, later.clearness_db), i, j)
             for (i, then), (j, later) in product(enumerate(fresh), enumerate(now))]
    if not found:
        return None
    unlike, _, _, i, j = min(found, key=lambda one: (max(1.0, one[0]), *one[1:]))
    return Pair(i, j, unlike <= 1.0)


def _unlike(fresh: PluckMeasurement, now: PluckMeasurement, brightness: Figure) -> float:
    """How unlike touch or colour are, up to 1 for alike; 0 where neither is known."""
    hand = 0.0
    if fresh.glide_cents.known and now.glide_cents.known:
        hand = abs(math.log(squared_pull(now.glide_cents.value) / squared_pull(fresh.glide_cents.value)))
    return max(hand / limits.LIKE_HANDS, _misfit(fresh.centroid_partials_hz, now.centroid_partials_hz, brightness) / LIKE_BRIGHTNESS)


def _misfit(fresh: Figure, now: Figure, judged: Figure) -> float:
    """How far the log ratio of two figures is off the judged one, or off 0 where that is not known; 0 where one was not measured."""
    if not (fresh.known and now.known and fresh.value > 0.0 and now.value > 0.0):
        return 0.0
    return abs(math.log(now.value / fresh.value) - (math.log(judged.value) if judged.known and judged.value > 0.0 else 0.0))
