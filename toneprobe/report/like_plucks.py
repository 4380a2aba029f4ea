"""Which pluck of now is heard beside which fresh one: two by a like touch, so that what differs is the string and not the finger."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import product
from typing import NamedTuple

from toneprobe import limits
from toneprobe.condition.doubt_words import is_within_doubt
from toneprobe.measure.figure import Figure, PluckMeasurement
from toneprobe.measure.pull import squared_pull

LIKE_BRIGHTNESS = 0.25  # natural log: two plucks of one string differ by 12 % and more (limits), so twice that; set here


class Pair(NamedTuple):
    """Places of the two among the plucks given, and whether their touch was alike."""

    fresh: int
    now: int
    is_alike: bool


def like_pair(fresh: Iterable[PluckMeasurement], now: Iterable[PluckMeasurement], *, ring: Figure, brightness: Figure) -> Pair | None:
    """Of the pairs plucked alike the one whose rings differ most nearly as the string was judged to; of unlike ones the least unlike.

    ring, brightness: ratios now/fresh as judged: of a string that has dulled a like touch sounds duller by so much, where that is beyond
    doubt. How hard it was plucked the pitch glide tells, whatever the recorder's gain, see `baseline.hand`. None where one side has no
    pluck.
    """
    brightness = Figure(1.0) if is_within_doubt(brightness) else brightness
    found = [(_unlike(then, later, brightness), _ring_misfit(then, later, ring), -min(then.clearness_db, later.clearness_db), i, j)
             for (i, then), (j, later) in product(enumerate(fresh), enumerate(now))]
    if not found:
        return None
    unlike, _, _, i, j = min(found, key=lambda one: (max(1.0, one[0]), *one[1:]))
    return Pair(i, j, unlike <= 1.0)


def _unlike(fresh: PluckMeasurement, now: PluckMeasurement, brightness: Figure) -> float:
    """1 where hand or colour differ by as much as still passes for alike; 0 where neither is known."""
    hand = 0.0
    if fresh.glide_cents.known and now.glide_cents.known:
        hand = abs(math.log(squared_pull(now.glide_cents.value) / squared_pull(fresh.glide_cents.value)))
    return max(hand / limits.LIKE_HANDS, _misfit(fresh.centroid_partials_hz, now.centroid_partials_hz, brightness) / LIKE_BRIGHTNESS)


def _ring_misfit(fresh: PluckMeasurement, now: PluckMeasurement, ring: Figure) -> float:
    return _misfit(fresh.t60_s, now.t60_s, ring)


def _misfit(fresh: Figure, now: Figure, judged: Figure) -> float:
    """How far the log ratio of two figures lies off the judged one, off none where that is not known; 0 where one was not measured."""
    if not (fresh.known and now.known and fresh.value > 0.0 and now.value > 0.0):
        return 0.0
    return abs(math.log(now.value / fresh.value) - (math.log(judged.value) if judged.known and judged.value > 0.0 else 0.0))
