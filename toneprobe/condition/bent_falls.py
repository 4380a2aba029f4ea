"""Falls that a recorder's noise suppression bends, seen in all strings together.

What comes near the noise is turned down band by band, and every partial falls over a cliff there: decays come out too short by half, with
small errors. No string does that (see `measure.bend`); and it need not be refused where both recordings do it alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from toneprobe.baseline.robust import middle
from toneprobe.condition.context import Comparable
from toneprobe.session.reading import Reading

MOST_APART = 0.05  # of the median bends of two recordings (measured: real harps −0.03 to 0.04 in six rooms and noises, by the same hand
# within 0.03; made-up suppressors 0.06 to 0.14)
LEAST_FALLS = 40  # their median then has an error of 0.015


def without_bent_falls(comparable: Comparable, now: Sequence[Reading], fresh: Sequence[Reading]) -> Comparable:
    """Without decays where the falls of one side bend and those of the other don't."""
    bends = [[bend for one in side for bend in one.bends] for side in (now, fresh)]
    if comparable.no_decay or min(map(len, bends)) < LEAST_FALLS:
        return comparable
    apart = middle(bends[0]) - middle(bends[1])
    if abs(apart) < MOST_APART:
        return comparable
    which = "this" if apart > 0 else "the fresh"
    reason = (f"In {which} recording every ring breaks off on its way down, as noise suppression makes it: decays and beats are not "
              "compared. Switch noise suppression off and record again.")
    return replace(comparable, no_decay=reason, no_brightness=comparable.no_brightness or reason, warnings=(*comparable.warnings, reason))
