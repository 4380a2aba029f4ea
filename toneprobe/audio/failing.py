"""Channels of one recording that fail part-way: a loose plug, a flat battery, a switch.

All channels hear the same plucks, and the level of one against another changes little from string to string (6 to 8 dB at most for a real
harp in stereo). A channel has failed where all plucks of a row stand lower against another channel than all before: by their level, which
shows a channel turned down with its noise, or by their rise above what that channel held just before, which shows one that hums or hisses
instead. The other way round it came alive only then. Of the two channels the one whose plucks changed more has failed. A channel that never
hears plucks says nothing of another. Not seen: a failure of fewer than N_PLUCKS plucks, a slow fade, or what befalls all channels at once.
"""

from dataclasses import dataclass
from itertools import permutations

import numpy as np

from toneprobe.audio.gain import events

N_PLUCKS = 3  # in a row, on both sides: more than one string's two plucks
STEP_DB = 16.0  # twice the most between plucks of a real harp in stereo (lever harp, 48 plucks of two sweeps: 6.3; one channel noisy: 8.1)
HEARD_DB = 6.0  # over what was there just before: a channel that hears plucks; noise alone differs by 1 to 2 from frame to frame
MOST_RISE_DB = 40.0  # what rises by more rises enough: how quiet a channel is between the plucks is no failing
PEAK_FRAMES, BEFORE_FRAMES = 3, 3
LEAST_APART = 4  # frames between two plucks' onsets


@dataclass(frozen=True)
class Failing:
    """A channel that does not hear all of the recording."""

    channel: int  # 0-based
    frame: int  # of the first pluck after the change
    fall_db: float  # how much lower it stands while it fails, at the least; negative: it came alive only then
    against: int  # the channel beside which it shows


def failing_channels(level_db: np.ndarray, floors_db: np.ndarray) -> list[Failing]:
    """The first failure of each failing channel, in the channels' order. level_db: of the frames, shape (channels, n_frames); floors_db:
    each channel's own quiet, shape (channels,)."""
    onsets = pluck_onsets(level_db, floors_db)
    if len(onsets) < 2 * N_PLUCKS:
        return []
    peaks = np.array([level_db[:, onset:onset + PEAK_FRAMES].max(axis=1) for onset in onsets]).T
    before = np.array([level_db[:, max(0, onset - BEFORE_FRAMES):max(1, onset)].min(axis=1) for onset in onsets]).T
    rises = np.clip(peaks - before, 0.0, MOST_RISE_DB)
    found: dict[int, Failing] = {}
    for channel, against in permutations(range(len(peaks)), 2):
        heard = np.flatnonzero(rises[against] >= HEARD_DB)  # what begins in one channel alone, as its hum, is no pluck
        first = _first_failing(*(of[:, heard] for of in (peaks, rises)), channel, against)
        if first is not None:
            i, fall_db = first
            one = Failing(channel, onsets[heard[i]], fall_db, against)
            found[channel] = min(found.get(channel, one), one, key=lambda failing: failing.frame)
    return [found[channel] for channel in sorted(found)]


def _first_failing(peaks_db: np.ndarray, rises_db: np.ndarray, channel: int, against: int) -> tuple[int, float] | None:
    """(index of the first pluck after it, fall) of the earliest change of the channel itself, as `steps` gives it. Levels at the plucks,
    shape (channels, n_plucks)."""
    found = []
    for values_db in (peaks_db, rises_db):
        for i, fall_db in steps(values_db[channel] - values_db[against]):
            good = rises_db[channel, i - N_PLUCKS:i] if fall_db > 0.0 else rises_db[channel, i:i + N_PLUCKS]
            others_db = max(_change(values_db[against], i), _change(peaks_db[against], i))  # where more, it was plucked otherwise
            if good.min() >= HEARD_DB and _change(values_db[channel], i) > others_db:
                found.append((i, fall_db))
    return min(found, key=lambda step: (step[0], -abs(step[1])), default=None)


def pluck_onsets(level_db: np.ndarray, floors_db: np.ndarray) -> list[int]:
    """Frames at which in any channel something loud begins."""
    rises = sorted({start for level, floor_db in zip(level_db, floors_db, strict=True) for start, _ in events(level, float(floor_db))})
    return [frame for frame, last in zip(rises, [-LEAST_APART, *rises], strict=False) if frame - last >= LEAST_APART]


def steps(values: np.ndarray) -> list[tuple[int, float]]:
    """(first index after it, fall) of each step between N_PLUCKS values in a row and the next ones, all of which differ by STEP_DB."""
    found: list[tuple[int, float]] = []
    for i in range(N_PLUCKS, values.size - N_PLUCKS + 1):
        before, after = values[i - N_PLUCKS:i], values[i:i + N_PLUCKS]
        fall, rise = float(before.min() - after.max()), float(after.min() - before.max())
        if max(fall, rise) >= STEP_DB:
            found.append((i, fall if fall > rise else -rise))
    return found


def _change(values: np.ndarray, i: int) -> float:
    return abs(float(np.median(values[i:i + N_PLUCKS]) - np.median(values[i - N_PLUCKS:i])))
