"""Gain riding: automatic gain, noise suppression or a gate, seen in the noise beside the sound.

Noise only ever adds to sound. So unless the gain moves, no band can be quieter after a pluck than it was, steadily, just before, and a band
that has reached the noise floor stays there. Three signs of a moving gain, each required several times:
- *ducked*: after a loud onset at least two bands sink below their steady level just before it (automatic gain);
- *shut*: bands that were level, neither ringing nor falling, drop together at once and stay down until the next onset (a suppressor or a
  soft gate);
- *zeroed*: sound well above the number format's step ends in exact digital silence (a gate, or a file pieced together), unless it was level
  before, as noise is and no ring: then silence was put between plucks that had died away.

Noise that swells and fades by itself, a dishwasher or the wind, also sinks after onsets. So what sinks as far in pauses is subtracted from
what sinks after onsets, and what returns without an onset from what shuts. Silence of a drop-out (`gaps`) is no sign, unless there are as
many silences of a gate.
"""

import numpy as np

from toneprobe.audio.floor import LEVEL_DB

ONSET_DB = 12.0  # rise within 0.3 s that makes an event
EVENT_OVER_FLOOR_DB = 20.0
STEADY_DB = 1.0  # a ringing string falls by more in 0.3 s
STEADY_FRAMES = 7  # before an event, over which it is looked at
LOOK_FRAMES = 30  # after it, at the most
DUCK_DB = 3.0  # the chance minimum of 3 s of noise lies about 1 dB down (derived: 600 degrees of freedom)
SHUT_DB = 6.0
N_EVENTS = 3
SHARE = 0.6  # of the events that can tell
TOLD_SHARE = 0.1  # of all events, that can tell at the least: where a clock ticks all through, three of its ticks may seem to (set)
FOREIGN_SHARE = 0.4  # of all events: what sounds after more of them may be the gain's own doing, noise that it lets in and out (set)
SHUT_SHARE = 0.3  # of all events: a suppressor shuts after most plucks; a hand, a word or a creaking chair looks like it after one in six
ZEROED_STEPS = 8.0  # rms in steps of the number format, before digital silence


def rides_gain(level_db: np.ndarray, bands_db: np.ndarray, *, floor_db: float, still: np.ndarray, lsb: float,
               lost: np.ndarray, foreign: np.ndarray | None = None) -> bool | None:
    """True, False, or None where too few plucks come out of a steady quiet to tell.

    level_db: frame levels, shape (n_frames,); bands_db: levels of the wide bands, shape (n_frames, n_bands); still: digital silence;
    lost: frames that a drop-out touches, foreign: those in which something is known to sound that is no pluck, shape (n_frames,).
    """
    foreign = np.zeros(level_db.size, bool) if foreign is None else foreign
    heard = events(level_db, floor_db)
    onsets = [start for start, _ in heard]
    found = [(start, stop) for start, stop in heard
             if not lost[max(0, start - STEADY_FRAMES): min(stop, start + LOOK_FRAMES)].any()]
    rises = [event for event in found if not foreign[max(0, event[0] - STEADY_FRAMES): event[0]].any()]
    if sum(foreign[start + 3: stop - 3].any() for start, stop in found) > FOREIGN_SHARE * len(found):
        return rides_gain(level_db, bands_db, floor_db=floor_db, still=still, lsb=lsb, lost=lost)
    n_lost = int(np.count_nonzero(np.diff(lost.astype(np.int8), prepend=0) > 0))
    if n_zeroed(level_db, still & ~lost, lsb) >= max(2, n_lost):
        return True
    if n_shut(bands_db, foreign | lost, onsets) >= max(N_EVENTS, SHUT_SHARE * len(rises)):
        return True
    counts = {event: n for event in rises if (n := ducked_bands(bands_db, *event)) is not None}
    if len(counts) < max(N_EVENTS, TOLD_SHARE * len(rises)):
        return None
    n_ducked, least = sum(n >= 2 for n in counts.values()), max(N_EVENTS, SHARE * len(counts))
    if n_ducked < least:
        return False
    begins = dict(zip(onsets, [0, *onsets], strict=False))
    pauses = [(begins[onset], onset) for onset, _ in counts if not (foreign | lost)[begins[onset]:onset].any()]
    return n_ducked - n_sinking(bands_db, pauses) >= least or None


