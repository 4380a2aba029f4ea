"""Does a tone hold its pitch, as a plucked string does, or wander as a voice does?

A string's partials stand still but for a small glide; what rings near one may pull it, but not all alike. A voice slides with all its
partials. Estimator: the frequency of each partial, frame by frame, from the turn of its phase; the middle one of all tracks is their common
movement (of two middle ones that which moved less: two of four that beat slide alone); its span over a third of a second, while it sounds,
is the wander, less what noise between the partials makes of it. Plucks of real harps show 1 to 8 cents, once in a hundred 12, also undamped
and in noise; vowels that slide as in speech 10 to 50. A voice that holds its pitch (a drone) cannot be told from a string.
"""

from collections.abc import Callable

import numpy as np

from toneprobe.audio.band import HEARD_SHARE
from toneprobe.exponentials import exponentials
from toneprobe.medians import MEDIAN_OF_EXPONENTIAL, SE_OVER_MEANS
from toneprobe.units import CENTS

SKIP_S = 0.03  # the onset itself
LONGEST_S = 0.35  # of sound that is followed, unless the frames of a low tone need more
FRAME_S = 0.045  # least length of a frame
FRAME_PERIODS = 5.0  # the next partial must not be heard in the frame's spectrum
LOWEST_HZ = 75.0  # no voice is lower, and low strings need long frames
LEAST_FRAMES = 5  # fewer tell of no wander
N_PARTIALS = 10  # the lowest, which are followed
RANGE_DB = 25.0  # partials weaker than the strongest by more say nothing
LEAST_PARTIALS = 3  # strong ones, from which on they can have a common movement
STOPPED_DB = 20.0  # fallen by so much, a hand stopped it: what noise and other strings do then is no wandering of its own (set)
SPAN_SIGMAS = 2.56  # from the 10th to the 90th percentile of normal values
OVERLAP_CORRELATION = 0.47  # of noise in Hann windows a third of their width apart (derived)
CAUTION = 1.5  # the noise between the partials is not quite that at them


def wander_cents(read: Callable[[int, int], np.ndarray], *, rate_hz: float, onset_s: float, end_s: float,
                 partials_hz: np.ndarray) -> float | None:
    """How far all partials move together soon after the onset, cents; None where too few are heard or too short.

    read: gives the samples between two indices; partials_hz: where the partials should lie, shape (n,).
    """
    if partials_hz[0] < LOWEST_HZ:
        return None
    hop_s = max(FRAME_S, FRAME_PERIODS / float(partials_hz[0])) / 3.0
    start_s = onset_s + SKIP_S
    samples = read(int(start_s * rate_hz), int(min(end_s, start_s + max(LONGEST_S, 8.0 * hop_s)) * rate_hz))
    hop, width = int(hop_s * rate_hz), int(3.0 * hop_s * rate_hz)
    n_frames = (len(samples) - width) // hop + 1
    if n_frames < LEAST_FRAMES:
        return None
    frames = np.arange(width) + hop * np.arange(n_frames)[:, None]
    sounding = _sounding(samples[frames])
    if sounding.sum() < LEAST_FRAMES - 1:
        return None
    tracks, power, variance = _tracks(samples, frames, rate_hz=rate_hz, partials_hz=partials_hz[:N_PARTIALS])
    tracks, strong = tracks[:, sounding], power > power.max(initial=0.0) * 10 ** (-RANGE_DB / 10)
    if strong.sum() < LEAST_PARTIALS:
        return None
    moved = tracks[strong] - np.median(tracks[strong], axis=1, keepdims=True)
    low, high = np.percentile(_in_common(moved), [10, 90])
    by_noise = SPAN_SIGMAS * SE_OVER_MEANS * float(np.sqrt(np.median(variance[strong]) / strong.sum()))
    return float(np.sqrt(max((high - low) ** 2 - (CAUTION * by_noise) ** 2, 0.0)))


def _sounding(frames: np.ndarray) -> np.ndarray:
    """Between which frames and the next the tone sounds: both within STOPPED_DB of the loudest. frames: samples, shape (frames, width)."""
    power = frames.var(axis=1)
    loud = power > power.max() * 10 ** (-STOPPED_DB / 10)
    return loud[1:] & loud[:-1]


def _in_common(moved: np.ndarray) -> np.ndarray:
    """The middle of the partials' tracks, shape (partials, frames) → (frames,)."""
    ranked = np.sort(moved, axis=0)
    lower, upper = ranked[(len(ranked) - 1) // 2], ranked[len(ranked) // 2]
    return np.where(np.abs(lower) < np.abs(upper), lower, upper)


def _tracks(samples: np.ndarray, frames: np.ndarray, *, rate_hz: float,
            partials_hz: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Per partial: cents off its place from frame to frame, its mean power, and the variance of those cents that noise makes."""
    hop_s = (frames[1, 0] - frames[0, 0]) / rate_hz
    heard_hz = partials_hz[partials_hz < HEARD_SHARE * rate_hz]
    z = _demodulated(samples, frames, rate_hz, heard_hz)
    power = np.mean(np.abs(z) ** 2, axis=1)
    noise = np.median(np.abs(_demodulated(samples, frames, rate_hz, heard_hz - 0.5 * partials_hz[0])) ** 2, axis=1) / MEDIAN_OF_EXPONENTIAL
    turned = z[:, 1:] * np.conj(z[:, :-1]) * np.exp(-2j * np.pi * hop_s * heard_hz)[:, None]  # each frame starts a hop later
    to_cents = CENTS / (2 * np.pi * hop_s * heard_hz)
    return to_cents[:, None] * np.angle(turned), power, to_cents**2 * (1.0 - OVERLAP_CORRELATION) * noise / power


def _demodulated(samples: np.ndarray, frames: np.ndarray, rate_hz: float, freq_hz: np.ndarray) -> np.ndarray:
    """Complex amplitude of each frequency in each frame, by the frame's own clock, shape (frequencies, frames)."""
    width = frames.shape[1]
    waves = exponentials(-2j * np.pi * freq_hz, width, step_s=1.0 / rate_hz)
    return waves @ (samples[frames] * np.hanning(width)).T
