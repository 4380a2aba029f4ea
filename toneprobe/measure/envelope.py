"""One pluck as complex envelopes: any narrow band of it, moved down to 0 Hz at a low rate.

The pluck is transformed once. A band is a slice of that spectrum under a flat-topped window with cosine edges, transformed back. A band of
half-width w responds within about 1/w seconds and smears what happens faster, such as the onset: readers of an envelope skip its first
`settle_s`.

Times count from the onset. Powers are those of the analytic signal: a sinusoid of amplitude A has |z|² = A². The noise is what lies between
the partials late in the pluck: at each frequency the median power density of a wide neighbourhood, in which partials, being narrow lines,
do not count.
"""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np
from scipy.fft import ifft, next_fast_len, rfft
from scipy.ndimage import median_filter

from toneprobe.medians import MEDIAN_OF_EXPONENTIAL

PAD_S = 0.25  # silence after the piece, so that a band's answer to the onset does not come round to the end
PAD_PERIODS = 20.0  # of the string, where that is more: a low one's bands are narrow and answer for longer
EDGE = 0.2  # share of a band's width that each cosine edge takes
TOP_SHARE = 0.48  # of the sample rate: no band of a partial that reaches higher is looked at
HANN_BINS = 1.0 + 2.0 * (4 / 9 + 1 / 36)  # of noise through a Hann window count as one: |X|² of neighbours correlate by these shares
LEAST_DENSITY = 1e-24
QUIET_FROM = 0.5  # of a pluck's length: where other sounds fell into it, the noise is sought in the longest quiet stretch after this
KNOCK_S = 0.4  # left out after each of those sounds
LEAST_QUIET_S = 0.3  # shorter stretches tell no noise
MOSTLY_KNOCKS = 0.25  # the quiet stretch counts where its density is less than this share of the whole end's
SOON_S = 0.25  # after the onset a partial has its greatest power
CLOCK_HZ = 200.0  # of the grid on which a gliding string's clock is given
HEARD_TIME_SHARE = 0.7  # of the time a partial is followed


@dataclass(frozen=True)
class Noise:
    """What sounds between the partials."""

    freq_hz: np.ndarray
    psd: np.ndarray  # mean |z|² per Hz, at freq_hz
    periodogram: np.ndarray  # |z|² per Hz, partials and all
    step_hz: float  # of the periodogram
    reach: int  # so many of its bins are the neighbourhood of one


@dataclass(frozen=True)
class PluckSignal:
    """The spectrum of one pluck; made by `pluck_signal`."""

    spectrum: np.ndarray  # rfft of the zero-padded piece
    n_fft: int
    n_samples: int
    rate_hz: float
    pre_s: float  # the piece starts so long before the onset
    noise: Noise
    knocks_s: tuple[float, ...] = ()  # when something else sounded, after the onset

    @property
    def length_s(self) -> float:
        """From the onset to the end."""
        return self.n_samples / self.rate_hz - self.pre_s


@dataclass(frozen=True)
class Envelope:
    """A band of a pluck, centred on 0 Hz. z[0] lies at the onset, as near as its own rate allows."""

    z: np.ndarray  # complex, shape (n,)
    rate_hz: float
    centre_hz: float
    settle_s: float  # smeared by the band's own answer until here
    noise_power: float  # mean |z|² of the noise in the band
    lag_s: float = 0.0  # z[0] lies so long after the onset, at most half a value

    @property
    def time_s(self) -> np.ndarray:
        """After the onset."""
        return np.arange(len(self.z)) / self.rate_hz + self.lag_s

    @cached_property
    def power(self) -> np.ndarray:
        """|z|², shape (n,)."""
        return np.abs(self.z) ** 2

    @cached_property
    def power_until(self) -> np.ndarray:
        """Sum of |z|² before each value and, last, of all; shape (n + 1,)."""
        return np.concatenate([[0.0], np.cumsum(self.power)])

    def first_from(self, start_s: float) -> int:
        """Index of the first value from then on at which the band's own response to the onset is over."""
        return int(np.ceil(max(start_s, self.settle_s) * self.rate_hz))


def pluck_signal(samples: np.ndarray, *, rate_hz: float, pre_s: float, f1_hz: float, noise: Noise | None = None,
                 knocks_s: tuple[float, ...] = ()) -> PluckSignal:
    """Transform one pluck. `samples`: shape (n,), full scale ±1, starting `pre_s` before the onset. `f1_hz`: rough pitch. `noise`: given
    where the piece ends before the noise can be heard. `knocks_s`: times after the onset at which something else sounded."""
    n = len(samples)
    n_fft = next_fast_len(n + int(max(PAD_S, PAD_PERIODS / f1_hz) * rate_hz), real=True)
    if noise is None:
        noise = _noise_beside(samples[int(pre_s * rate_hz):], rate_hz, f1_hz, knocks_s)
    return PluckSignal(rfft(samples, n_fft), n_fft, n, rate_hz, pre_s, noise, knocks_s)


def band(signal: PluckSignal, centre_hz: float, half_width_hz: float, *, advance_s: np.ndarray | None = None) -> Envelope:
    """The band centre ± half width. `advance_s`: how far the string's clock runs ahead because of its pitch glide, on a grid of CLOCK_HZ
    from the onset; it is removed, so that a gliding partial stands still."""
    df = signal.rate_hz / signal.n_fft
    low = max(1, int(np.floor((centre_hz - half_width_hz) / df)))
    high = min(len(signal.spectrum), int(np.ceil((centre_hz + half_width_hz) / df)) + 1)
    width = high - low
    n = next_fast_len(width)
    shaped = np.zeros(n, complex)
    shaped[:width] = signal.spectrum[low:high] * _window(width)
    z = ifft(shaped) * (2.0 * n / signal.n_fft)
    rate_hz = n * df
    time_s = np.arange(n) / rate_hz - signal.pre_s
    keep = slice(*np.searchsorted(time_s, (-0.5 / rate_hz, signal.length_s)))
    time_s = time_s[keep]
    turn = (centre_hz - low * df) * time_s
    if advance_s is not None and len(advance_s):
        turn = turn + centre_hz * np.interp(time_s, np.arange(len(advance_s)) / CLOCK_HZ, advance_s)
    z = z[keep] * np.exp(-2j * np.pi * turn)
    lag_s = float(time_s[0]) if len(time_s) else 0.0
    return Envelope(z, rate_hz, centre_hz, 0.7 / half_width_hz, _noise_power(signal, low * df, high * df), lag_s)


