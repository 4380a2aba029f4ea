"""Drop-outs: a recorder, cable or program that lost samples puts exact zeros in their place, in the midst of sound.

Microphones and converters always have some noise, so exact zeros between two stretches that sound alike are no silence. Zeros after a fade
are a gate's or an editor's (`gain`), as are those before something much louder. In a long gap the strings have fallen meanwhile, so sound
returns no louder than it was cut off, while a gate opens at a louder level than it shut at. Hence a long gap into which the next pluck fell
is not told from a gate. Drop-outs under a later stage's hiss are found by `hushes`; what a lossy codec made of one is not seen.
"""

from collections.abc import Sequence

import numpy as np

LEAST_S, SHORT_S = 0.003, 0.2  # sound through zero rests there for a sample or two; in a longer run a string falls by more than a few dB
LONGEST_S = 60.0  # what is silent for longer was stopped and begun again (set)
BESIDE_S = 0.005  # before and behind a drop-out, where the sound is looked at
SOUND_STEPS, SOUND = 8.0, 5e-4  # least rms there, in steps of the number format and as a share of full scale: two of the finest steps of
# µ-law, in which quiet noise is zero for a while too (derived: its finest step is 2 of 8192)
ALIKE = 4.0  # most that the rms of one side may exceed the other's: a string falls by a few dB in that time, a pluck rises by more (set)
BEHIND_S = 0.1  # behind a long run, in which nothing may be louder than what was cut off: some gates open a little before a pluck (set)


def find_gaps(samples: np.ndarray, *, rate_hz: float, lsb: float) -> list[tuple[int, int]]:
    """(first sample, sample after the last) of each drop-out in samples of shape (n,), full scale ±1, as they were recorded."""
    zero = np.concatenate([[False], samples == 0.0, [False]])
    edges = np.flatnonzero(zero[1:] != zero[:-1]).reshape(-1, 2)
    length, n = np.diff(edges, axis=1)[:, 0], round(BESIDE_S * rate_hz)
    least, found = max(SOUND_STEPS * lsb, SOUND), []
    for first, stop in edges[(length >= LEAST_S * rate_hz) & (length <= LONGEST_S * rate_hz)]:
        n_pieces = 1 if stop - first <= SHORT_S * rate_hz else round(BEHIND_S / BESIDE_S)
        if first < n or stop + n_pieces * n > samples.size:
            continue
        before, *behind = (_rms(samples[at:at + n]) for at in (first - n, *range(stop, stop + n_pieces * n, n)))
        alike = least <= min(before, behind[0]) and max(before, behind[0]) <= ALIKE * min(before, behind[0])
        if alike if n_pieces == 1 else least <= before >= max(behind):
            found.append((int(first), int(stop)))
    return found


def _rms(samples: np.ndarray) -> float:
    return float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))


def lost_frames(gaps: Sequence[tuple[int, int]], *, n_frame: int, n_frames: int) -> np.ndarray:
    """Which of n_frames frames a drop-out touches."""
    lost = np.zeros(n_frames, bool)
    for first, stop in gaps:
        lost[first // n_frame: (stop - 1) // n_frame + 1] = True
    return lost


class GapTally:
    """Finds the drop-outs of one channel block by block, `found` as of `find_gaps`."""

    def __init__(self, *, rate_hz: float, lsb: float):
        self.rate_hz, self.lsb, self.before, self.begins = rate_hz, lsb, np.empty(0, np.float32), 0
        self.found: list[tuple[int, int]] = []

    def add(self, samples: np.ndarray) -> None:
        """Add a block, shape (n,). What ends in a block but is not heard to its end there is found with the next."""
        joined, beside = np.concatenate([self.before, samples]), round(BESIDE_S * self.rate_hz)
        gaps = [(self.begins + first, self.begins + stop) for first, stop in find_gaps(joined, rate_hz=self.rate_hz, lsb=self.lsb)]
        self.found += [gap for gap in gaps if gap not in self.found[-len(gaps):]]
        kept = min(joined.size, round(SHORT_S * self.rate_hz) + self._silent(joined) + 2 * beside)
        self.begins += joined.size - kept
        self.before = joined[joined.size - kept:].copy()

    def _silent(self, samples: np.ndarray) -> int:
        """Samples from the start of the long run at, or near, the end of the block: none of that may be forgotten."""
        tail = samples[-round(LONGEST_S * self.rate_hz):]
        beside = round(BEHIND_S * self.rate_hz)
        heard = np.flatnonzero(tail[:max(0, tail.size - beside)])
        return tail.size - (int(heard[-1]) + 1 if heard.size else 0)
