"""Band limits: what the recorder or its codec removed below (high-pass) and above (low-pass).

Room noise falls gently with frequency; a filter makes a cliff beyond which nothing is left. The noise of the quiet parts decides first,
because high or dull strings leave it whole. Where a codec drops the noise but keeps the sound, the sound decides, if it is dense enough up
to the cliff. If neither can tell: None.
"""

import numpy as np

from toneprobe.audio.survey import decibels

N_PER_OCTAVE = 12
HEARD_SHARE = 0.45  # of the sample rate: a partial that lies higher is left alone, for converters fall off above
HALF_OCTAVE_RATIO = 1.41  # frequency ratio of half an octave
SIXTH_OCTAVE_RATIO = 1.12  # what a cliff leaves is measured this far above it
TWELFTH_OCTAVE_RATIO = 1.06  # what a cliff spares is measured this far below it
LOWEST_HZ = 30.0
HIGHEST_SHARE = 0.97  # of half the sample rate
GAPS_HIGH_DB = ((2, 15.0), (6, 18.0))  # (twelfths of an octave, drop in dB): over such a gap, natural noise falls by less than half of it
GAPS_LOW_DB = ((6, 15.0), (12, 18.0))  # microphones fall by 12 dB per octave at most at their lower end (common practice)
LOW_RANGE_HZ = (60.0, 1000.0)
REACH_SHARE = 0.88  # a cut nearer than this to half the sample rate is the converter's own
EDGE_DB = 3.0  # the cut lies where the level is this far down (a filter's usual corner)
SOUND_DROP_DB = 12.0  # the sound must fall at the cliff as well
SOUND_GONE_DB = 30.0  # where the sound alone decides, it must fall by this within an octave: 18 dB in half an octave is a mere slope
SAME_DB = 6.0  # sound that stands less than this over the noise is no sound
NOISE_DROP_DB = 10.0  # drop of the noise within NOISE_REACH_RATIO that shows the cut of a codec or a filter
NOISE_REACH_RATIO = 2.0  # an octave: the noise of a room falls by 6 dB in one at most, but by 15 and more over the whole range
DENSE_FLATNESS = 0.25  # spectral flatness of noise is near 1, of single strings' partials below 0.05


def band_grid(rate_hz: int) -> np.ndarray:
    """Centres in Hz, twelve to the octave, from 30 Hz to nearly half the sample rate."""
    n_bands = int(N_PER_OCTAVE * np.log2(HIGHEST_SHARE * rate_hz / 2.0 / LOWEST_HZ)) + 1
    return LOWEST_HZ * 2.0 ** (np.arange(n_bands) / N_PER_OCTAVE)


def band_levels_db(freqs_hz: np.ndarray, density: np.ndarray, grid_hz: np.ndarray) -> np.ndarray:
    """Median density in dB of the bins within a twelfth of an octave of each centre (at least three bins), so lines hardly count."""
    level_db, step = decibels(density), 2.0 ** (1.0 / N_PER_OCTAVE)
    first = np.searchsorted(freqs_hz, grid_hz / step)
    last = np.maximum(np.searchsorted(freqs_hz, grid_hz * step), first + 3)
    return np.array([np.median(level_db[max(0, a - (b - a < 4)):b]) for a, b in zip(first, last, strict=True)])


