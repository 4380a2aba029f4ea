"""Clipping: samples on one flat top.

A converter out of range puts many samples on exactly the same highest value, and the sound jumps off it at both ends; a smooth wave leaves
its maximum by no more than a few steps of the number format. So a run of equal samples at the maximum is evidence where the samples beside
it lie well below. The maximum need not be full scale: the recording may have been turned down later. A lossy codec ripples the flat top by
about a tenth to both sides; there, samples above 0.9 of full scale count if many lie beyond full scale, where no converter puts any, or if
they pile up. Not seen: clipping that was filtered, resampled or lossily coded, and turned down.
"""

import numpy as np

N_RUN = 3  # equal samples at the top that make a flat one
N_STEPS_OFF = 8.0  # a gently rounded top of three equal samples falls at most 3 steps to its neighbours (derived: a parabola)
SHARE_OFF = 5e-4  # and, for float samples, this share of the top
LOSSY_RAIL, LOSSY_BELOW = 0.9, 0.8
LOSSY_PILE = 1.5  # times as many samples above 0.9 as between 0.8 and 0.9; for a decay from full scale: below 0.9 (derived)
LOSSY_OVER_SHARE = 0.15  # of the samples above the rail: beyond full scale
LOSSY_N_OVER = 30  # and this many of them: one loud attack alone may be rippled over full scale


class TopTally:
    """Counts samples at the highest value of one side of one channel, block by block."""

    def __init__(self, *, lsb: float, lossy: bool):
        self.lsb, self.lossy = lsb, lossy
        self.level, self.n_at, self.n_flat, self.n_over, self.n_below = (LOSSY_RAIL if lossy else 0.0), 0, 0, 0, 0

    def add(self, samples: np.ndarray, sign: int) -> None:
        """Add a block, shape (n,); sign −1 looks at the lower side."""
        top = float(samples.max() if sign > 0 else -samples.min())
        if self.lossy and top > LOSSY_BELOW:
            self.n_below += int(np.count_nonzero((sign * samples > LOSSY_BELOW) & (sign * samples < LOSSY_RAIL)))
            self.n_over += int(np.count_nonzero(sign * samples > 1.0))
        tolerance = 0.0 if self.lossy else max(0.5 * self.lsb, 1e-6 * top)
        if not self.lossy and top > self.level + tolerance:
            self.level, self.n_at, self.n_flat = top, 0, 0
        if top < self.level - tolerance:
            return
        upper = samples if sign > 0 else -samples
        at = np.flatnonzero(upper >= self.level - tolerance)
        self.n_at += at.size
        self.n_flat += self.count_flat(upper, at)

    def count_flat(self, upper: np.ndarray, at: np.ndarray) -> int:
        """Runs of `at` that are long enough and end in a jump."""
        breaks = np.flatnonzero(np.diff(at) > 1)
        first, last = at[np.r_[0, breaks + 1]], at[np.r_[breaks, at.size - 1]]
        whole = (last - first + 1 >= N_RUN) & (first > 0) & (last < upper.size - 1)
        first, last = first[whole], last[whole]
        if self.lossy:
            return first.size
        off = self.level - 0.5 * (upper[first - 1] + upper[last + 1])
        return int(np.count_nonzero(off > max(N_STEPS_OFF * self.lsb, SHARE_OFF * self.level)))

    @property
    def n_clipped(self) -> int:
        """Samples on the flat top; 0 where there is none. Below full scale, one run alone may be chance."""
        if self.lossy:
            over = self.n_over >= max(LOSSY_N_OVER, LOSSY_OVER_SHARE * self.n_at)
            return self.n_at if over or self.n_at >= max(LOSSY_N_OVER, LOSSY_PILE * self.n_below) else 0
        needed = 1 if self.level >= 1.0 - 2.0 * self.lsb else 2
        return self.n_at if self.n_flat >= needed else 0
