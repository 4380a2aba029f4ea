"""Does a string sink in pitch while it rings more than when fresh, and more than the hand explains?

Every pluck glides: its swing stretches the string (see `measure.glide`). A string worn thin or soft stretches more by the same pull, and
one whose knot or pin gives way lets go of some of the pull. Figure: the log of the glide now over fresh (`baseline.hand`) less the median
string's, for a harder hand glides all strings more. The glide's own error allows for plucks of unequal strength. Not seen: whether this one
string was plucked harder than the others, and, where the two hands differ by much, how much of it is theirs, as a harder hand does not pull
all strings harder alike; then nothing is told, nor where one pluck stands for the string on either side, for single plucks are now softer,
now firmer, and the sweep's median does not show that.
"""

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
