"""A gain that moved on one side only, seen in all strings together.

Automatic gain and noise suppression at work together, as a phone's own recorder has them, hide each other's signs within one recording
(see `audio.gain`): the one lifts the background that would tell, the other takes it away. What the two do to slow and fast partials stays,
and is seen beside a recording made without them (see `baseline.decay_tilt`).
"""

from __future__ import annotations

from collections.abc import Sequence

from toneprobe import limits
from toneprobe.baseline.decay_tilt import DecayTilt, decay_tilt
from toneprobe.baseline.hand import like_hands
from toneprobe.baseline.pairing import pair_partials
from toneprobe.condition.context import FRESH, NOT_AGAIN, NOW, Comparable
from toneprobe.session.reading import Reading

MENDS = {NOW: "Switch automatic gain and noise suppression off and record again.",
         FRESH: f"{NOT_AGAIN}. Switch automatic gain and noise suppression off before that."}


def without_moved_gain(comparable: Comparable, now: Sequence[Reading], fresh: Sequence[Reading], *, hand: float) -> Comparable:
    """Without decays where on one side slow partials ring longer, and fast ones do not. `hand`: by how much the hands differ."""
    if comparable.no_decay or len(now) < limits.GAIN_LEAST_STRINGS or not like_hands(abs(hand)):
        return comparable
    found = decay_tilt([pair_partials(here, then, comparable.band) for here, then in zip(now, fresh, strict=True)])
    which = moved_on(found) if found else None
    if which is None:
        return comparable
    reason = (f"In {which.lower()} recording the slowest tones ring longer than in the other and the quick ones do not, nearly all strings "
              f"alike, as where a gain rises while they fade: decays and beats are not compared. {MENDS[which]}")
    return comparable.without_decay(reason, which)


def moved_on(found: DecayTilt) -> str | None:
    """On which side the gain moved: all signs of it must be there, for a room, a hand or wear may make one of them."""
    way, which, share = (1.0, NOW, limits.GAIN_SHARE_NOW) if found.tilt > 0.0 else (-1.0, FRESH, limits.GAIN_SHARE_FRESH)
    least_slow = max(limits.GAIN_SLOW, limits.GAIN_ERRORS * found.slow_se)
    is_told = (found.n_strings >= limits.GAIN_LEAST_STRINGS and found.share >= share and abs(found.tilt) >= limits.GAIN_TILT
               and -way * found.slow >= least_slow and way * (found.fast - found.slow) >= limits.GAIN_SLOW)
    return which if is_told else None