def find_high_cut(grid_hz: np.ndarray, noise_db: np.ndarray | None, sound_db: np.ndarray, *, rate_hz: int, dense_at,
                  digital_db: float) -> float | None:
    """The frequency above which nothing is left, or None.

    noise_db, sound_db: levels on the grid; dense_at: tells from a frequency whether the sound below it is dense;
    digital_db: density of the number format's own rounding noise.
    """
    highest_hz = REACH_SHARE * rate_hz / 2.0
    going_up = range(N_PER_OCTAVE // 2, grid_hz.size - 3)
    cut_hz = cliff(grid_hz, noise_db, going_up, GAPS_HIGH_DB) if noise_db is not None else None
    if cut_hz and cut_hz < highest_hz and sound_ends(grid_hz, sound_db, noise_db, cut_hz):
        return cut_hz
    cut_hz = cliff(grid_hz, sound_db, going_up, GAPS_HIGH_DB)
    if cut_hz and cut_hz < highest_hz and dense_at(cut_hz) and noise_permits(grid_hz, noise_db, cut_hz, digital_db):
        return cut_hz if sound_is_gone(grid_hz, sound_db, noise_db, cut_hz) else None
    return None


def find_low_cut(grid_hz: np.ndarray, noise_db: np.ndarray | None, sound_db: np.ndarray) -> float | None:
    """The frequency below which the recorder left nothing, or None; the noise decides, and the sound must agree."""
    if noise_db is None:
        return None
    first = grid_hz.size - 1 - int(np.searchsorted(grid_hz, 2.0 * LOW_RANGE_HZ[1]))
    cut_hz = cliff(grid_hz[::-1], noise_db[::-1], range(first, grid_hz.size - 1 - N_PER_OCTAVE // 2), GAPS_LOW_DB)
    if cut_hz is None or not LOW_RANGE_HZ[0] <= cut_hz <= LOW_RANGE_HZ[1]:
        return None
    below, above = grid_hz <= cut_hz / 2.0, (grid_hz > cut_hz) & (grid_hz <= 2.0 * cut_hz)
    return cut_hz if is_gone(sound_db, noise_db, below, np.median(sound_db[above]) - SOUND_DROP_DB) else None


def cliff(grid_hz: np.ndarray, level_db: np.ndarray, places: range, gaps_db: tuple[tuple[int, float], ...]) -> float | None:
    """The corner of the first cliff among `places` that nothing rises behind; the arrays run from the passband outwards."""
    highest_after = np.maximum.accumulate(level_db[::-1])[::-1]
    for i in places:
        reference = np.median(level_db[i - N_PER_OCTAVE // 2:i + 1])
        if any(i + gap < level_db.size - 1 and reference - highest_after[i + gap] >= drop for gap, drop in gaps_db):
            return corner(grid_hz[i:], level_db[i:], reference - EDGE_DB)
    return None


def is_gone(sound_db: np.ndarray, noise_db: np.ndarray, there: np.ndarray, least_db: float) -> bool:
    """Whether all the sound `there`, a mask of the grid, lies under a level or hardly above the noise."""
    return bool(((sound_db[there] <= least_db) | (sound_db[there] - noise_db[there] <= SAME_DB)).all())


def half_octave_below(grid_hz: np.ndarray, cut_hz: float) -> np.ndarray:
    return (grid_hz < cut_hz) & (grid_hz >= cut_hz / HALF_OCTAVE_RATIO)


def corner(grid_hz: np.ndarray, level_db: np.ndarray, threshold_db: float) -> float | None:
    """Where the level last goes below the threshold for good, interpolated; arrays as of `cliff`."""
    over = np.flatnonzero(level_db > threshold_db)
    i = int(over[-1]) if over.size else 0
    if i + 1 >= level_db.size:
        return None
    share = np.clip((level_db[i] - threshold_db) / max(level_db[i] - level_db[i + 1], 1e-9), 0.0, 1.0)
    return float(grid_hz[i] * (grid_hz[i + 1] / grid_hz[i]) ** share)


def sound_ends(grid_hz: np.ndarray, sound_db: np.ndarray, noise_db: np.ndarray, cut_hz: float) -> bool:
    """Whether the sound ends too: well above the cliff or, where the grid ends before, as far above as it goes."""
    beyond = (grid_hz > cut_hz * HALF_OCTAVE_RATIO, grid_hz > cut_hz * SIXTH_OCTAVE_RATIO, grid_hz > grid_hz[-2])
    above = next(part for part in beyond if part.any())
    return is_gone(sound_db, noise_db, above, np.median(sound_db[half_octave_below(grid_hz, cut_hz)]) - SOUND_DROP_DB)


def sound_is_gone(grid_hz: np.ndarray, sound_db: np.ndarray, noise_db: np.ndarray, cut_hz: float) -> bool:
    """Whether the sound goes on falling as steeply above the cliff. The fundamentals of a few neighbouring strings fill half an octave, but
    their weaker partials begin an octave above."""
    least_db = np.median(sound_db[half_octave_below(grid_hz, cut_hz)]) - SOUND_GONE_DB
    return is_gone(sound_db, noise_db, grid_hz > cut_hz * NOISE_REACH_RATIO, least_db)


def noise_permits(grid_hz: np.ndarray, noise_db: np.ndarray | None, cut_hz: float, digital_db: float) -> bool:
    """Whether the noise does not prove that the recorder hears beyond the cliff."""
    if noise_db is None:
        return False
    below = np.median(noise_db[half_octave_below(grid_hz, cut_hz)])
    # nothing is above a cliff so near to the grid's end
    above = noise_db[(grid_hz > cut_hz * SIXTH_OCTAVE_RATIO) & (grid_hz <= cut_hz * NOISE_REACH_RATIO)]
    falls = above.size > 0 and below - np.median(above) >= NOISE_DROP_DB
    return bool(falls or below <= digital_db + SAME_DB)


def is_dense(freqs_hz: np.ndarray, density: np.ndarray, cut_hz: float) -> bool:
    """Whether the half octave below the cliff is filled, by its spectral flatness (geometric over arithmetic mean)."""
    part = np.maximum(density[(freqs_hz < cut_hz / TWELFTH_OCTAVE_RATIO) & (freqs_hz >= cut_hz / HALF_OCTAVE_RATIO)], 1e-20)
    return bool(part.size > 3 and np.exp(np.mean(np.log(part))) / np.mean(part) >= DENSE_FLATNESS)
