"""Drop-outs that are not exact zeros: lost by a wireless microphone or a phone, and filled with the hiss of a later stage.

Sound falls within a few milliseconds by 20 dB and returns as suddenly, as loud. No sound does so: a hand stops a string more slowly, two
beating strings fall and rise slowly, a knock or click is short itself, and what returns after a gate is louder than what it shut at. A
single one may still be a word or a chair, so several are required. Not seen: drop-outs in sound less than 20 dB above the hiss, or with
slow fades.
"""

import numpy as np

from toneprobe.audio.gaps import ALIKE, SOUND

PIECE_S = 0.0025
FALL = 10.0**-2.0  # 20 dB
EDGE = 2  # pieces in which it falls and rises
BESIDE = 8  # pieces before and behind, that go on sounding:
HOLDS = 0.03  # none of these pieces falls below this share (-15 dB) of their mean
STANDS = 0.5  # least power of the half at the edge over that of the other half (-3 dB): less, and it is fading already
ALIKE_POWER = ALIKE**2  # 12 dB, as far as both sides of a drop-out of zeros may differ
LEAST, LONGEST = 4, 80  # pieces: 10 to 200 ms
LEAST_HUSHES = 3  # in a recording
LEAST_POWER = SOUND**2  # of what is lost, as of a drop-out of zeros

Standing = tuple[np.ndarray, np.ndarray, np.ndarray]  # as `standing` gives it


class HushTally:
    """Finds them in one channel, block by block."""

    def __init__(self, *, rate_hz: float):
        self.n_piece, self.rest, self.powers = piece_samples(rate_hz), np.empty(0, np.float32), [np.empty(0, np.float32)]

    def add(self, samples: np.ndarray) -> None:
        """Add a block, shape (n,)."""
        joined = np.concatenate([self.rest, samples])
        n = joined.size // self.n_piece * self.n_piece
        self.powers.append(np.square(joined[:n].reshape(-1, self.n_piece)).mean(axis=1))
        self.rest = joined[n:].copy()

    def power(self) -> np.ndarray:
        """Mean square of each piece, shape (n,)."""
        return np.concatenate(self.powers)

    def found(self) -> list[tuple[int, int]]:
        """(first sample, sample after the last) of each, to a few milliseconds; none if fewer than LEAST_HUSHES."""
        found = [(first * self.n_piece, stop * self.n_piece) for first, stop in hushes(self.power())]
        return found if len(found) >= LEAST_HUSHES else []


def hushes(power: np.ndarray) -> list[tuple[int, int]]:
    """The same in pieces. power: mean square of each, shape (n,)."""
    if power.size < 2 * BESIDE + LEAST:
        return []
    mean, least, half = stood = standing(power)
    found: list[tuple[int, int]] = []
    for start in falls(power, stood, lasting=LEAST).tolist():
        if found and start < found[-1][1]:
            continue
        level = float(mean[start - BESIDE])
        behind = np.flatnonzero(power[start + EDGE: start + LONGEST + 1] > FALL * level)
        stop = start + EDGE + int(behind[0]) + EDGE if behind.size else power.size
        if stop + BESIDE > power.size:
            continue
        again, quiet = float(mean[stop]), float(power[start + EDGE: stop - EDGE].max())
        stands_again = least[stop] >= HOLDS * again and half[stop] >= STANDS * half[stop + BESIDE // 2]
        if level <= ALIKE_POWER * again <= ALIKE_POWER**2 * level and stands_again and quiet <= FALL * again:
            found.append((start, stop))
    return found


def standing(power: np.ndarray) -> Standing:
    """Of BESIDE pieces from each on: the mean, the least of two in a row, and the mean of the first half."""
    windows = np.lib.stride_tricks.sliding_window_view
    least = 0.5 * windows(power[:-1] + power[1:], BESIDE - 1).min(axis=1)
    return windows(power, BESIDE).mean(axis=1), least, windows(power, BESIDE // 2).mean(axis=1)


def falls(power: np.ndarray, stood: Standing, *, lasting: int) -> np.ndarray:
    """First pieces of a fall after a steady stretch that lasts for so many pieces behind its edge."""
    mean, least, half = stood
    most = np.lib.stride_tricks.sliding_window_view(power, lasting).max(axis=1)
    first = np.arange(BESIDE, power.size - EDGE - lasting + 1)
    before, held = mean[first - BESIDE], least[first - BESIDE]
    stands = half[first - BESIDE // 2] >= STANDS * half[first - BESIDE]
    return first[(before >= LEAST_POWER) & (held >= HOLDS * before) & stands & (most[first + EDGE] <= FALL * before)]


def piece_samples(rate_hz: float) -> int:
    return max(1, round(PIECE_S * rate_hz))
