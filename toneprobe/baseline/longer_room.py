"""How much longer the fresh sweep's room rang than this one's, told by the partials of all strings side by side.

A room keeps up whatever dies faster than it does, of whatever string, material and register (see `room_ring`): T_fresh^p = T_now^p + R^p,
T_now as heard in this sweep's room, and R^p what the fresh one had beyond it. Age and faults take of one string, or of a register, one
share of all its partials or more of the upper ones, and leave the quick partials of all others as they were. So what a string's partials
lost is explained by a share of its own, none at least, for strings don't grow younger, and by one R for all. R is believed where it leaves
clearly less unexplained than none does. A recording that carries few quick partials, or few strings, tells of none.
"""

from collections.abc import Iterable, Mapping

import numpy as np

from toneprobe.baseline.decay_change import members_of_parts
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.room_ring import POWER, ROOMS_S
from toneprobe.baseline.scatter import level_factor
from toneprobe.units import LN_1000

LEAST_STRINGS = 15  # of fewer, a register may be all that was fresh in one sweep (set)
LEAST_PAIRS = 3  # of a string: its own share takes one of them
MOST_OFF = 0.6  # log decay that one partial counts at most, for it may be mistaken (set: three times what takes differ by)
LEAST_ROOM_S = 0.2  # shorter ones hardly reach a string's low partials (set)
LEAST_GAIN = 0.08  # share by which a room believed leaves less unexplained (measured: the lever harp's takes, fresh in rooms of 0.35 to
# 0.9 s 0.13 to 0.42, of 0.6 s heard from near 0.09; dry, cut, noisy, with a third, the upper or the lower half of its strings at half their
# ring, 0.035 at most; with the upper half's windings dirty 0.13, but then of 0.15 s at most)


def longer_room_s(strings: Iterable[Pairs]) -> float | None:
    """R, None where none is told. strings: those that were fresh in one sweep."""
    told = [kept for pairs in strings if len((kept := _of_decays(pairs)).n) >= LEAST_PAIRS]
    if len(told) < LEAST_STRINGS:
        return None
    without, *unexplained = sum(_unexplained(pairs, np.array([0.0, *ROOMS_S])) for pairs in told)
    best = int(np.argmin(unexplained))
    is_told = ROOMS_S[best] >= LEAST_ROOM_S and unexplained[best] <= (1.0 - LEAST_GAIN) * without
    return float(ROOMS_S[best]) if is_told else None


def room_loss(pairs: Pairs, room_s: float | None) -> Mapping[str, float]:
    """By part, as in `decay_change.PARTS`, how much of the string's log decay such a room made: a mean, in which partials weigh as their
    level makes them sure."""
    pairs = _of_decays(pairs)
    if room_s is None or not len(pairs.n):
        return {}
    (lost,) = _lost_by_room(pairs, np.array([room_s]))
    weights = level_factor(np.minimum(pairs.fresh_level_db, 0.0)) ** -2.0
    return {part: float(np.average(lost[its], weights=weights[its])) for part, its in members_of_parts(pairs.n).items()}


def _of_decays(pairs: Pairs) -> Pairs:
    return pairs.where(np.isfinite(pairs.log_decay))


def _unexplained(pairs: Pairs, rooms_s: np.ndarray) -> np.ndarray:
    """Log decay, over all partials, that neither each room nor a loss of the string's own explains; shape (rooms,)."""
    rest = pairs.log_decay - _lost_by_room(pairs, rooms_s)
    own_loss = np.maximum(np.median(rest, axis=1, keepdims=True), 0.0)
    return np.minimum(np.abs(rest - own_loss), MOST_OFF).sum(axis=1)


def _lost_by_room(pairs: Pairs, rooms_s: np.ndarray) -> np.ndarray:
    """Log decay that each room would make of each partial, shape (rooms, k): ln(1 + R^p/T_now^p)/p.

    How long it rings is asked of both sides alike, by their geometric mean m, or one measured too short now would seem to have lost by a
    room: T_now^p·(T_now^p + R^p) = m^2p.
    """
    middle_power = (LN_1000 / (pairs.fresh_decay * np.exp(0.5 * pairs.log_decay))) ** (2.0 * POWER)
    room_power = rooms_s[:, None] ** POWER
    now_power = 2.0 * middle_power / (room_power + np.sqrt(room_power**2 + 4.0 * middle_power))
    return np.log1p(room_power / now_power) / POWER
