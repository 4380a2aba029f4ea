"""Drop-outs: a recorder, cable or program that lost samples puts exact zeros in their place, in the midst of sound.

Microphones and converters always have some noise, so a run of exact zeros between two stretches that sound alike is no silence. Runs that
follow on what had faded are a gate's or an editor's (see `gain`), and those before something much louder too. What a lossy codec made of a
drop-out is not zero any more and is not seen.
"""

from __future__ import annotations

import numpy as np

LEAST_S, LONGEST_S = 0.003, 0.2  # sound through zero rests there for a sample or two; a longer silence is a gate's (set)
BESIDE_S = 0.005  # before and behind, …
SOUND_STEPS, SOUND = 8.0, 5e-4  # … where the rms must be so many steps of the number format, and of full scale: two of the finest steps of
# µ-law, in which quiet noise is zero for a while too (derived: its finest step is 2 of 8192), …
ALIKE = 4.0  # … and neither more than so many times the other's: a string falls by a few dB in that time, a pluck rises by more (set)


def find_gaps(samples: np.ndarray, *, rate_hz: float, lsb: float) -> list[tuple[int, int]]:
    """(first sample, sample after the last) of each drop-out in samples of shape (n,), full scale ±1, as they were recorded."""
    zero = np.concatenate([[False], samples == 0.0, [False]])
    edges = np.flatnonzero(zero[1:] != zero[:-1]).reshape(-1, 2)
    length, n = np.diff(edges, axis=1)[:, 0], round(BESIDE_S * rate_hz)
    found = []
    for first, stop in edges[(length >= LEAST_S * rate_hz) & (length <= LONGEST_S * rate_hz)]:
        if first < n or stop + n > samples.size:
            continue
        before, after = (float(np.sqrt(np.mean(samples[a:b].astype(np.float64) ** 2))) for a, b in ((first - n, first), (stop, stop + n)))
        if min(before, after) >= max(SOUND_STEPS * lsb, SOUND, max(before, after) / ALIKE):
            found.append((int(first), int(stop)))
    return found


class GapTally:
    """Counts the drop-outs of one channel, block by block."""

    def __init__(self, *, rate_hz: float, lsb: float):
        self.rate_hz, self.lsb, self.n, self.before = rate_hz, lsb, 0, np.empty(0, np.float32)

    def add(self, samples: np.ndarray) -> None:
        """Add a block, shape (n,). What ends in a block but is not heard to its end there is counted with the next."""
        joined, beside = np.concatenate([self.before, samples]), round(BESIDE_S * self.rate_hz)
        gaps = find_gaps(joined, rate_hz=self.rate_hz, lsb=self.lsb)
        self.n += sum(stop + beside > self.before.size for _, stop in gaps)
        self.before = joined[-(round(LONGEST_S * self.rate_hz) + 2 * beside):].copy()