def events(level_db: np.ndarray, floor_db: float) -> list[tuple[int, int]]:
    """(frame, next event's frame) of each sudden rise well above the floor."""
    before = np.minimum.reduce([np.r_[np.full(k, np.inf), level_db][:level_db.size] for k in (1, 2, 3)])
    rises = np.flatnonzero((level_db - before >= ONSET_DB) & (level_db >= floor_db + EVENT_OVER_FLOOR_DB))
    rises = rises[np.diff(rises, prepend=-10) > 3]
    ends = np.r_[rises[1:], level_db.size]
    return list(zip(rises.tolist(), ends[:rises.size].tolist(), strict=True))


def ducked_bands(bands_db: np.ndarray, onset: int, following: int) -> int | None:
    """How many bands sink below what they were before the onset; None where fewer than two were steady, or there is no time to see."""
    stop = min(following, onset + LOOK_FRAMES) - 1
    if onset < STEADY_FRAMES or stop - onset < 8:
        return None
    means_db = _means_db(bands_db[onset - STEADY_FRAMES:onset - 1])
    steady = _is_steady(means_db)[0]
    if steady.sum() < 2:
        return None
    after = _means_db(bands_db[onset + 2:stop]).min(axis=0)
    return int(np.count_nonzero(steady & (means_db[-1] - after >= DUCK_DB)))


def n_sinking(bands_db: np.ndarray, pauses: list[tuple[int, int]]) -> int:
    """In how many pauses, (first frame, frame of the onset that ends it), at least two bands sink so far by themselves: by the same signs,
    where they are steady and no higher than they ever are just before an onset, since higher a string rings."""
    means = [_means_db(bands_db[begin:onset - 1]) for begin, onset in pauses if onset - begin > STEADY_FRAMES]
    usual_db = np.max([np.where(_is_steady(rows)[-1], rows[-1], -np.inf) for rows in means], axis=0) if means else None
    n = 0
    for rows in means:
        later_db = np.minimum.accumulate(rows[:8:-1])[::-1]
        sinks = _is_steady(rows)[:-6] & (rows[3:-6] <= usual_db) & (rows[3:-6] - later_db >= DUCK_DB)
        n += bool((sinks.sum(axis=1) >= 2).any())
    return n


def _means_db(bands_db: np.ndarray) -> np.ndarray:
    """Of three frames each."""
    return np.lib.stride_tricks.sliding_window_view(bands_db, 3, axis=0).mean(axis=2)


def _is_steady(means_db: np.ndarray) -> np.ndarray:
    """From the fourth mean on: whether it fell by less than a string does."""
    return means_db[3:] - means_db[:-3] > -STEADY_DB


def n_shut(bands_db: np.ndarray, foreign: np.ndarray, onsets: list[int]) -> int:
    """How often at least two bands, level for 0.4 s, drop within 0.2 s and stay down until the next onset, at least 0.3 s, less the drops
    from which they return before it. foreign: as in `rides_gain`."""
    if bands_db.shape[0] < 12:
        return 0
    frames = np.arange(4, bands_db.shape[0] - 5)
    first, second = 0.5 * (bands_db[frames - 4] + bands_db[frames - 3]), 0.5 * (bands_db[frames - 2] + bands_db[frames - 1])
    after = np.max([bands_db[frames + k] for k in (2, 3, 4)], axis=0)
    alone = ~np.logical_or.reduce([foreign[frames + k] for k in range(-4, 3)])
    drops = (np.abs(first - second) < STEADY_DB) & (second - after >= SHUT_DB)
    found = np.flatnonzero(alone & (drops.sum(axis=1) >= 2))
    found, quiet_db = found[np.diff(found, prepend=-10) > 3], np.where(foreign[:, np.newaxis], -np.inf, bands_db)
    ends = [*onsets, bands_db.shape[0] + 1]
    shut = 0
    for i, frame in zip(found, frames[found], strict=True):
        highest_db = _means_db(quiet_db[frame + 2:max(frame + 5, ends[np.searchsorted(ends, frame, "right")] - 1)]).max(axis=0)
        shut += 1 if (drops[i] & (second[i] - highest_db >= DUCK_DB)).sum() >= 2 else -1
    return shut


def n_zeroed(level_db: np.ndarray, still: np.ndarray, lsb: float) -> int:
    """How often sound well above the smallest step ends in at least 0.2 s of digital silence; 0 where it mostly was level before."""
    least_db = 20.0 * np.log10(ZEROED_STEPS * lsb)
    begins = np.flatnonzero(still[1:-1] & still[2:] & ~still[:-2]) + 1
    zeroed = [begin for begin in begins.tolist() if level_db[max(0, begin - 2)] > least_db]
    falls_db = [level_db[begin - 11:begin - 6].mean() - level_db[begin - 6:begin - 1].mean() for begin in zeroed if begin >= 11]
    return len(zeroed) if not falls_db or abs(float(np.median(falls_db))) >= LEVEL_DB else 0
