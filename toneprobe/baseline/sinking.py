"""Does a string sink in pitch while it rings more than when fresh, and more than the hand explains?

Every pluck glides: its swing stretches the string (see `measure.glide`). A string that is worn thin or soft stretches more by the same
pull, and one whose knot or pin gives way lets go of some of the pull as it swings. Model: the glide now over fresh, as a logarithm (see
`baseline.hand`), less the median string's: a harder hand glides all strings more. The glide's own error holds that no two plucks are
equally hard. What it can't see: whether this one string was plucked harder than the others, and, where the two hands differ by much, how
much of it is theirs, for a harder hand does not pull all strings harder alike. Then nothing is told; nor where one pluck stands for the
string on either side, for single plucks are now softer, now firmer, and the sweep's median shows nothing of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.hand import hand_change, like_hands
from toneprobe.measure.figure import Figure
from toneprobe.measure.pull import squared_pull
from toneprobe.session.reading import Reading

NO_GLIDE = Figure(None, None, "no pitch glide was measured in both")
OTHER_HAND = Figure(None, None, "the sweep was plucked by another hand")
ONE_PLUCK = Figure(None, None, "one pluck alone may have been the firmer")


@dataclass(frozen=True)
class Sinking:
    log_ratio: Figure = NO_GLIDE  # natural log of the glide now over fresh, less what the whole sweep shows
    now_cents: float = 0.0
    fresh_cents: float = 0.0


def sinking(now: Reading, fresh: Baseline, *, hand_of_sweep: float) -> Sinking:
    """hand_of_sweep: how differently the whole sweep was plucked, log ratio of pitch glides."""
    own = hand_change(now, fresh)
    glides = [of.figures["glide_cents"] for of in (now, fresh)]
    if any(glide.se is None for glide in glides):
        return Sinking()
    cents = [max(glide.value, 0.0) for glide in glides]
    if not like_hands(abs(hand_of_sweep)):
        return Sinking(OTHER_HAND, *cents)
    if min(now.n_plucks, fresh.n_plucks) < 2:
        return Sinking(ONE_PLUCK, *cents)
    se = hypot(*(glide.se / squared_pull(glide.value) for glide in glides))
    return Sinking(Figure(own.value - hand_of_sweep, se), *cents)
