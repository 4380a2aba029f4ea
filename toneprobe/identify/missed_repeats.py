"""Plucks of a string that rang already, which only the player's habit reveals.

A string plucked again while it rings brings no new lines, so the event may be left unnamed: the first pluck then seems to ring on through
the second, and its fall is that of two plucks with a finger between. The player's number of plucks per string, and their usual distance,
tell: where a string lacks a pluck that nearly all have, and something sounded when it was due, it was that pluck. It is not measured, since
both ring after it, but the pluck before ends there. For players without such a habit nothing is said.
"""

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from toneprobe.identify.neighbours_note import LEAST_PLUCKS, usual_n_plucks

LEAST_GAPS = 8  # between two plucks of one string: from fewer their usual length is not known
DUE = 0.35  # of the usual length, as a natural logarithm: that much sooner or later a pluck may come (set: of the real sweeps' gaps,
# which grow threefold from the top to the lowest string, neighbours' differ by less than a tenth)


def missed_repeats(path: Sequence[int | None], onsets_s: Sequence[float], may_be: Sequence[bool]) -> frozenset[int]:
    """Events that are further plucks of the string named right before. path: string of each event, or None; may_be: whether an unnamed
    event may be such a pluck."""
    counts = Counter(string for string in path if string is not None)
    n_usual = usual_n_plucks(counts)
    if n_usual is None or n_usual < LEAST_PLUCKS:
        return frozenset()
    named = [i for i, string in enumerate(path) if string is not None]
    again = [(a, b) for a, b in pairwise(named) if path[a] == path[b]]
    if len(again) < LEAST_GAPS:
        return frozenset()
    begins_s = np.array([onsets_s[a] for a, _ in again])
    log_gaps = np.log([onsets_s[b] - onsets_s[a] for a, b in again])
    missed = set()
    for last, following in zip(named, [*named[1:], len(path)], strict=True):
        n_lacking, last_s = n_usual - counts[path[last]], onsets_s[last]
        if following < len(path) and path[following] == path[last]:
            continue
        for i in range(last + 1, following):
            usual_log_gap = np.median(log_gaps[np.argsort(np.abs(begins_s - onsets_s[i]))[:LEAST_GAPS]])
            if n_lacking > 0 and may_be[i] and abs(np.log(onsets_s[i] - last_s) - usual_log_gap) <= DUE:
                missed.add(i)
                n_lacking, last_s = n_lacking - 1, onsets_s[i]
    return frozenset(missed)
