"""The noise floor: the quietest stretches of the channel in use, half a second long so that a short dip does not count. Digital silence
(all samples of a frame the same) and the frames beside it are no room noise and are left out.
"""

import numpy as np

N_STRETCH = 5  # frames
N_SECOND = 10  # frames of 0.1 s: one second, which gives lines of 1 Hz
N_SECONDS_MOST = 40  # looked at closely
FLOOR_BAND = 10.0**0.15  # stretches within 1.5 dB of the quietest make the floor
LEVEL_DB = 0.5  # from one half second to the next; a string that rings for 30 s (60 dB) falls by 1 dB
QUIET_BAND = 2.0  # frames within 3 dB of the floor are quiet


def find_floor(power: np.ndarray, still: np.ndarray) -> tuple[float, np.ndarray]:
    """Mean square of the floor, an upper bound where nothing is quiet, and which frames are quiet. Arguments of shape (n_frames,)."""
    usable = usable_frames(still)
    width = min(N_STRETCH, power.size)
    counts = np.convolve(usable, np.ones(width), mode="same")
    stretch = np.convolve(np.where(usable, power, 0.0), np.ones(width), mode="same") / np.maximum(counts, 1)
    whole = usable & (counts == counts[usable].max())
    lowest = whole & (stretch <= FLOOR_BAND * stretch[whole].min())
    floor = float(np.median(power[lowest]))
    return floor, usable & (stretch <= QUIET_BAND * floor)


def usable_frames(still: np.ndarray) -> np.ndarray:
    """Frames with sound that do not touch digital silence or, in longer recordings, the file's ends."""
    beside = np.convolve(still, np.ones(3))[1:-1] > 0  # not "same", which gives three values for two frames
    usable = ~beside if not beside.all() else ~still
    if usable[1:-1].sum() > 2 * N_STRETCH:
        usable[[0, -1]] = False
    return usable if usable.any() else np.ones_like(usable)


def is_steady(level_db: np.ndarray, starts: np.ndarray) -> bool:
    """Whether the quiet seconds hold their level, as noise does; a string's ring falls. False without any."""
    half = N_SECOND // 2
    falls_db = [level_db[start:start + half].mean() - level_db[start + half:start + N_SECOND].mean() for start in starts]
    return bool(falls_db) and abs(float(np.median(falls_db))) < LEVEL_DB


def quiet_seconds(quiet: np.ndarray) -> np.ndarray:
    """First frames of separate seconds of quiet, at most N_SECONDS_MOST, spread over the recording. Each quiet run is cut up from its end,
    since its beginning may hold the last of a ring."""
    bounds = np.flatnonzero(np.diff(np.r_[0, quiet.astype(np.int8), 0]))
    starts = sorted(stop - N_SECOND for first, last in bounds.reshape(-1, 2) for stop in range(last, first + N_SECOND - 1, -N_SECOND))
    if not starts:
        return np.empty(0, int)
    chosen = np.unique(np.linspace(0, len(starts) - 1, N_SECONDS_MOST).round().astype(int))
    return np.array(starts)[chosen]
