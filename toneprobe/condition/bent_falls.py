"""Falls that a recorder's noise suppression bends, seen in all strings together.

Suppression turns down, band by band, what comes near the noise, and every partial falls over a cliff there: decays come out too short by
half, with small errors. No string does that (see `measure.bend`). Where both recordings do it alike, nothing need be refused. Between a
soft and a firm hand it cannot be told: soft plucks end nearer to whatever was done to the noise (0.08 against -0.01 in the lever harp's
files).

Each string is compared with itself and the median string counts: a string that lost its ring falls flatter at its end, and a third of the
strings may have.
"""

from collections.abc import Sequence

import numpy as np

from toneprobe import limits
from toneprobe.baseline.hand import like_hands
from toneprobe.baseline.robust import middle
from toneprobe.condition.context import FRESH, NOT_AGAIN, NOW, Comparable
from toneprobe.session.reading import Reading


def without_bent_falls(comparable: Comparable, now: Sequence[Reading], fresh: Sequence[Reading], *, hand: float) -> Comparable:
    """Without decays where the falls of one side bend and those of the other don't. hand: how differently they were plucked."""
    both = [(one.bends, other.bends) for one, other in zip(now, fresh, strict=True) if one.bends and other.bends]
    n_falls = min(sum(map(len, side)) for side in zip(*both, strict=True)) if both else 0
    if comparable.why_no_decay or n_falls < limits.LEAST_FALLS or not like_hands(abs(hand)):
        return comparable
    of_strings = np.array([[middle(side) for side in sides] for sides in both])
    (of_now, of_fresh), apart = map(middle, of_strings.T), middle(of_strings[:, 0] - of_strings[:, 1])
    if (of_now if apart > 0.0 else of_fresh) < limits.SUPPRESSED_BEND or abs(apart) < limits.BENDS_APART:
        return comparable
    which = NOW if apart > 0.0 else FRESH
    remedy = ("Switch noise suppression off and record again." if which == NOW else
              f"{NOT_AGAIN}: switch noise suppression off before that.")
    reason = (f"In {which.lower()} recording every ring breaks off on its way down, as noise suppression does: decays and beats are "
              f"not compared. {remedy}")
    return comparable.without_decay(reason, which)
