"""What a livelier room in the fresh sweep may have done: the shorter a string or a partial rings, the more of its ring was the room's.

A room that dies away by 60 dB in T lengthens what rings no longer than T, and in part what rings a little longer. Where the partials of all
strings tell of one (`baseline/longer_room`), what it made of each is doubt. Else the strings are asked: a set that aged lost ring in all of
them, a bad string alone, so a loss that grows the shorter the strings ring, and that the long ones don't share, may be the room's. By the
strings nobody can tell it from a harp whose short ones aged together: so it is doubt for each of them.
"""

from collections.abc import Mapping

import numpy as np

from toneprobe import limits
from toneprobe.baseline.change import Change
from toneprobe.baseline.fresh import Baseline
from toneprobe.baseline.robust import middle_of_most

ROOM_MORE_DECAY = 0.1  # log decay that the shortest third must have lost beyond the longest (set)
ROOM_RANK = 20.0  # per cent: at this rank of a third stand strings that are not bad, though half of it may be (set)
ROOM_MIDDLE_SHARE = 0.75  # most of that which the middle third may have lost: where trebles and middle lost alike they aged, and the wires
# did not (set: rooms of 0.9 to 3 s leave a half to two thirds)
LEAST_STRINGS = 15  # five in each third, of which one or two may be bad (set)
LEAST_SHORT = 5  # strings that ring shorter than a room, and as many longer ones: of each one or two may be bad (set)
ROOM_LONG_SHARE = 0.5  # of what the short ones lost: if the longer ones lost as much, the set has aged (set)


def room_doubt(changes: Mapping[str, Change], fresh: Mapping[str, Baseline]) -> Mapping[str, Mapping[str, float]]:
    """By string and part of its partials, as in `decay_change.PARTS`, how much of the log decay may be the room's; empty where none is
    told. What at least two thirds of the shortest strings lost counts as shared by them."""
    if is_told_by_partials(changes):
        return {string: change.room_loss for string, change in changes.items()}
    rings_s = {string: fresh[string].figures["t60_s"].value for string, change in changes.items()
               if change.decay.all.known and fresh[string].figures["t60_s"].known}
    lost = _growing(changes, rings_s) or _of_short_strings(changes, rings_s)
    of_short = max(lost.values(), default=0.0)  # upper partials ring no longer than short strings do
    return {string: {"all": lost.get(string, 0.0), "low": lost.get(string, 0.0), "high": of_short} for string in changes} if lost else {}


def is_told_by_partials(changes: Mapping[str, Change]) -> bool:
    return any(change.room_loss for change in changes.values())


def _growing(changes: Mapping[str, Change], rings_s: Mapping[str, float]) -> Mapping[str, float]:
    """Where the loss grows the shorter the strings ring, all over the harp."""
    order = sorted(rings_s, key=rings_s.get)
    if len(order) < LEAST_STRINGS:
        return {}
    lost = np.array([changes[string].decay.all.value for string in order])
    third = len(lost) // 3
    by_short, by_long = _shared(lost[:third]), max(_shared(lost[-third:]), 0.0)
    low_short, low_middle = (float(np.percentile(part, ROOM_RANK)) - by_long for part in (lost[:third], lost[third:-third]))
    if by_short < limits.ROOM_DECAY or by_short - by_long < ROOM_MORE_DECAY or low_middle > ROOM_MIDDLE_SHARE * low_short:
        return {}
    return {string: max(0.0, _of_others(lost, place) - by_long) for place, string in enumerate(order)}


def _of_short_strings(changes: Mapping[str, Change], rings_s: Mapping[str, float]) -> Mapping[str, float]:
    """Where only strings that ring as short as a room lost ring, however few these are."""
    short = [string for string, ring_s in rings_s.items() if ring_s < limits.ROOM_RING_S]
    long = [string for string in rings_s if string not in short]
    if len(short) < LEAST_SHORT or len(long) < LEAST_SHORT:
        return {}
    of_short, of_long = (np.array([changes[string].decay.all.value for string in strings]) for strings in (short, long))
    lost = _shared(of_short)
    is_theirs = lost > limits.ROOM_DECAY and middle_of_most(of_long) < ROOM_LONG_SHARE * lost
    return dict.fromkeys(short, lost) if is_theirs else {}


def _of_others(lost: np.ndarray, place: int) -> float:
    """What the other strings say of one that rings as long: their losses, smoothed so that they only shrink as rings grow longer."""
    from scipy.optimize import isotonic_regression  # slow to load

    smooth = isotonic_regression(np.delete(lost, place), increasing=False).x
    return float(smooth[max(place - 1, 0): place + 1].mean())


def _shared(lost: np.ndarray) -> float:
    """What at least two thirds of the strings lost."""
    return float(np.percentile(lost, 100.0 * limits.MOST_BAD_SHARE))