def noise_density(signal: PluckSignal, freq_hz: np.ndarray | float) -> np.ndarray:
    """Mean |z|² of the noise per Hz at the given frequencies."""
    return np.interp(freq_hz, signal.noise.freq_hz, signal.noise.psd)


def noise_around(signal: PluckSignal, freq_hz: float) -> tuple[float, float]:
    """The noise density from every bin around a frequency, and the number of independent values behind that median."""
    noise = signal.noise
    first = max(0, int(round(freq_hz / noise.step_hz)) - noise.reach // 2)
    near = noise.periodogram[first: first + noise.reach]
    return max(float(np.median(near)) / MEDIAN_OF_EXPONENTIAL, LEAST_DENSITY), len(near) / HANN_BINS


def smooth_power(envelope: Envelope, span_s: float) -> np.ndarray:
    """Running mean of |z|² over `span_s`, shape of z; shorter near the ends."""
    n, total = max(1, int(round(span_s * envelope.rate_hz))), envelope.power_until
    start = np.arange(len(envelope.z)) - n // 2
    first, last = np.maximum(start, 0), np.minimum(start + n, len(envelope.z))
    return (total[last] - total[first]) / np.maximum(last - first, 1)


def heard_until(is_heard: np.ndarray) -> int:
    """Index after the last heard value up to which the partial was heard for most of the time (HEARD_TIME_SHARE); 0 if never. A beating
    partial drops out in its dips and returns; what comes up long afterwards is something else."""
    heard = np.flatnonzero(is_heard & (np.cumsum(is_heard) > HEARD_TIME_SHARE * np.arange(1, len(is_heard) + 1)))
    return int(heard[-1]) + 1 if len(heard) else 0


def onset_power(envelope: Envelope) -> float:
    """Greatest short-time |z|² soon after the onset less the noise, never below the noise's own uncertainty."""
    power = smooth_power(envelope, max(0.015, 2.0 * envelope.settle_s))
    first = int(envelope.settle_s * envelope.rate_hz)
    top = float(power[first: max(first + 2, int(SOON_S * envelope.rate_hz))].max(initial=0.0))
    return max(top - envelope.noise_power, 0.1 * envelope.noise_power)


@lru_cache(maxsize=16)
def _window(width: int) -> np.ndarray:
    edge = max(1, int(EDGE * width))
    rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)
    window = np.ones(width)
    window[:edge] = rise
    window[width - edge:] = rise[::-1]
    window.flags.writeable = False
    return window


def _noise_power(signal: PluckSignal, low_hz: float, high_hz: float) -> float:
    width = (1.0 - 2.0 * EDGE + 0.75 * EDGE) * (high_hz - low_hz)  # ∫ window² over the two cosine edges is 3/8 of each
    return float(noise_density(signal, 0.5 * (low_hz + high_hz))) * width


def _noise_beside(samples: np.ndarray, rate_hz: float, f1_hz: float, knocks_s: tuple[float, ...]) -> Noise:
    """Noise late in the pluck or, where knocks make up much of that, in the longest stretch there without one."""
    noise, length_s = _noise(samples, rate_hz, f1_hz), len(samples) / rate_hz
    bounds_s = [QUIET_FROM * length_s - KNOCK_S, *(at_s for at_s in knocks_s if at_s > QUIET_FROM * length_s), length_s]
    longest_s, start_s = max((stop_s - start_s - KNOCK_S, start_s + KNOCK_S) for start_s, stop_s in pairwise(bounds_s))
    if len(bounds_s) == 2 or longest_s < LEAST_QUIET_S:
        return noise
    quiet = _noise(samples[int(start_s * rate_hz): int((start_s + longest_s) * rate_hz)], rate_hz, f1_hz)
    return quiet if np.median(quiet.psd) < MOSTLY_KNOCKS * np.median(noise.psd) else noise


def _noise(samples: np.ndarray, rate_hz: float, f1_hz: float) -> Noise:
    """Power density late in the pluck without its partials, on a grid of about f1/50."""
    n = max(64, min(len(samples), max(int(0.3 * len(samples)), int(12.0 * rate_hz / f1_hz))))
    piece = samples[-n:] * np.hanning(n)[: len(samples[-n:])]
    n_fft = next_fast_len(n)
    # one-sided density 2·|X|²/Σw², and |z|² is twice that
    psd = 4.0 * np.abs(rfft(piece, n_fft)[: n_fft // 2]) ** 2 / (0.375 * n * rate_hz)
    df = rate_hz / n_fft
    reach = max(3, int(round(1.2 * f1_hz / df))) | 1
    thin = max(1, reach // 60)
    centres = np.arange(0, len(psd), thin)
    # mirrored at the ends: repeated, the value at 0 Hz, where a constant is, would stand for all below the first partial
    floor = median_filter(psd[::thin], max(3, (reach // thin) | 1), mode="reflect") / MEDIAN_OF_EXPONENTIAL
    return Noise(centres * df, np.maximum(floor, LEAST_DENSITY), psd, df, reach)
