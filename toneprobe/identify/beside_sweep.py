"""Which sounds like strings only fell into the sweep: a flute, a piano, a radio next door.

A sweep runs along the harp, so the plucks before and after one are of strings near it. A tone from elsewhere comes after any string, and
the sweep goes on around it. That alone is no proof, since a player also goes back to a string, but to hear it, and plucks it as loudly as
the others. So a sound fell in if the sweep goes on around it *and* it is fainter than the string's own plucks or, if there are none, far
fainter than the strings near it. Not told: another instrument as loud as the harp, anything before the first or after the last full pluck,
or in a recording that does not run along the harp.
"""

from collections.abc import Mapping, Sequence
from statistics import median

import numpy as np

FAINTER_DB = 6.0  # than the string's loudest pluck (set; plucked in its place a string may be softer by any amount)
FAR_FAINTER_DB = 15.0  # than the loudest plucks of the strings near it, which differ by less (set; by 10 dB at the most on the lever harp)
NEAR = 3  # strings
GOES_ON = 2  # strings from the pluck before to the one after: a step, or a skip of one


def fallen_in(path: Sequence[int | None], power_db: Sequence[float]) -> tuple[int, ...]:
    """Events named as a string that are no plucks of the sweep. path: string of each event, counted along the harp, or None."""
    heard = [i for i, string in enumerate(path) if string is not None]
    loudest = {string: max(power_db[i] for i in heard if path[i] == string) for string in {path[i] for i in heard}}
    without_plucks = {string for string in loudest if _is_far_fainter(string, loudest)}
    faint = [i for i in heard if path[i] in without_plucks or power_db[i] < loudest[path[i]] - FAINTER_DB]
    full = [i for i in heard if i not in faint]
    return tuple(i for i in faint if _goes_on_around(path, i, full, apart=NEAR if path[i] in without_plucks else 1))


def _is_far_fainter(string: int, loudest: Mapping[int, float]) -> bool:
    near = [db for other, db in loudest.items() if 0 < abs(other - string) <= NEAR]
    return len(near) > 1 and loudest[string] < median(near) - FAR_FAINTER_DB


def _goes_on_around(path: Sequence[int | None], event: int, full: Sequence[int], *, apart: int) -> bool:
    """Whether the full plucks before and after an event are of strings next to each other, the event's own at least `apart` beyond them."""
    place = int(np.searchsorted(full, event))
    beside = [path[i] for i in full[max(place - 1, 0): place + 1]]
    if len(beside) < 2 or max(beside) - min(beside) > GOES_ON:
        return False
    return path[event] <= min(beside) - apart or path[event] >= max(beside) + apart
