"""Complex exponentials at even steps of time, as decaying and turning tones need them by the million."""

import math

import numpy as np


def exponentials(powers: np.ndarray | complex, n: int, *, step_s: float, start_s: float = 0.0) -> np.ndarray:
    """exp(p·(start + k·step)) for k = 0 … n − 1 of each of `powers` p, 1/s; complex, shape (*powers.shape, n).

    A row is the product of one of long and one of short steps, about 2·√n exponentials instead of n, right to rounding. Nothing may grow
    over the whole row beyond what a number can hold.
    """
    power = np.asarray(powers, complex)[..., None]
    n_short = math.isqrt(max(n - 1, 0)) + 1
    long = np.exp(power * (start_s + step_s * n_short * np.arange(-(-n // n_short))))
    row = long[..., :, None] * np.exp(power * step_s * np.arange(n_short))[..., None, :]
    return row.reshape(*power.shape[:-1], row.shape[-2] * row.shape[-1])[..., :n]
