"""Whether the chosen series is that of the sum tones, and which one is then the string's own.

A hard pluck sounds sum tones at f_i + f_j, i + j = n. Those of two nearly equal halves form a stiff-string series of their own, n·f0·(1 +
B/2·(i³ + j³)/n), with B/4 at i = j, which the lowest partials hardly tell from the true one. Where sum tones are stronger than the partials
from n = 8 up, the best series therefore has a quarter of the string's B, and a small error. The evidence is in the lines: the true B has
two families, partials above their sum tones, in zone after zone; B/4 has nothing at the places of four times its stiffness. Two things
imitate the upper family. Undamped strings an octave, a twelfth, … higher, each stiffer, answer just above the partials of even numbers and
of multiples of 3 or 5, so zones that none of them reaches must also show both families. A wire an octave lower with the same B has its even
partials where this string's would lie at four times its B, so only lines louder than such an answer ever was count.

Not seen: partials weaker than that, and families closer together than the lines are wide (a wire of B = 1e-5).
"""

import numpy as np

from toneprobe.measure.series import TOLERANCE_HZ, ZONE, Lines, Series
from toneprobe.units import CENTS, shift_hz

FIRST = 8  # number below which the partials are hardly apart from their sum tones, and stronger (from there up: see `series`)
LEAST_ZONES = 5  # in which the families would be apart
UNANSWERED = (11, 13, 17, 19)  # numbers at which no higher string of a harp has a partial of low number
LEAST_UNANSWERED = 2
BOTH = 0.5  # share of those zones, and of those that no answer reaches, in which both must be there (96 real and 120 made plucks, rightly
# chosen: 0.16 at the most; of two real ones that are not 0.52 and 0.24)
B_RATIO = np.exp(np.arange(0.9, 1.75, 0.04))  # B over that of the sum tones: 4 for two halves, 2.5 for a quarter and three (derived)
SHIFT_CENTS = np.arange(-4.0, 4.1, 1.0)
PLACE_CENTS = 2.5  # how far a line may lie from the place of a partial or sum tone
APART = 2.0  # times that between the two
OWN_DB = 17.0  # a partial is weaker than its zone's strongest line by this at most (a wire an octave lower, never damped: 18 to 26, model)
SUM_DB = 10.0  # a sum tone that passed for one by this at most
LEAST_PART = 0.2  # of n, the smaller number of a sum: sums of less lie near the partial itself


def own_series(lines: Lines, chosen: Series) -> Series | None:
    """The string's own series if `chosen` is that of its sum tones; None if it is not, or cannot be told."""
    b, f1_hz = (x.ravel() for x in np.meshgrid(chosen.b * B_RATIO, shift_hz(chosen.f1_hz, SHIFT_CENTS)))
    numbers = np.unique(lines.zone[lines.zone >= FIRST])
    if not len(numbers):
        return None
    both = np.array([_both(lines, int(n), Series(f1_hz, b), chosen) for n in numbers])
    share = np.minimum(_share(both, LEAST_ZONES), _share(both[np.isin(numbers, UNANSWERED)], LEAST_UNANSWERED))
    best = int(share.argmax())
    return Series(float(f1_hz[best]), float(b[best])) if share[best] > BOTH else None


def own_lines(lines: Lines, own: Series) -> np.ndarray:
    """Indices, ascending, of the lines that are no sum tones of the string's series `own` from number FIRST up."""
    keep = [i for i, n in enumerate(lines.zone) if n < FIRST or not _is_sum_tone(float(lines.freq_hz[i]), int(n), own)]
    return np.array(keep, int)


def _share(both: np.ndarray, least: int) -> np.ndarray:
    """Mean over zones, shape (zones, k) → (k,), counting those in which the families would be apart; 0 where these are too few."""
    apart = np.isfinite(both).sum(axis=0)
    return np.where(apart >= least, np.nansum(both, axis=0) / np.maximum(apart, 1), 0.0)


def _is_sum_tone(hz: float, n: int, own: Series) -> bool:
    off_hz = float(np.abs(_sums_hz(own, n) - hz).min())
    return bool(off_hz < min(_tolerance_hz(hz), abs(hz - own.partial_hz(n))))


def _both(lines: Lines, n: int, own: Series, chosen: Series) -> np.ndarray:
    """How surely zone n holds a partial of `own` and, where `chosen` leads, a sum tone: 0 to 1; NaN where the two would not be apart. `own`
    stands for k series, its fields of shape (k,), as the result's."""
    here = lines.zone == n
    hz, below_db = lines.freq_hz[here, None], 10.0 * np.log10(lines.energy[here].max() / lines.energy[here, None])
    own_hz, chosen_hz = own.partial_hz(n), chosen.partial_hz(n)
    tolerance_hz = _tolerance_hz(own_hz)
    partial = _near(hz - own_hz, tolerance_hz) * (below_db < OWN_DB)
    sums = _near(hz - _sums_hz(own, n)[:, None, :], tolerance_hz).max(axis=0) * (below_db < SUM_DB)
    led_to = _near(hz - chosen_hz, 2.0 * tolerance_hz)
    apart_hz = own_hz - chosen_hz
    in_zone = (apart_hz > APART * tolerance_hz) & (apart_hz < ZONE * chosen.f1_hz)
    return np.where(in_zone, partial.max(axis=0) * (sums * led_to).max(axis=0), np.nan)


def _sums_hz(own: Series, n: int) -> np.ndarray:
    """Places of the sum tones of number n, shape (m,) or, of k series, (m, k)."""
    first = np.arange(int(np.ceil(LEAST_PART * n)), n // 2 + 1)
    first = first.reshape((-1,) + (1,) * np.ndim(own.b))
    return own.partial_hz(first) + own.partial_hz(n - first)


def _near(off_hz: np.ndarray, tolerance_hz: np.ndarray) -> np.ndarray:
    return np.exp(-0.5 * (off_hz / tolerance_hz) ** 2)


def _tolerance_hz(hz: float | np.ndarray) -> float | np.ndarray:
    return np.hypot(TOLERANCE_HZ, hz * PLACE_CENTS / CENTS)
