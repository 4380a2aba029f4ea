"""Onsets of plucks, and how long each rings.

On a harp the earlier strings ring on under the later plucks, so an onset is not where it gets loud but where something *new* appears: the
rise of the spectrum over a moment before, bin by bin, in logarithmic measure above the bin's own noise. Neighbouring bins are compared too,
so that slow beats of ringing strings do not count. The exact moment is then found in the waveform: a linear predictor learnt just before
the onset predicts what already rings; what it cannot predict, the residual, is new.

This room is generous: it also reports taps, speech and knocks, and `identify` says which spans are plucks. A pluck less than SHORTEST_GAP_S
after another is not seen.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.fft import rfft
from scipy.linalg import solve_toeplitz
from scipy.ndimage import maximum_filter1d, median_filter

from toneprobe.audio import Recording
from toneprobe.audio.quality import EIGHT_BIT_STEP

WINDOW_S, HOP_S = 0.046, 0.01  # length of a frame, and from one frame to the next
HIGHEST_HZ = 9000.0  # bins above are not looked at
BLOCK_S = 30.0  # longest block of frames whose noise is learnt together; all are equally long, for in a short last one a string may ring
# all through and pass for its noise
N_AT_ONCE = 64  # frames that are transformed together
LOOK_BACK = 4  # frames from the one that is compared with to the one compared: the window's own length
SHORTEST_GAP_S = 0.12  # between two onsets
LEAST_RISE, ABOVE_MEDIAN = 0.02, 2.0  # by which an onset's mean rise over all bins, in units of ln(1 + power over noise), exceeds so many
# times the usual rise around it
LOW_HZ = 700.0  # in a noisy recording low strings drown among the bins above this, and those below it are looked at by themselves too
NOISY = 0.6  # mean height of the loudest hundredth of all frames, below which a recording is noisy
LEAST_LOW_RISE, LOW_ABOVE_MEDIAN = 0.1, 3.0  # as LEAST_RISE and ABOVE_MEDIAN, of those bins: stricter, as fewer of them tell it
PREDICTOR_ORDER = 40
THINNED = (1, 4, 16)  # numbers of samples averaged into one, so that the predictor sees ever lower frequencies alone
CLEAR_BREAK = 30.0  # residual power over the usual from which something new surely begins
BEFORE_S, AFTER_S = 0.35, 0.08  # of the frame's middle: the stretch in which the exact onset is sought
LEARNT_S = 0.25  # of its start, from which the predictor is learnt; nothing new sounds there
STEP_S = 0.001  # pieces in which the residual power is averaged
USUAL_FROM = 0.2  # share of what is learnt from, after which the residual power is the usual
OVER_USUAL, OVER_PEAK = 6.0, 0.03  # an onset begins where the residual power exceeds the usual so many times, and this share of its peak
MOST_AFTER_KNOCK_S = 0.22  # so long after a knock a pluck may come and be taken for a part of it (set)
GONE_S = 0.012  # for which nothing new is heard between a knock and the pluck after it
RINGS_S = 0.04  # after which a string still brings something new
KNOCK_SHARE = 0.05  # least power of a pluck over that of the knock before it, whose echo it may be else (set)
KNOCK_GUARD_S = 0.01  # by which the onset found may lie later than the knock
SOUNDS = 1.0  # mean height of a frame in which a string sounds; noise has 0.2
SHORTEST_RING_S = 0.1  # that any event is taken to sound for
OVER_SILENCE, ABOVE_SILENCE = 1.15, 0.01  # a frame is heard where its height exceeds that of silence so many times, and by this besides
FAINT_STEPS = 4.0  # of eight bits, peak: so faint that rounding makes it start again (real plucks 2.1 at most; soft ones begin with 6)
FAINT_S = 0.1  # pieces of which that peak is taken
FAINT_BEFORE_S = 1.5  # of an onset made by rounding, within which it was as loud already
GAP_REACH_S = 0.25  # so far about an onset a drop-out is looked for
GAP_NEAR_SHARE = 0.2  # of that reach, within which a drop-out made the onset
LOUDER_AFTER = 4.0  # power after a drop-out over that before it, from which on something was plucked meanwhile (set)


@dataclass(frozen=True)
class Span:
    """One sounding event: from its onset to the damping, the next onset or the noise floor."""

    onset_s: float
    end_s: float
    next_s: float  # onset of the following event, or the recording's end


def find_spans(recording: Recording) -> tuple[Span, ...]:
    """All sounding events of a recording, in time order."""
    rise, low_rise, height = _rises_and_heights(recording)
    peaks = _peaks(rise, ABOVE_MEDIAN, LEAST_RISE)
    if np.percentile(height, 99) < NOISY:
        reach = SHORTEST_GAP_S / HOP_S
        peaks += [i for i in _peaks(low_rise, LOW_ABOVE_MEDIAN, LEAST_LOW_RISE) if all(abs(i - known) > reach for known in peaks)]
    if height[:LOOK_BACK + 3].max() > SOUNDS:  # a pluck before there is enough to compare it with, or cut through by the start
        peaks.append(0 if height[0] > SOUNDS else int(rise[:LOOK_BACK + 2].argmax()))
    onsets_s = [_past_knock_s(recording, _exact_onset_s(recording, i * HOP_S)) for i in peaks]
    if recording.quality.eight_bits:
        onsets_s = [onset_s for onset_s in onsets_s if not _is_rounding(recording, onset_s)]
    if recording.quality.n_gaps:
        onsets_s = [onset_s for onset_s in onsets_s if not _is_gap(recording, onset_s)]
    onsets_s = _distinct(onsets_s)
    ends = [*onsets_s, recording.duration_s][1:]
    silence = float(np.median(height[height <= np.percentile(height, 15)]))  # of the frames in which next to nothing sounds
    return tuple(Span(onset_s, _end_s(height, silence, onset_s, next_s), next_s) for onset_s, next_s in zip(onsets_s, ends, strict=True))


def _rises_and_heights(recording: Recording) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Per frame: the mean rise of the spectrum, that of its low part, and its mean height above the noise."""
    rises, low_rises, heights = [], [], []
    n_window = int(WINDOW_S * recording.rate_hz)
    hop = HOP_S * recording.rate_hz
    n_frames = max(1, int((recording.n_samples - n_window) / hop) + 1)
    window = np.hanning(n_window).astype(np.float32)
    n_bins = min(int(HIGHEST_HZ * n_window / recording.rate_hz), n_window // 2 + 1)
    n_low, n_before = max(1, int(LOW_HZ * n_window / recording.rate_hz)), LOOK_BACK + 2
    before = None  # power of the frames before the block
    for starts in np.array_split((np.arange(n_frames) * hop).astype(int), math.ceil(n_frames * HOP_S / BLOCK_S)):
        samples = recording.read(int(starts[0]), int(starts[-1]) + n_window).astype(np.float32)
        power = _power(samples, starts - starts[0], window, n_bins)
        before = np.repeat(power[:1], n_before, axis=0) if before is None else before
        # The frames before stand above this block's noise too: else a change of noise would be a rise at its start.
        height = np.log1p(np.concatenate([before, power]) / (4.0 * _bin_noise(power)))
        wide = height.copy()
        np.maximum(wide[:, 1:], height[:, :-1], out=wide[:, 1:])
        np.maximum(wide[:, :-1], height[:, 1:], out=wide[:, :-1])
        height = height[n_before:]
        rise = np.maximum(height - np.maximum(wide[n_before - LOOK_BACK:-LOOK_BACK], wide[:-n_before]), 0.0)
        rises.append(rise.mean(axis=1))
        low_rises.append(rise[:, :n_low].mean(axis=1))
        heights.append(height.mean(axis=1))
        before = power[-n_before:]
    return np.concatenate(rises), np.concatenate(low_rises), np.concatenate(heights)


def _power(samples: np.ndarray, starts: np.ndarray, window: np.ndarray, n_bins: int) -> np.ndarray:
    """Power of the frames that begin there in bins 1 to n_bins − 1; some at a time, which stay near the processor."""
    frames = np.lib.stride_tricks.sliding_window_view(samples, len(window))
    return np.concatenate([np.abs(rfft(frames[starts[i:i + N_AT_ONCE]] * window, axis=1)[:, 1:n_bins]) ** 2
                           for i in range(0, len(starts), N_AT_ONCE)])


def _bin_noise(power: np.ndarray) -> np.ndarray:
    """Noise power per bin: a low percentile over time, smoothed over frequency so that a string that rings throughout does not count."""
    low = np.percentile(power, 15, axis=0) / 0.1625  # the 15th percentile of an exponential lies at −ln(0.85) of its mean
    return np.maximum(median_filter(low, 31, mode="nearest"), max(1e-12, 1e-9 * float(power.max())))


def _peaks(rise: np.ndarray, above_median: float, least_rise: float) -> list[int]:
    """Frames of locally greatest rise that stand out of the usual rise within some seconds."""
    usual = median_filter(rise, int(3.0 / HOP_S) | 1, mode="nearest")
    reach = int(SHORTEST_GAP_S / HOP_S)
    top = maximum_filter1d(rise, 2 * reach + 1)
    rise = np.where(np.arange(len(rise)) < LOOK_BACK + 2, 0.0, rise)  # nothing yet to compare with
    return [int(i) for i in np.flatnonzero((rise == top) & (rise > above_median * usual + least_rise))]


def _exact_onset_s(recording: Recording, frame_s: float) -> float:
    """The moment within ±0.1 s at which the waveform stops following from before: in the whole sound or, where noise hides it, below ever
    lower frequencies."""
    rate_hz = recording.rate_hz
    centre = int((frame_s + 0.5 * WINDOW_S) * rate_hz)
    first = centre - int(BEFORE_S * rate_hz)
    samples = recording.read(first, centre + int(AFTER_S * rate_hz))
    found = []
    for thin in THINNED:
        clearness, break_s = _clearest_break(samples[: len(samples) // thin * thin].reshape(-1, thin).mean(axis=1), rate_hz / thin)
        found.append((clearness, break_s))
        if clearness > CLEAR_BREAK:
            break
    _, break_s = max(found)
    return max(0.0, first / rate_hz + break_s)


def _clearest_break(samples: np.ndarray, rate_hz: float) -> tuple[float, float]:
    """The peak of the residual power over its usual, and where the rise to it begins, s. Nothing new sounds in the first LEARNT_S."""
    step = max(1, int(STEP_S * rate_hz))
    start = int(LEARNT_S * rate_hz / step)
    power, usual = _residual_power(samples, int(LEARNT_S * rate_hz), step)
    smooth = np.convolve(power[start:], np.ones(3) / 3, "same")
    peak = int(smooth.argmax())
    limit = max(OVER_USUAL * usual, OVER_PEAK * float(smooth[peak]))
    at = peak
    while at > 0 and smooth[max(0, at - 6): at].max() > limit:
        at -= 1
    return float(smooth[peak]) / usual, (start + at) * step / rate_hz


def _past_knock_s(recording: Recording, onset_s: float) -> float:
    """The onset of a string plucked right after a knock, a pedal or a lever; else the same onset. What a knock brings is gone again before
    the string is heard, unlike what a string brings, and would pass for the beginning of the pluck."""
    rate_hz = recording.rate_hz
    step = max(1, int(STEP_S * rate_hz))
    n_learnt, n_gone, n_rings = int(LEARNT_S / STEP_S), round(GONE_S / STEP_S), round(RINGS_S / STEP_S)  # pieces of `step` samples
    first = int((onset_s - KNOCK_GUARD_S) * rate_hz) - n_learnt * step
    if first < 0:
        return onset_s
    samples = recording.read(first, first + (n_learnt + int((KNOCK_GUARD_S + MOST_AFTER_KNOCK_S + 2.0 * RINGS_S) / STEP_S)) * step)
    power, usual = _residual_power(samples, n_learnt * step, step)
    is_new = power > OVER_USUAL * usual
    knock = n_learnt + round(KNOCK_GUARD_S / STEP_S)
    last = knock + round(MOST_AFTER_KNOCK_S / STEP_S)
    for again in range(knock + n_gone, last):
        peak = power[again:again + n_rings].max()
        if is_new[again] and not is_new[again - n_gone:again].any() and peak > CLEAR_BREAK * usual:
            is_long = is_new[again + n_rings:again + 2 * n_rings].mean() > 0.5
            is_loud = peak > KNOCK_SHARE * power[knock - 2:again].max()
            return (first + again * step) / rate_hz if is_long and is_loud else onset_s
    return onset_s


def _residual_power(samples: np.ndarray, n_learnt: int, step: int) -> tuple[np.ndarray, float]:
    """Power, in pieces of `step`, of what a predictor learnt from the first n_learnt samples leaves; and what is usual in these."""
    residual = np.convolve(samples, _predictor(samples[:n_learnt]))
    n, start = len(samples) // step, n_learnt // step
    power = (residual[: n * step].reshape(n, step) ** 2).mean(axis=1)
    return power, float(np.median(power[int(USUAL_FROM * start): start - 5])) + 1e-14


def _predictor(samples: np.ndarray) -> np.ndarray:
    """Coefficients of the prediction error filter of `samples` (autocorrelation method)."""
    windowed = samples * np.hanning(len(samples))
    n_fft = 1 << int(np.ceil(np.log2(2 * len(windowed))))
    auto = np.fft.irfft(np.abs(np.fft.rfft(windowed, n_fft)) ** 2)[: PREDICTOR_ORDER + 1]
    if auto[0] <= 0:
        return np.array([1.0])
    auto[0] *= 1.0 + 1e-6
    return np.concatenate([[1.0], -solve_toeplitz(auto[:-1], auto[1:])])


def _is_rounding(recording: Recording, onset_s: float) -> bool:
    """Whether nothing begins there: a string that dies away among the steps of eight bits falls silent and is heard again."""
    at, n = int(onset_s * recording.rate_hz), int(FAINT_S * recording.rate_hz)
    n_before = int(FAINT_BEFORE_S / FAINT_S)
    pieces = recording.read(at - n_before * n, at + n).reshape(-1, n)
    *before, after = np.abs(pieces - pieces.mean(axis=1, keepdims=True)).max(axis=1)  # some recorders add a constant
    return bool(after < FAINT_STEPS * EIGHT_BIT_STEP and after <= max(before))


def _is_gap(recording: Recording, onset_s: float) -> bool:
    """Whether only a drop-out lies there, after which the sound goes on no louder than before."""
    reach, onset = int(GAP_REACH_S * recording.rate_hz), int(onset_s * recording.rate_hz)
    for start, stop in recording.gaps(onset - reach, onset + reach):
        before, after = (recording.read(first, first + reach // 4) for first in (start - reach // 4, stop + reach // 8))
        is_near = start - onset <= GAP_NEAR_SHARE * reach and onset - stop <= GAP_NEAR_SHARE * reach
        if is_near and np.mean(after**2) < LOUDER_AFTER * np.mean(before**2):
            return True
    return False


def _distinct(onsets_s: list[float]) -> list[float]:
    """In time order, those too soon after another left out."""
    kept: list[float] = []
    for onset_s in sorted(onsets_s):
        if not kept or onset_s - kept[-1] >= 0.5 * SHORTEST_GAP_S:
            kept.append(onset_s)
    return kept


def _end_s(height: np.ndarray, silence: float, onset_s: float, next_s: float) -> float:
    """Where the sound sinks into the noise for good, at the latest just before the next onset."""
    first_s = onset_s + SHORTEST_RING_S
    heard = np.flatnonzero(height[int(first_s / HOP_S):int(next_s / HOP_S)] > OVER_SILENCE * silence + ABOVE_SILENCE)
    end_s = first_s + ((heard[-1] + 1) * HOP_S if len(heard) else 0.0) + WINDOW_S
    return float(min(end_s, max(next_s - 0.005, onset_s + 0.02)))
