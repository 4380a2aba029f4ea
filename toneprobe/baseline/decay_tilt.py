"""Whether slow and fast partials changed against each other, as a moving gain makes them and nothing in a harp does.

Automatic gain rises while a string fades, by some dB a second in all partials of a pluck alike. Adding one rate to all changes the slow
partials much and the fast ones little: at 6 dB a second a partial of 60 dB in 6 s rings 2.5 times as long, one of 60 dB in 0.6 s 6 %
longer. Noise suppression behind it cuts ends off, most of the fast upper ones. So, against the same harp without gain, the log change of
the decay rate grows with the log rate within each string (the tilt), and slow partials ring longer while fast ones do not. A string's own
loss does neither: none rings longer than when fresh, and each loses its own amount. A room lengthens what is shorter than itself and leaves
alone what rings for seconds; wear in the string's matter takes most from the fast partials. A gain that moved alike on both sides is not
seen, nor one over plucks that all die within a second or two.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.medians import SD_OF_DEVIATION, SE_OVER_MEANS
from toneprobe.units import LN_1000

SLOW_S, FAST_S = 4.0, 1.5  # decay time over 60 dB, on the side without the gain, from which a partial is slow, to which fast (set)
LEAST_EACH = 20  # slow partials, and fast ones, for a median of each (set)
LEAST_SLOW_STRINGS = 5  # strings that have slow partials (set)
LEAST_OF_STRING = 4  # partials of one string, from which on it has a tilt (set)
APART = 0.3  # log decay rates by which two partials differ at the least, so that the slope between them tells (set)


@dataclass(frozen=True)
class DecayTilt:
    """Of a sweep against the fresh one. Positive where fast partials die sooner now, for their own, than slow ones do."""

    tilt: float  # median over strings: log change of the decay rate, per log of that rate
    n_strings: int
    share: float  # of these strings, that tilt this way
    slow: float  # log of fresh over present decay time, the middle of the slow partials …
    fast: float  # … and of the fast ones
    slow_se: float = 0.0  # of `slow`, from what the strings' own middles differ by


def decay_tilt(strings: Sequence[Pairs]) -> DecayTilt | None:
    """None with too few slow or fast partials. Decays cut short by the hand or the next pluck are left out: they err most where slow."""
    told = [pairs.where(np.isfinite(pairs.log_decay) & (pairs.less_rung_db < limits.CUT_SHORT_DB)) for pairs in strings]
    found = (_theil_sen_slope(np.log(pairs.fresh_decay) + 0.5 * pairs.log_decay, pairs.log_decay) for pairs in told)
    slopes = np.array([slope for slope in found if slope is not None])
    if not len(slopes):
        return None
    tilt = float(np.median(slopes))
    # Sorted by the side that would be whole: what chance made slow on the other would seem to have been made so by the gain.
    t60_s = [LN_1000 / (pairs.fresh_decay * (1.0 if tilt > 0.0 else np.exp(pairs.log_decay))) for pairs in told]
    slow = [pairs.log_decay[one_s >= SLOW_S] for pairs, one_s in zip(told, t60_s, strict=True) if (one_s >= SLOW_S).any()]
    fast = [pairs.log_decay[one_s <= FAST_S] for pairs, one_s in zip(told, t60_s, strict=True)]
    if len(slow) < LEAST_SLOW_STRINGS or min(sum(map(len, slow)), sum(map(len, fast))) < LEAST_EACH:
        return None
    of_strings = np.array([np.median(one) for one in slow])
    spread = SD_OF_DEVIATION * float(np.median(np.abs(of_strings - np.median(of_strings))))
    return DecayTilt(
        tilt,
        n_strings=len(slopes),
        share=float(np.mean(slopes * tilt > 0.0)),
        slow=float(np.median(np.concatenate(slow))),
        fast=float(np.median(np.concatenate(fast))),
        slow_se=SE_OVER_MEANS * spread / float(np.sqrt(len(slow))),
    )


def _theil_sen_slope(rate: np.ndarray, change: np.ndarray) -> float | None:
    """Median of the slopes between any two partials (Theil 1950; Sen 1968), robust against a third of them; None with too few."""
    if len(rate) < LEAST_OF_STRING:
        return None
    first, second = np.triu_indices(len(rate), 1)
    apart = np.abs(rate[first] - rate[second]) > APART
    if np.count_nonzero(apart) < LEAST_OF_STRING - 1:
        return None
    return float(np.median((change[first] - change[second])[apart] / (rate[first] - rate[second])[apart]))
