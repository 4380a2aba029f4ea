"""Which lines of a pluck are the string's own: the stiff-string series among everything else that rings.

A plucked string has partials f_n = n·f0·√(1 + B·n²) and, when pulled hard, *sum tones* of them at f_i + f_j, because the tension follows
the square of the motion (Conklin, JASA 105 (1999) 536). Sum tones lie below the partial of the same number, near n·f1, and from about n = 8
up they can be stronger. So the highest peak near n·f1 does not choose the series. What it explains does: a line counts in full on the
series, in part on a sum tone of the series, not at all elsewhere. With too small a B the true high partials stay unexplained; the right one
explains both kinds (for sum tones that are far stronger see `two_families`). A broad prior for B from the string's physics, a factor of two
or more, decides where few partials sound.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from toneprobe.measure.envelope import TOP_SHARE, Envelope, PluckSignal, band, noise_density, smooth_power
from toneprobe.measure.poles import find_poles
from toneprobe.stiffness import stiff_ratio
from toneprobe.units import CENTS, shift_hz

ZONE = 0.45  # half-width of the zone searched around each partial, in units of f1
N_SERIES = 20  # partials searched
SKIP_S = 0.015
POLES_PER_ZONE = 3
SPAN_DB = 30.0  # a zone is analysed while its power is within so much of its peak
LEAST_ENERGY = 10.5  # times the noise's density, |z|² per Hz, about what one line takes up of it: what has less is not heard
LINE_RANGE_DB = 15.0  # lines weaker than a zone's strongest by more do not count
SUM_TONE_CREDIT = 0.4
FIRST_SUM_TONE = 5  # below, a sum tone and the partial cannot be told apart
TOLERANCE_CENTS = 4.0
TOLERANCE_HZ = 0.3
NEAR_LOG_B = 0.75
BELOW_B, ABOVE_B = 3.2, 2.6  # how far about the expected ln B it is looked for, in the spreads of what is expected (set here)
# A line counts whole down to so many dB below the pluck's strongest, and ever less from there to LOST_DB, but never nothing (set here).
WHOLE_DB, LOST_DB, LEAST_COUNT = 40.0, 85.0, 0.1


@dataclass(frozen=True)
class Lines:
    """What rings in the zones of one pluck: one row per damped exponential, ascending in frequency. Arrays of shape (k,)."""

    zone: np.ndarray  # number of the partial whose zone it lies in
    freq_hz: np.ndarray
    delta: np.ndarray
    energy: np.ndarray
    level: np.ndarray  # |a|² at the start of the stretch
    length_s: np.ndarray  # stretch analysed
    noise_density: np.ndarray  # |z|² per Hz
    weight: np.ndarray  # 0 to 1: how much it counts when a series is chosen


@dataclass(frozen=True)
class Series:
    """A stiff-string series: f1 the sounding first partial, B the inharmonicity coefficient."""

    f1_hz: float
    b: float

    def partial_hz(self, n: np.ndarray | int) -> np.ndarray:
        return self.f1_hz * stiff_ratio(self.b, np.asarray(n, float))


def find_lines(signal: PluckSignal, guess: Series, *, n_most: int = N_SERIES, advance_s: np.ndarray | None = None) -> Lines:
    """Damped exponentials in the zone of each partial of `guess` up to number `n_most`, from SKIP_S after the onset."""
    rows = []
    for n in range(1, n_most + 1):
        centre_hz = float(guess.partial_hz(n))
        if centre_hz + ZONE * guess.f1_hz > TOP_SHARE * signal.rate_hz:
            break
        zone = band(signal, centre_hz, ZONE * guess.f1_hz, advance_s=advance_s)
        start, stop = _stretch(zone, 1.0 / guess.f1_hz)
        length_s = (stop - start) / zone.rate_hz
        density = float(noise_density(signal, centre_hz))
        for pole in find_poles(zone.z[start:stop], rate_hz=zone.rate_hz, n_poles=POLES_PER_ZONE):
            if pole.energy > LEAST_ENERGY * density and abs(pole.freq_hz) < ZONE * guess.f1_hz:
                rows.append((n, centre_hz + pole.freq_hz, pole.delta, pole.energy, abs(pole.amplitude) ** 2, length_s, density))
    return _weighed(np.array(sorted(rows, key=lambda row: row[1])).reshape(-1, 7))


def only(lines: Lines, which: np.ndarray) -> Lines:
    """The lines at the ascending indices `which`, with weights relative to each other."""
    table = np.stack([lines.zone, lines.freq_hz, lines.delta, lines.energy, lines.level, lines.length_s, lines.noise_density], axis=1)
    return _weighed(table[which])


def fit_series(lines: Lines, f1_hz: float, *, prior_b: float, prior_factor: float, reach_cents: float = 60.0,
               near_b: float | None = None) -> Series | None:
    """The series that explains the lines best, f1 within ± reach of `f1_hz`, B near `near_b` if given. None if no line counts."""
    heavy = lines.weight > 0
    freq_hz, weight = lines.freq_hz[heavy], lines.weight[heavy]
    if not len(freq_hz):
        return None
    n = np.arange(1, N_SERIES + 1)
    n = n[n * f1_hz < freq_hz[-1] * 1.05]
    if not len(n):
        return None
    best, best_score = None, -np.inf
    f1s_hz = shift_hz(f1_hz, np.arange(-reach_cents, reach_cents + 0.1, 1.5))
    span = max(np.log(prior_factor), 0.4)
    low, high = np.log(prior_b) - BELOW_B * span, np.log(prior_b) + ABOVE_B * span
    if near_b is not None:
        low, high = np.log(near_b) - NEAR_LOG_B, np.log(near_b) + NEAR_LOG_B
    candidates = []
    for log_b in np.arange(low, high, 0.1):
        b = float(np.exp(log_b))
        predicted = f1s_hz[:, None] * stiff_ratio(b, n)
        score = _explained(freq_hz, weight, predicted).sum(axis=1)
        i = int(score.argmax())
        rest = weight.copy()
        rest[_explaining(freq_hz, weight, predicted[i])] = 0.0
        candidates.append((float(score[i]) - 0.5 * ((log_b - np.log(prior_b)) / span) ** 2, Series(float(f1s_hz[i]), b), rest))
    for score, series, rest in sorted(candidates, key=lambda one: -one[0]):
        if score + SUM_TONE_CREDIT * rest.sum() <= best_score:  # not even if all the rest were sum tones
            continue
        total = score + SUM_TONE_CREDIT * _sum_tones(freq_hz, rest, series, n)
        if total > best_score:
            best, best_score = series, total
    return best


def _stretch(zone: Envelope, period_s: float) -> tuple[int, int]:
    """Samples of a zone that carry its sound, from after the onset until it has fallen by SPAN_DB or into the noise."""
    start = zone.first_from(SKIP_S)
    power = smooth_power(zone, max(0.02, period_s))[start:]
    if len(power) < 8:
        return start, start
    peak_at = int(power[: max(8, len(power) // 2)].argmax())
    limit = max(power[peak_at] * 10 ** (-SPAN_DB / 10), 2.0 * zone.noise_power)
    below = np.flatnonzero(power[peak_at:] < limit)
    n = peak_at + int(below[0]) if len(below) else len(power)
    return start, start + min(max(n, int(0.04 * zone.rate_hz), 8), len(power))


def _weighed(table: np.ndarray) -> Lines:
    return Lines(table[:, 0].astype(int), *table[:, 1:].T, weight=_weights(table))


def _weights(table: np.ndarray) -> np.ndarray:
    """Weight by energy within the zone and, slightly, within the whole pluck."""
    if not len(table):
        return np.zeros(0)
    zone, energy_db = table[:, 0].astype(int), 10 * np.log10(table[:, 3])
    top_db = np.full(zone.max() + 1, -np.inf)
    np.maximum.at(top_db, zone, energy_db)
    in_zone = np.clip(1.0 - (top_db[zone] - energy_db) / LINE_RANGE_DB, 0.0, 1.0)
    over_all = np.clip((energy_db - energy_db.max() + LOST_DB) / (LOST_DB - WHOLE_DB), LEAST_COUNT, 1.0)
    return in_zone * over_all


def tolerance_hz(hz: float | np.ndarray) -> float | np.ndarray:
    """How far a line may lie from the partial or sum tone that it is."""
    return (TOLERANCE_HZ**2 + (hz * (TOLERANCE_CENTS / CENTS)) ** 2) ** 0.5


def _beside(freq_hz: np.ndarray, weight: np.ndarray, predicted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The lines below and above each predicted frequency, and their weights, reduced with the distance; shape (2, *predicted.shape)."""
    after = np.minimum(np.searchsorted(freq_hz, predicted), len(freq_hz) - 1)
    near = np.maximum(np.add.outer((-1, 0), after), 0)
    return near, weight[near] * np.exp(-0.5 * ((freq_hz[near] - predicted) / tolerance_hz(predicted)) ** 2)


