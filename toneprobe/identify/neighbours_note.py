"""A string that sounds its neighbour's note: it fell to it, or its lever or pedal was forgotten, as D with its lever up beside E flat.

By pitch all plucks of the two are the neighbour's, and the string seems skipped. The player's habit tells: a string with twice the usual
number of plucks in one go, beside one that the run passed over, is two strings if a semitone of lever or pedal would bring that one to this
note, or if the halves of the plucks lie apart in pitch. The first half is the string that the run reaches first; nothing else tells two
alike apart. For players who give strings one pluck, or now two, now three, nothing is said. Otherwise the string may have been skipped, and
the other plucked twice as often.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

import numpy as np

from toneprobe.identify.evidence import Naming
from toneprobe.identify.sweep_order import MOVED_COST, SAME_PITCH_CENTS, order_tells
from toneprobe.limits import ONE_STRING_CENTS
from toneprobe.units import SEMITONE_CENTS

LEAST_PLUCKS = 2  # of each string: with one, a second is more likely the same string again, and the other was skipped
HABIT_SHARE = 0.85  # of the strings that have as many plucks as most: then it is a habit (set: a few forgotten levers leave it so, and
# where every other string is moved neither the harp's pitch nor the habit is known)


def beyond_habit(namings: Sequence[Naming], path: Sequence[int | None], level_cents: float,
                 has_mechanism: Sequence[bool]) -> np.ndarray:
    """Doubt about names of a first solution, shape (events, n strings): those of plucks that are another string's by their number. path:
    string of each event; has_mechanism: whether a string has a lever or disc, which may hold it a semitone off."""
    doubt = np.zeros((len(namings), len(has_mechanism)))
    for string, events, halves in _doubled(path, len(has_mechanism)):
        skipped = [place for place, half in halves.items() if has_mechanism[place]
                   and all(_is_semitone_off(namings[i], place, level_cents) for i in half)]
        if len(skipped) == 1:
            doubt[events, [skipped[0] if i not in halves[skipped[0]] else string for i in events]] = MOVED_COST
    return doubt


def fallen_beside(path: Sequence[int | None], cents: Sequence[float], n_strings: int) -> Mapping[int, int]:
    """By event: the passed-over string whose pluck it is, of those whose halves lie apart. cents: of each event, nan where its pitch is not
    known well."""
    found: dict[int, int] = {}
    for _, events, halves in _doubled(path, n_strings):
        for place, half in halves.items() if len(halves) == 1 else ():
            if _lie_apart([cents[i] for i in half], [cents[i] for i in events if i not in half]):
                found |= dict.fromkeys(half, place)
    return found


def _doubled(path: Sequence[int | None], n_strings: int) -> Iterator[tuple[int, list[int], dict[int, list[int]]]]:
    """Each string with twice the usual plucks, all in one go: its place, these, and by place of a string passed over before or after it the
    half that would be that one's."""
    counts = Counter(string for string in path if string is not None)
    n_usual = usual_n_plucks(counts)
    if n_usual is None or n_usual < LEAST_PLUCKS or not order_tells(path):
        return
    named = (i for i, string in enumerate(path) if string is not None)
    runs = [(string, list(events)) for string, events in groupby(named, path.__getitem__)]
    ends = [None, *(string for string, _ in runs), None]
    for (string, events), before, after in zip(runs, ends, ends[2:], strict=False):
        if len(events) != 2 * n_usual or counts[string] != 2 * n_usual:
            continue
        way = int(np.sign((string if after is None else after) - (string if before is None else before)))
        halves = {string - way: events[:n_usual], string + way: events[n_usual:]} if way else {}
        yield string, events, {place: half for place, half in halves.items() if place not in counts and 0 <= place < n_strings}


def _lie_apart(one: Sequence[float], other: Sequence[float]) -> bool:
    gap = max(np.min(one) - np.max(other), np.min(other) - np.max(one))
    return bool(gap > max(ONE_STRING_CENTS, np.ptp(one), np.ptp(other)))


def usual_n_plucks(n_plucks: Mapping[str | int, int]) -> int | None:
    """How many plucks nearly every string has, None where that is no habit. n_plucks: by string."""
    if not n_plucks:
        return None
    n_usual, n_strings = Counter(n_plucks.values()).most_common(1)[0]
    return n_usual if n_strings >= HABIT_SHARE * len(n_plucks) else None


def _is_semitone_off(naming: Naming, place: int, level_cents: float) -> bool:
    return abs(abs(float(naming.offset_cents[place]) - level_cents) - SEMITONE_CENTS) <= SAME_PITCH_CENTS
