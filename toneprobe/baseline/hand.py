"""Was the string plucked much harder or softer than when fresh? The pitch glide tells, whatever the recorder's gain.

A pull stretches the string, so its pitch starts high, by an amount that goes with the square of the pull (see `measure.glide`). A decay
hardly depends on the pull, but a firm pluck feeds high partials with sum tones, and a gentle one sinks into the noise before its slow late
part is heard. Both change decays of low strings by tens of per cent, so where the hands differ the decay's error grows.
"""

from collections.abc import Mapping, Sequence

import numpy as np

from toneprobe import limits
from toneprobe.baseline.fresh import Baseline
from toneprobe.measure.figure import Figure
from toneprobe.measure.pull import squared_pull
from toneprobe.session.reading import Reading


def hand_change(now: Reading, fresh: Baseline | Reading) -> Figure:
    """Natural log of the glide now over fresh (`measure.pull`): about twice the log of the pull."""
    glides = [of.figures["glide_cents"] for of in (now, fresh)]
    if not all(glide.known for glide in glides):
        return Figure(None, None, "no pitch glide was measured in both")
    return Figure(float(np.log(squared_pull(glides[0].value) / squared_pull(glides[1].value))))


def hand_of_sweep(strings: Sequence[str], now: Mapping[str, Reading], fresh: Mapping[str, Baseline]) -> float:
    """The median string's; 0 where no glide was measured."""
    known = [one.value for one in (hand_change(now[string], fresh[string]) for string in strings) if one.known]
    return float(np.median(known)) if known else 0.0


def hand_difference(own: Figure, of_sweep: float) -> float:
    """How differently one string was plucked: by its own glide or the whole sweep's, whichever differs more."""
    return max(abs(own.value) if own.known else 0.0, abs(of_sweep))


def like_hands(hand: float) -> bool:
    """Whether both sides were plucked alike. hand: log ratio of pitch glides, at least 0."""
    return hand < limits.LIKE_HANDS
