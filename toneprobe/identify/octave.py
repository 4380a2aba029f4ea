"""Whether a pluck sounds an octave above the string that it was named for (a string that the instrument lacks, or a harmonic) or an octave
below (one that slipped, or again one that it lacks).

A string an octave higher has this string's even partials and passes for it: all that is new is explained, and half of what should be there
is. But the fundamental and all other odd partials are missing while the even ones are full. A recorder that cuts the lows leaves 3 and 5; a
pluck in the middle of the string lacks even partials.
Beside a pluck of the lower string the two differ: a harmonic has that string's even partials to a fraction of a cent, a string an octave
above lies some cents off, being tuned by hand and stiff in its own way. One pair may agree by chance.
"""

import numpy as np

from toneprobe.identify.likeness import NewLines, line_tolerance_hz, named_series_hz
from toneprobe.stiffness import stiff_ratio
from toneprobe.units import CENTS

N_PARTIALS = 12  # the lowest, at which lines are looked for
NEAR = 2.0  # tolerances within which a line is a partial
MOST_ODD = 0.15  # salience of the odd partials over that of the even ones: 0 an octave too high, from 0.65 on of 240 plucks rightly named
LEAST_ODD = 0.65  # the same in the series an octave lower, where a string with that series sounds
N_SHARED = 10  # partials of the upper of two sounds, each beside the lower one's that it shares
LEAST_EVEN, LEAST_SEEN = 3, 3  # even partials heard, and odd ones that what rang before does not hide


def is_octave_above(lines: NewLines, pitch_hz: float, expected_b: float) -> bool:
    """Whether an event brought only the even partials of a string of roughly that pitch and stiffness. Few lines are not enough."""
    n = np.arange(1, N_PARTIALS + 1)
    hz, salience_db = _partials(lines, pitch_hz, expected_b, n)
    is_even = n % 2 == 0
    heard = n[is_even & (salience_db > 0.0)]
    if len(heard) < LEAST_EVEN:
        return False
    bins = (hz / lines.grid_hz).round().astype(int)
    in_view = (bins < len(lines.hidden)) & ~lines.hidden[np.minimum(bins, len(lines.hidden) - 1)]
    n_seen = int((in_view & ~is_even & (n < heard[-1])).sum())
    return n_seen >= LEAST_SEEN and salience_db[~is_even].sum() < MOST_ODD * salience_db[is_even].sum()


def is_octave_below(lines: NewLines, pitch_hz: float, expected_b: float) -> bool:
    """Whether an event brought the partials of a string an octave lower: also the odd ones, which a string of that pitch lacks. These may
    all be hidden, and then it cannot be told."""
    n = np.arange(1, N_PARTIALS + 1)
    _, salience_db = _partials(lines, 0.5 * pitch_hz, 0.25 * expected_b, n)
    odd_db, even_db = salience_db[n % 2 == 1], salience_db[n % 2 == 0]
    return (odd_db > 0.0).sum() >= LEAST_SEEN and odd_db.sum() > LEAST_ODD * even_db.sum()


def apart_cents(lower: NewLines, upper: NewLines, pitch_hz: float, expected_b: float, *, times: int = 2) -> float | None:
    """How far the upper of two sounds, so many times as high, lies above the partials of the lower that it shares; None where they share no
    lines. `pitch_hz`, roughly, and `expected_b` are the lower string's."""
    n = np.arange(1, N_SHARED + 1)
    lower_hz, lower_db = _lines_at(lower, pitch_hz, expected_b, times * n)
    upper_hz, upper_db = _lines_at(upper, pitch_hz * stiff_ratio(expected_b, times), times**2 * expected_b, n)  # as if by such a string
    weight = np.minimum(lower_db, upper_db)
    shared = weight > 0.0
    if not shared.any():
        return None
    apart = CENTS * np.log(upper_hz[shared] / lower_hz[shared])
    return float(np.quantile(apart, 0.5, weights=weight[shared], method="inverted_cdf"))  # weighted median


def _lines_at(lines: NewLines, pitch_hz: float, expected_b: float, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Frequency and salience of the line at each partial; salience 0 where there is none."""
    hz, salience_db = _partials(lines, pitch_hz, expected_b, n)
    if len(lines.freq_hz) == 0:
        return hz, np.zeros(len(n))
    return lines.freq_hz[np.abs(lines.freq_hz[:, None] - hz).argmin(axis=0)], salience_db


def _partials(lines: NewLines, pitch_hz: float, expected_b: float, n: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies of the partials for the best offset and inharmonicity, and the salience of the line at each, 0 for none."""
    ways_hz = named_series_hz(pitch_hz, expected_b, n)
    off = np.abs(lines.freq_hz[:, None] - ways_hz[:, None, :]) / line_tolerance_hz(ways_hz, lines.width_hz)[:, None, :]
    best = int((lines.salience_db @ np.exp(-0.5 * off**2)).sum(axis=1).argmax())
    return ways_hz[best], np.where(off[best] < NEAR, lines.salience_db[:, None], 0.0).max(axis=0, initial=0.0)