def _explained(freq_hz: np.ndarray, weight: np.ndarray, predicted: np.ndarray) -> np.ndarray:
    """For each predicted frequency the weight of the line that is likeliest there."""
    return _beside(freq_hz, weight, predicted)[1].max(axis=0)


def _explaining(freq_hz: np.ndarray, weight: np.ndarray, predicted: np.ndarray) -> np.ndarray:
    """Indices of those lines, where there are any; predicted: shape (k,)."""
    near, value = _beside(freq_hz, weight, predicted)
    likelier = value.argmax(axis=0)
    return near[likelier, np.arange(len(predicted))][value.max(axis=0) > 0.0]


def _sum_tones(freq_hz: np.ndarray, rest: np.ndarray, series: Series, n: np.ndarray) -> float:
    """Weight of the lines that are sum tones of the series, one per number. `rest`: weights of the lines, 0 for partials."""
    number, first = _pairs(int(n[-1]))
    if not len(number):
        return 0.0
    partial_hz = series.partial_hz(n)
    score = _explained(freq_hz, rest, partial_hz[first - 1] + partial_hz[number - first - 1])
    starts = np.flatnonzero(np.diff(number, prepend=0))
    return float(np.maximum.reduceat(score, starts).sum())


@cache
def _pairs(n_most: int) -> tuple[np.ndarray, np.ndarray]:
    """All pairs of partials with a sum tone: its number, ascending, and the number of its first part."""
    pairs = [(number, first) for number in range(FIRST_SUM_TONE, n_most + 1) for first in range(1, number // 2 + 1)]
    table = np.array(pairs, int).reshape(-1, 2)
    return table[:, 0], table[:, 1]
