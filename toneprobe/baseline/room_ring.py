"""How long the room rings, told by the sweep itself, and how much of a string's loss it lets be heard.

A pluck heard in a room is the string's fall convolved with the room's: of two exponentials the slower remains, so nothing falls faster than
the room. Loss in the string's matter grows with frequency, δ = π·f·η, so high partials die in a time that goes as 1/f; a room's time hardly
depends on frequency. Where the high partials of a sweep all end in one time, whatever their frequency, that is the room's. Model: T(f)^p =
R^p + (c/f)^p, fitted by least mean distance in ln T, so that a third of bad strings has little weight. R is believed only where strings
alone explain less, whatever power of frequency between 0.5 (loss in the air) and 1.25 their losses go with: a harp heard from near or by a
pickup has no such floor. Where direct sound stands above the reverberation the floor is lower, and that one is found, for the same first 30
dB are compared. In more noise fewer high partials tell, and a room seen in one sweep is hardly seen in the next though it hides as much: so
if the strings' fresh sweeps tell the same time, less is asked.

p: decays are compared by a straight line through the first 30 dB of the backward integral (`measure/decay`). Of two convolved falls of one
T that is (1 + x)·exp(−x), x = t·ln 10⁶/T, and the line's 60 dB take 1.27 T; from there to a room ten times shorter p = 2.85 is within 0.5 %
of the line (derived). From the first moment to −30 dB it would be 1.34 T and p = 2.4. Not seen: a room that rings shorter than the highest
partials, and by how much more it rings at low frequencies.
"""

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from toneprobe.session.reading import Reading
from toneprobe.units import LN_1000

POWER = 2.85  # p
LOWEST_HZ, HIGHEST_HZ = 1500.0, 10000.0  # of partials that tell of a room
MIDDLE_HZ = 4000.0  # at which c/f, what the strings do by themselves, is tried
LEAST_SNR_DB = 30.0  # the whole early fall
LEAST_STRINGS, LEAST_PARTIALS = 5, 30  # fewer tell of no room
LAWS = (0.5, 0.75, 1.0, 1.25)  # powers of frequency with which strings' own losses may go
LEAST_GAIN = 0.04  # by which the mean distance shrinks with a room (measured: dry real and model harps, damped and not, 0.003 at most; with
# a room of 0.35 s about 0.04 to 0.055 on a whole real harp, found in two sweeps of three, 0.2 on 16 high strings of a model; 0.2 s: 0, 0.1)
LEAST_CONFIRMED = 0.01  # the same where the fresh sweeps tell such a room by themselves (set: three times what dry harps reach)
ALIKE = np.log(1.25)  # most by which the log times of two such rooms may differ (set: found times lie within 20 % of what was put on)
ROOMS_S = np.geomspace(0.08, 2.0, 66)  # steps of 5 %
LEVELS_S = np.geomspace(0.03, 3.0, 95)  # of strings' partials at MIDDLE_HZ
HALF = np.log(2.0)  # log decay of half a ring
LEAST_SHARE = 0.1  # counted as heard of any partial, so that what is hidden has a large error and no infinite one


def room_ring_s(readings: Iterable[Reading], fresh: Iterable[Reading] = ()) -> float | None:
    """Decay time of the room (60 dB) above LOWEST_HZ; None where the sweep does not tell, or where the room is not heard. `fresh`: the same
    strings when they were fresh."""
    now = _likeliest(readings)
    if now is None:
        return None
    if now.gain >= LEAST_GAIN:
        return now.ring_s
    then = _likeliest(fresh)
    is_alike = then is not None and then.gain >= LEAST_GAIN and abs(np.log(now.ring_s / then.ring_s)) <= ALIKE
    return now.ring_s if is_alike and now.gain >= LEAST_CONFIRMED else None


class _Room(NamedTuple):
    ring_s: float
    gain: float  # share by which the mean distance shrinks with it


def _likeliest(readings: Iterable[Reading]) -> _Room | None:
    """The room that explains most; None where too little is heard."""
    rows = [(reading.string, partial.freq_hz.value, np.log(LN_1000) - partial.log_decay.value)
            for reading in readings for partial in reading.partials
            if partial.log_decay.known and (partial.snr_db or 0.0) >= LEAST_SNR_DB and LOWEST_HZ < partial.freq_hz.value < HIGHEST_HZ]
    if len(rows) < LEAST_PARTIALS or len({string for string, *_ in rows}) < LEAST_STRINGS:
        return None
    above = np.log([freq_hz / MIDDLE_HZ for _, freq_hz, _ in rows])
    log_t60 = np.array([t60 for *_, t60 in rows])
    level = np.log(LEVELS_S)[:, None]
    alone = min(_distance(level - law * above, log_t60) for law in LAWS)
    own = POWER * (level - above)
    with_room = [_distance(np.logaddexp(POWER * np.log(room_s), own) / POWER, log_t60) for room_s in ROOMS_S]
    best = int(np.argmin(with_room))
    return _Room(float(ROOMS_S[best]), 1.0 - with_room[best] / alone)


def _distance(models: np.ndarray, log_t60: np.ndarray) -> float:
    """Mean distance of the partials from the nearest of the models; shapes (models, partials), (partials,)."""
    return float(np.abs(models - log_t60).mean(axis=1).min())


def heard_share(t60_s: np.ndarray, room_s: float) -> np.ndarray:
    """The share of a half ring's loss, in ln T, that is still heard of partials that died in t60_s before they lost it."""
    return np.maximum(heard_loss(t60_s, room_s, HALF) / HALF, LEAST_SHARE)


def heard_loss(t60_s: np.ndarray, room_s: float, lost: np.ndarray | float) -> np.ndarray:
    """How much of what a string lost, both in ln T, is heard of partials that died in t60_s before. Shapes as numpy broadcasts them."""
    own = np.maximum((np.asarray(t60_s) / room_s) ** POWER - 1.0, 0.0)  # their own decay time over the room's, to the power
    return (np.log1p(own) - np.log1p(own * np.exp(-POWER * lost))) / POWER
