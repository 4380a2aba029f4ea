"""A gain that moved on one side only, seen in all strings together.

Automatic gain and noise suppression together, as in a phone's own recorder, hide each other's signs within one recording (see
`audio.gain`): one lifts the background that would tell, the other removes it. What the two do to slow and fast partials remains, and shows
against a recording made without them (see `baseline.decay_tilt`).
"""

from collections.abc import Sequence

from toneprobe.baseline.decay_tilt import DecayTilt, decay_tilt
from toneprobe.baseline.hand import like_hands
from toneprobe.baseline.pairing import pair_partials
from toneprobe.condition.context import FRESH, NOT_AGAIN, NOW, Comparable
from toneprobe.session.reading import Reading

GAIN_LEAST_STRINGS = 12  # strings that tilt, from which on what most of them do tells of a gain: of so many that tilt by chance as many as
# GAIN_SHARE_NOW go one way in 1 sweep of 14, as GAIN_SHARE_FRESH in 1 of 300, before all else is asked (derived: 299 and 13 of 2¹²)
GAIN_TILT = 0.11  # log change of the decay rate per log of that rate, median over strings, from which on a gain may have moved on one side
# (measured: made-up gains, alone and with noise suppression, 0.13 to 0.27; the same real strings untouched 0.05, in rooms 0.05 to 0.21)
GAIN_SLOW = 0.2  # log by which slow partials ring longer on the side where it moved, and by which they do so more than fast ones (measured:
# 0.28 to 0.49, and 0.28 to 0.67; untouched 0.04, in rooms 0.04, of a set that aged 0.53 but then 0.04 more than fast ones)
GAIN_ERRORS = 2.0  # least number of its own errors that the first of these two is (set)
GAIN_SHARE_NOW, GAIN_SHARE_FRESH = 0.75, 0.9  # least share of the strings that tilt the same way (measured on the same: 0.96 to all; drawn
# strings 0.83 to all, but 0.88 too where all lost at their ends since, which only looks like a gain when fresh: no string comes to ring
# longer)
MENDS = {NOW: "Switch automatic gain and noise suppression off and record again.",
         FRESH: f"{NOT_AGAIN}. Switch automatic gain and noise suppression off before that."}


def without_moved_gain(comparable: Comparable, now: Sequence[Reading], fresh: Sequence[Reading], *, hand: float) -> Comparable:
    """Without decays where on one side slow partials ring longer and fast ones do not. hand: how differently they were plucked."""
    if comparable.why_no_decay or len(now) < GAIN_LEAST_STRINGS or not like_hands(abs(hand)):
        return comparable
    found = decay_tilt([pair_partials(here, then, comparable.band) for here, then in zip(now, fresh, strict=True)])
    which = side_of_moved_gain(found) if found else None
    if which is None:
        return comparable
    reason = (f"In {which.lower()} recording the slowest tones ring longer than in the other and the quick ones do not, nearly all strings "
              f"alike, as where a gain rises while they fade: decays and beats are not compared. {MENDS[which]}")
    return comparable.without_decay(reason, which)


def side_of_moved_gain(found: DecayTilt) -> str | None:
    """The side on which the gain moved: all signs must be there, as a room, a hand or wear may make one of them."""
    way, which, share = (1.0, NOW, GAIN_SHARE_NOW) if found.tilt > 0.0 else (-1.0, FRESH, GAIN_SHARE_FRESH)
    least_slow = max(GAIN_SLOW, GAIN_ERRORS * found.slow_se)
    is_told = (found.n_strings >= GAIN_LEAST_STRINGS and found.share >= share and abs(found.tilt) >= GAIN_TILT
               and -way * found.slow >= least_slow and way * (found.fast - found.slow) >= GAIN_SLOW)
    return which if is_told else None
