"""Which partials lie where a sum tone of two lower ones lies, and so may be that sum tone.

The third partial of a stiff string lies about 3·B·1200/ln 2 cents above the sum of its first two, 8 where B = 1.5e-3, as of a top string:
two separate lines, and near the third's node, a third of the way up, the sum tone is the stronger (sum tones: see `measure.series`). Where
a partial would lie hardly apart from its sum tones it is not marked.
"""

import numpy as np

from toneprobe.stiffness import stiff_ratio
from toneprobe.units import CENTS

SUM_CENTS = 2.0  # within which a line lies at the place of a sum tone; twice as far the string's own partial must lie from there (set)


def at_sum_tones(n: np.ndarray, freq_hz: np.ndarray, b: float) -> np.ndarray:
    """Mask. freq_hz: of the partials of number n, shape (k,); b: the string's approximate inharmonicity."""
    at = {int(number): float(hz) for number, hz in zip(n, freq_hz, strict=True)}
    return np.array([any(_is_there(hz, at[i] + at[number - i], _apart_cents(i, number - i, b))
                         for i in range(1, number // 2 + 1) if i in at and number - i in at) for number, hz in at.items()], bool)


def _is_there(hz: float, sum_hz: float, apart_cents: float) -> bool:
    return apart_cents > 2.0 * SUM_CENTS and abs(CENTS * np.log(hz / sum_hz)) < SUM_CENTS


def _apart_cents(i: int, j: int, b: float) -> float:
    """How far partial i + j lies above the sum tone of i and j."""
    own, first, second = (float(stiff_ratio(b, k)) for k in (i + j, i, j))
    return float(CENTS * np.log(own / (first + second)))
