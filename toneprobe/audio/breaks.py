"""Where all sound breaks off at once and does not return: a plug pulled, a cable, a switch, a cut.

Sound that stood for 20 ms falls by 20 dB within 5 ms, in every octave that held any, and stays down for 200 ms. No hand does so: its flesh
takes ten periods and more, tens of milliseconds, and the body rings on; the end of a word or a knock leaves the strings. A pluck is
measured up to the break, because the noise behind is another, mostly lower, by which the noise under the ring would pass for upper partials
that hardly fall. Where it is as loud as the quietest before, the same recorder goes on listening and tells the noise best: no break (a
sweep joined from recordings of single plucks has such ends). Shorter ones are for `gaps` and `hushes`. Not seen: a fall of less than 20 dB,
or a slower one.
"""

from collections.abc import Callable, Sequence

import numpy as np

from toneprobe.audio.hushes import BESIDE, EDGE, LONGEST, falls, piece_samples, standing

SIDE_S = 0.04  # before and behind a break, compared octave by octave
LOWEST_HZ = 50.0  # of these octaves: several periods fit into SIDE_S
HOLDS_ANY = 1e-3  # of the loudest octave's power: 30 dB below it and more there may be anything
SAME_NOISE = 10.0**0.6  # as the quietest 20 ms before, within 6 dB: those lie 1 to 2 dB under the mean of one and the same noise (derived)
OCTAVE_FALL = 10.0**-1.2  # 12 dB: what goes on ringing there falls by none


def breaks(power: np.ndarray) -> list[int]:
    """Pieces of PIECE_S in which all falls and stays down. power: mean square of each, shape (n,)."""
    if power.size < BESIDE + EDGE + LONGEST:
        return []
    mean, *_ = stood = standing(power)
    found = falls(power, stood, lasting=LONGEST)
    found = found[np.diff(found, prepend=-EDGE - 1) > EDGE]
    return [at for at in found.tolist() if not _is_same_noise(power[at + EDGE: at + EDGE + LONGEST].mean(), mean[: at - BESIDE + 1].min())]


def _is_same_noise(behind: float, quietest: float) -> bool:
    return quietest <= SAME_NOISE * behind and behind <= SAME_NOISE * quietest


def is_of_all(before: np.ndarray, behind: np.ndarray, *, rate_hz: float) -> bool:
    """Whether every octave that held something fell. `before`, `behind`: samples of SIDE_S on both sides of a break."""
    from scipy.fft import rfft  # slow to load

    n = before.size
    top = int(np.log2(max(0.5 * rate_hz / LOWEST_HZ, 2.0)))
    edges = np.searchsorted(np.arange(n // 2 + 1) * rate_hz / n, LOWEST_HZ * 2.0 ** np.arange(top + 1))
    was, now = (np.add.reduceat(np.abs(rfft((side - side.mean()) * np.hanning(n))) ** 2, edges) for side in (before, behind))
    held = was > HOLDS_ANY * was.max()
    return bool((now[held] <= OCTAVE_FALL * was[held]).all())


def true_breaks(read: Callable[[int, int], np.ndarray], pieces: Sequence[int], *, rate_hz: float) -> list[int]:
    """First samples of those `breaks` that are of all octaves. read: gives the samples between two indices."""
    n_piece, n = piece_samples(rate_hz), int(SIDE_S * rate_hz)
    starts = [piece * n_piece for piece in pieces if piece * n_piece >= n]
    return [at for at in starts if is_of_all(read(at - n, at), read(at + EDGE * n_piece, at + EDGE * n_piece + n), rate_hz=rate_hz)]


def comes_back(samples: np.ndarray, at: int, *, rate_hz: float) -> bool:
    """Whether something as loud sounds again behind a break at that index: then a word before the pluck ended there."""
    n = int(SIDE_S * rate_hz)
    behind = samples[at + EDGE * piece_samples(rate_hz):]
    behind = behind[:behind.size // n * n].reshape(-1, n)
    return bool(behind.size and (behind**2).mean(axis=1).max() > OCTAVE_FALL * np.mean(samples[max(0, at - n):at] ** 2))
