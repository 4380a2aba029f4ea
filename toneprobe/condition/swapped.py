"""Two neighbours that may have been put on in each other's place, each tuned to the note of its place.

B goes as d²/(l⁴·f²) of one material (Fletcher 1964, with the tension that the note asks for), so on one place and at one note as d². Two
strings of different gauge that change places change the B of the two places by one factor, up in one and down in the other; a single string
of another gauge has no such partner. Two strings that were both changed, for a thicker and a thinner one, look the same.
"""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from math import hypot, inf

from toneprobe.condition.next_steps import CHECK_LOG
from toneprobe.condition.verdict import Condition

ERRORS = 2.0  # within which the two factors are one (set)


def with_swapped(conditions: Sequence[Condition]) -> list[Condition]:
    """The conditions of a harp's strings, in its order, with a reason added to any two that may be swapped."""
    found = list(conditions)
    for place, (above, below) in enumerate(pairwise(conditions)):
        if _are_swapped(above, below):
            for at, other in ((place, below), (place + 1, above)):
                reason = (f"{other.string} beside it changed the other way by about as much: the two may have been put on in each other's "
                          "place.")
                found[at] = replace(found[at], reasons=(*found[at].reasons, reason))
    return found


def _are_swapped(one: Condition, other: Condition) -> bool:
    if not one.step_kind == other.step_kind == CHECK_LOG:
        return False
    first, second = one.changes["stretch"], other.changes["stretch"]
    error = hypot(first.error, second.error)
    return first.value * second.value < 0.0 and error < inf and abs(first.value + second.value) <= ERRORS * error
