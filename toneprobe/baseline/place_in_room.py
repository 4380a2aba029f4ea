"""How much of a partial's place is the string's own where the room outrings it.

What is heard is the string's fall convolved with the room's. A partial that dies sooner than the room is measured mostly on the room's
tail, which sounds where a resonance of the room, or what else is left of the pluck, is strongest: real top strings in rooms of 0.25 to 0.5
s have partials of 0.2 to 0.3 s 15 cents off, alike in all plucks. So such a partial tells less of its place, by the share by which it tells
less of the string's loss (`room_ring.heard_share`), and if it is not found it is not missed.

Model: T_now^p = T_fresh^p + R^p, the string as it was, in a room of R; the share goes with (T_fresh/R)^p. R is the larger of what the sweep
tells (`room_ring`) and what the string tells: strings only lose ring, so where most of its short partials ring longer than when fresh,
beyond their plucks' scatter, that is a room, of the median T_now^p − T_fresh^p. A room of the fresh sweep no string tells by itself, whose
partials may as well have aged: all of them together do (`longer_room`).
"""

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.robust import middle
from toneprobe.baseline.room_ring import POWER, heard_share
from toneprobe.medians import SE_OVER_MEANS
from toneprobe.units import LN_1000

LEAST_SHORT = 4  # partials that die as soon as a room may, for the string to show a room (set)
ERRORS_LONGER = 3.0  # standard errors by which they must ring longer (measured: dry real strings against their other take, one in ten does)


def place_share(fresh_t60_s: np.ndarray | float, room_s: float | None, longer_s: float | None = None) -> np.ndarray:
    """The share of a partial's place that is its own, 0.1 to 1, on the side where it is less; 1 where its ring or the room's is not known.
    longer_s: the fresh sweep's room, as of `longer_room`, in which the partial was heard to ring so long."""
    fresh_t60_s = np.asarray(fresh_t60_s, float)
    in_room_s = (fresh_t60_s**POWER + (room_s or 0.0) ** POWER) ** (1.0 / POWER)
    sides = [heard_share(heard_s, of_room_s) for heard_s, of_room_s in ((in_room_s, room_s), (fresh_t60_s, longer_s)) if of_room_s]
    return np.where(np.isfinite(fresh_t60_s), np.min(sides, axis=0), 1.0) if sides else np.ones(fresh_t60_s.shape)


def longest_room_s(pairs: Pairs, room_s: float | None) -> float | None:
    """The room by which this string's partials are weighed. room_s: what the sweep tells, where it does."""
    found = [one for one in (room_s, _room_of_string_s(pairs)) if one]
    return max(found) if found else None


def _room_of_string_s(pairs: Pairs) -> float | None:
    """None unless the string's short partials ring clearly longer than when fresh."""
    fresh_s, now_s = LN_1000 / pairs.fresh_decay, LN_1000 / (pairs.fresh_decay * np.exp(pairs.log_decay))
    short = np.isfinite(now_s) & (fresh_s < limits.ROOM_RING_S)
    if short.sum() < LEAST_SHORT:
        return None
    of_partials = SE_OVER_MEANS * limits.PARTIAL_DECAY_SPREAD / np.sqrt(short.sum())
    error = np.hypot(of_partials, limits.STRING_DECAY_SPREAD) * np.sqrt(pairs.per_pluck[short].mean())
    if middle(-pairs.log_decay[short]) < ERRORS_LONGER * error:
        return None
    of_room = middle(now_s[short] ** POWER - fresh_s[short] ** POWER)
    return float(of_room ** (1.0 / POWER)) if of_room > 0.0 else None
