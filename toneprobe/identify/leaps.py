"""A player who does not run along the harp: octave pairs, two hands in turn from the middle outwards, any order.

Most plucks name their string by themselves, and the order only confirms it. Where it contradicts several clear plucks, it is not the order
played: it leaves out half of octave pairs, or takes the upper string for the lower plucked again. Then the player's steps are learnt from
the clear plucks: how many leave the run, and by how many strings where that recurs.
Evidence against the order is a clear pluck of a string that the run never comes to, or one reached by a leap that recurs again and again. A
tone from next door has its string's own plucks in the run, and comes from anywhere. Where the order counts for less, so do strings far off
their notes: by pitch alone a string a semitone off is its neighbour.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from toneprobe.identify.sweep_order import PRIOR_STEPS, StepHabits, learn_habits

CLEAR_BY = 1.5  # log weight over the next best string: of some 2000 plucks so clear one was wrong, beside harmonics
CLEAR_PLUCK = 3.0  # log weight over that of no pluck
NEAREST_LEAP = 3  # strings; nearer is a skip
LEAST_OFF, LEAST_OFF_SHARE = 3, 0.1  # clear plucks that contradict the order: none in sweeps along the harp or by colour, of pairs half
USUAL_TIMES = 3  # that a leap recurs, from which on it speaks against the order


def learn_leaps(evidence: np.ndarray, no_pluck: np.ndarray, path: Sequence[int | None]) -> StepHabits | None:
    """The habits of a player who leaps; None where a run along the harp explains what is clear as well. evidence: (events, 2n + 1),
    no_pluck: (events,), log weights as in `sweep_order`; path: a first solution, for which the order counted."""
    of_strings = evidence[:, : evidence.shape[1] // 2]
    if of_strings.shape[1] < 2:
        return None
    second, first = np.sort(of_strings, axis=1)[:, -2:].T
    clear = np.flatnonzero((first - second > CLEAR_BY) & (first - no_pluck > CLEAR_PLUCK))
    names = of_strings[clear].argmax(axis=1).tolist()
    steps = np.diff(names).tolist()
    leaps = Counter(step for step in steps if abs(step) >= NEAREST_LEAP)
    heard = set(path)
    contradicts = [path[i] != name and (name not in heard or leaps[step] >= USUAL_TIMES)
                   for i, name, step in zip(clear, names, [0, *steps], strict=False)]
    if sum(contradicts) < max(LEAST_OFF, LEAST_OFF_SHARE * len(clear)):
        return None
    n_leaps = leaps.total()
    usual = tuple((step, (n - 1) / (n_leaps + PRIOR_STEPS)) for step, n in leaps.items())  # once is no habit
    return replace(learn_habits(names), leap=(n_leaps + 0.5) / (len(steps) + 1.0), usual_leaps=usual)
