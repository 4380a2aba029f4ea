"""How like each string of an instrument a sounding event is: its new lines against every string's partial series.

The spectrum just after the onset is compared with that just before. What is new are lines, each with a salience (how far it stands out of
the noise and of what rang before, in dB, bounded). A string explains the event as well as
- its series covers the salience of the new lines (an octave too high leaves odd partials unexplained), and
- its low partials are there (an octave too low lacks every other one), as far as what rang before does not hide them; the fundamental may
  be missing, since small recorders drop it.

The product of both is the likeness, 0 to 1, for the best of a range of pitch offsets and inharmonicities. A string that slipped below all
notes of the instrument, or between two far apart, is like the string an octave above, whose partials are its even ones. So the sound is
also matched an octave below the best string.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.fft import next_fast_len, rfft
from scipy.ndimage import maximum_filter1d, median_filter

from toneprobe.audio import Recording
from toneprobe.instrument import Instrument, StringSpec, string_expected_b
from toneprobe.medians import MEDIAN_OF_EXPONENTIAL
from toneprobe.segment import Span
from toneprobe.stiffness import WOUND_FACTOR, expected_b, stiff_ratio
from toneprobe.units import CENTS, cents_between, shift_hz

SHORTEST_S, LONGEST_S = 0.06, 0.40  # of the stretch after an onset whose spectrum is taken, and of that before it
LOW_HZ, LOW_S = 110.0, 1.2  # strings below this are also matched over so long a stretch
SKIP_S = 0.004  # after the onset, before that stretch begins
RISE_SHARE = 0.12  # of the taper, over which it rises
NARROW = 4.0  # least power of a line over the power beside it
SIDE_RESOLUTIONS, SIDE_SHARE = 3.0, 0.015  # how far beside it: so many resolutions or this share of its frequency, whichever is more
CARRIED_ON = 1.2  # what rang before may go on so much stronger, beating
HIDDEN = 8.0  # power over the noise at which what rang before covers what is new
CARRIED_SHARE = 0.95  # of the frequency up to which a recording carries anything
LOWEST_LINE_HZ, HIGHEST_HZ = 18.0, 11000.0  # lines are looked for between these
NEW_SHARE = 0.25  # of a line's power that must be new
FLOOR_HZ = 350.0  # what lies between the lines is the median over so much
LOWEST_HZ, GRID_CENTS = 14.0, 2.0  # start and steps of the logarithmic grid on which lines are looked up
GRID_HZ = shift_hz(LOWEST_HZ, np.arange(0.0, 10.5 * 1200.0, GRID_CENTS))
REACH_TOLERANCES = 6.0  # a line so far off a partial says nothing of it
LEAST_IN_VIEW = 0.35  # share of a string's partials that must be open to view for its name to count in full
N_STRONGEST_LINES = 40  # of an onset, which are kept
N_PARTIALS = 32  # of a string, at which lines are looked for
LEAST_SALIENCE_DB = 9.0  # of a line that is kept
LEVEL_RANGE_DB = 55.0  # so far below the strongest line others are kept
TOP_SALIENCE_DB = 35.0  # what stands out farther counts as this
REACH_CENTS = 120.0  # so far off its note at the most a string is sought
OFFSETS_CENTS = np.arange(-REACH_CENTS, REACH_CENTS + 0.1, 6.0)
TOLERANCE_CENTS = 9.0  # by which a partial of an untouched string may lie off its series
B_FACTORS = np.array([0.2, 0.4, 0.65, 0.85, 1.0, 1.2, 1.5, 2.0, 3.2])  # of the expected inharmonicity, tried
FAR_STIFFER = 1.5  # plain over expected B, from which on a plain string is sought too (set: half a string's range by B_FACTORS)
OFF_CENTS = (-6.0, -3.0, 0.0, 3.0, 6.0)  # a named string's pitch is known so well


@dataclass(frozen=True)
class NewLines:
    """Lines that an onset brought. Arrays, ascending frequency."""

    freq_hz: np.ndarray
    salience_db: np.ndarray  # how far each stands out of the noise, bounded, and less where it is weak among the lines
    width_hz: float  # resolution
    power: float  # of all together, over the square of the number of bins
    hidden: np.ndarray  # per bin of `grid_hz`: what rang before covers it, or the recorder lost it, so a new line could not be seen there
    grid_hz: float


@dataclass(frozen=True)
class Likeness:
    """One event against all strings, highest string first. Arrays of shape (n strings,)."""

    score: np.ndarray
    offset_cents: np.ndarray
    evidence_db: float  # salience of all new lines together
    power_db: float  # power of the new lines, from a zero that goes with the sample rate: only differences within a recording tell
    octave_below_score: float = 0.0  # likeness to a string an octave below the best one …
    octave_below_hz: float = 0.0  # … and the pitch that it would have


def liken(recording: Recording, span: Span, instrument: Instrument) -> Likeness:
    """Compare one event with every string, low strings also over a longer stretch that separates their close partials."""
    lines = new_lines(recording, span)
    like = match_strings(lines, instrument.strings)
    low = [i for i, string in enumerate(instrument.strings) if string.expected_hz < LOW_HZ]
    if not low or span.next_s - span.onset_s < 2 * LONGEST_S:
        return _with_octave_below(like, [lines], instrument.strings)
    longer_lines = new_lines(recording, span, longest_s=LOW_S)
    longer = match_strings(longer_lines, [instrument.strings[i] for i in low])
    score, offset = like.score.copy(), like.offset_cents.copy()
    better = longer.score > score[low]
    score[low], offset[low] = np.where(better, longer.score, score[low]), np.where(better, longer.offset_cents, offset[low])
    evidence_db = longer.evidence_db if int(score.argmax()) in low and better.any() else like.evidence_db
    whole = Likeness(score, offset, max(evidence_db, like.evidence_db), like.power_db)
    return _with_octave_below(whole, [lines, longer_lines], instrument.strings)


def _with_octave_below(like: Likeness, lines: Sequence[NewLines], strings: Sequence[StringSpec]) -> Likeness:
    """The same, matched also an octave below the best string, as a string as stiff as the one nearest to there."""
    best = int(like.score.argmax())
    if like.score[best] == 0.0:
        return like
    below_hz = 0.5 * shift_hz(strings[best].expected_hz, float(like.offset_cents[best]))
    nearest = min(strings, key=lambda string: abs(cents_between(string.expected_hz, below_hz)))
    spec = replace(nearest, expected_hz=below_hz)
    below = max((match_strings(one, [spec]) for one in lines), key=lambda one: float(one.score[0]))
    return replace(like, octave_below_score=float(below.score[0]), octave_below_hz=shift_hz(below_hz, float(below.offset_cents[0])))


def new_lines(recording: Recording, span: Span, *, longest_s: float = LONGEST_S, skip_s: float = SKIP_S) -> NewLines:
    """Spectral lines that are there `skip_s` after an onset and were not there, or weaker, before it."""
    rate_hz = recording.rate_hz
    length_s = float(np.clip(span.next_s - span.onset_s - skip_s - 0.01, SHORTEST_S, longest_s))
    n = int(length_s * rate_hz)
    onset, first = int(span.onset_s * rate_hz), int((span.onset_s + skip_s) * rate_hz)
    after = recording.read(first, first + n)
    before = recording.read(onset - int(0.01 * rate_hz) - n, onset - int(0.01 * rate_hz))[::-1]
    taper = _taper(n)  # heaviest near the onset, on both sides
    n_fft = next_fast_len(3 * n)
    df = rate_hz / n_fft
    n_bins = min(n_fft // 2, int(HIGHEST_HZ / df))
    power, old = (np.abs(rfft(piece.astype(np.float32) * taper, n_fft)[:n_bins]) ** 2 for piece in (after, before))
    noise = _noise(power, df) + 1e-12 * power.max() + 1e-30
    covering = CARRIED_ON * maximum_filter1d(old, 7)
    hidden = (covering > HIDDEN * noise) & (power < 4.0 * covering)
    hidden |= np.arange(n_bins) * df > CARRIED_SHARE * (recording.quality.high_cut_hz or 0.5 * rate_hz)
    return _pick(power, power - covering, noise, hidden, df, rate_hz / n)


@lru_cache(maxsize=8)
def _taper(n: int) -> np.ndarray:
    """A Hann window with its top near the start: little is lost of what decays fast, and strong lines keep narrow skirts. float32."""
    n_rise = max(1, int(RISE_SHARE * n))
    rise = np.sin(np.linspace(0.0, np.pi / 2, n_rise, endpoint=False)) ** 2
    return np.concatenate([rise, np.cos(np.linspace(0.0, np.pi / 2, n - n_rise)) ** 2]).astype(np.float32)


def match_strings(lines: NewLines, strings: Sequence[StringSpec]) -> Likeness:
    """Likeness of an event's new lines to each of the strings."""
    n_strings = len(strings)
    score, offset = np.zeros(n_strings), np.zeros(n_strings)
    if len(lines.freq_hz) == 0:
        return Likeness(score, offset, 0.0, -200.0)
    table = _tabulate(lines)
    for i, string in enumerate(strings):
        score[i], offset[i] = max(_match(table, string.expected_hz, b) for b in _sought_bs(string))
    return Likeness(score, offset, float(lines.salience_db.sum()), float(10 * np.log10(lines.power + 1e-20)))


def _sought_bs(string: StringSpec) -> tuple[float, ...]:
    """The expected B and, for a wound string or one of unknown material, also a plain string's: presets and owners take materials from
    other harps' charts, and by a wire's tenfold smaller B a plain string is like one an octave below."""
    b, factor = string_expected_b(string)
    plain_b = expected_b(string.expected_hz, material="nylon")[0]
    return (b, plain_b) if factor >= WOUND_FACTOR and plain_b > FAR_STIFFER * b else (b,)


def _noise(power: np.ndarray, df: float) -> np.ndarray:
    """What lies between the lines, on the same grid: a running median. float64."""
    return (median_filter(power, max(5, int(FLOOR_HZ / df)) | 1, mode="nearest") / MEDIAN_OF_EXPONENTIAL).astype(float)


def _pick(power: np.ndarray, new: np.ndarray, noise: np.ndarray, hidden: np.ndarray, df: float, resolution_hz: float) -> NewLines:
    """The narrow peaks of `power` of which enough is `new`, placed by a parabola through three log powers. df: step of the bins, Hz."""
    reach = max(3, int(1.6 * resolution_hz / df)) | 1
    top = maximum_filter1d(power, reach)
    at = np.flatnonzero((power == top) & (new > NEW_SHARE * power))
    at = at[(at > LOWEST_LINE_HZ / df) & (at < len(power) - 1)]
    salience, level = (10 * np.log10(np.maximum(new[at], 1e-30) / over) for over in (noise[at], max(float(new.max()), 1e-30)))
    clear = (salience > LEAST_SALIENCE_DB) & (level > -LEVEL_RANGE_DB) & _is_narrow(power, at, df, resolution_hz)
    at, salience, level = at[clear], salience[clear], level[clear]
    strongest = np.sort(np.argsort(-salience)[:N_STRONGEST_LINES])
    at, salience, level = at[strongest], salience[strongest], level[strongest]
    a, b, c = (np.log(np.maximum(power[beside], 1e-30)) for beside in (at - 1, at, at + 1))
    bend = a - 2 * b + c
    shift = np.where(bend < 0, 0.5 * (a - c) / np.where(bend < 0, bend, -1.0), 0.0)
    weighted = np.minimum(salience, TOP_SALIENCE_DB) * np.clip(1.0 + (level + 12.0) / 48.0, 0.1, 1.0)  # weak lines of the event say less
    return NewLines((at + shift) * df, weighted, resolution_hz, float(np.maximum(new[at], 0.0).sum()) / len(power) ** 2, hidden, df)


def _is_narrow(power: np.ndarray, at: np.ndarray, df: float, resolution_hz: float) -> np.ndarray:
    """Whether a peak falls off on both sides, as a partial does and the thump of the body does not."""
    reach = (np.maximum(SIDE_RESOLUTIONS * resolution_hz, SIDE_SHARE * at * df) / df).astype(int)
    beside = np.maximum(power[np.maximum(at - reach, 0)], power[np.minimum(at + reach, len(power) - 1)])
    return power[at] > NARROW * beside


@dataclass(frozen=True)
class _Table:
    """An event's new lines on a logarithmic grid of frequencies, so that a partial is looked up, not searched for."""

    salience_db: np.ndarray  # of the line that tells most there, less the farther off it lies
    presence: np.ndarray  # of a partial at that frequency, 0 to 1 by that salience; 0 where it is not in view
    in_view: np.ndarray  # 1 where a partial could be seen, 0 where it is hidden
    top_hz: float
    total_db: float


def named_series_hz(pitch_hz: float, expected_b: float, n: np.ndarray) -> np.ndarray:
    """Where the partials n of a named string of roughly this pitch and stiffness may lie; shape (ways, len(n))."""
    return np.array([shift_hz(pitch_hz, cents) * stiff_ratio(b, n) for b in expected_b * B_FACTORS for cents in OFF_CENTS])


def line_tolerance_hz(freq_hz: np.ndarray, width_hz: float) -> np.ndarray:
    """How far a line may lie off a partial: what strings stray by, and what the resolution leaves open."""
    return np.sqrt((freq_hz * TOLERANCE_CENTS / CENTS) ** 2 + (0.35 * width_hz) ** 2)


def _tabulate(lines: NewLines) -> _Table:
    tolerance_hz = line_tolerance_hz(GRID_HZ, lines.width_hz)
    reach_hz = REACH_TOLERANCES * tolerance_hz
    first, after = (np.searchsorted(edge_hz, lines.freq_hz) for edge_hz in (GRID_HZ + reach_hz, GRID_HZ - reach_hz))
    n_places = after - first
    line = np.repeat(np.arange(len(n_places)), n_places)
    place = np.arange(len(line)) + np.repeat(after - np.cumsum(n_places), n_places)
    distance = (lines.freq_hz[line] - GRID_HZ[place]) / tolerance_hz[place]
    salience_db = np.zeros(len(GRID_HZ))
    np.maximum.at(salience_db, place, lines.salience_db[line] * np.exp(-0.5 * distance**2))
    bins = (GRID_HZ / lines.grid_hz).round().astype(int)
    hidden = (bins >= len(lines.hidden)) | lines.hidden[np.minimum(bins, len(lines.hidden) - 1)]  # nothing is heard above the last
    full_db = min(20.0, float(np.percentile(lines.salience_db, 75)))
    in_view = (~hidden).astype(float)
    presence = np.minimum(salience_db / full_db, 1.0) * in_view
    return _Table(salience_db, presence, in_view, float(lines.freq_hz[-1]), float(lines.salience_db.sum()))


def _match(table: _Table, expected_hz: float, b: float) -> tuple[float, float]:
    """Best likeness over offsets and inharmonicities, and the offset in cents."""
    n = np.arange(1, N_PARTIALS + 1)
    n = n[n * expected_hz < max(table.top_hz * 1.02, 3.0 * expected_hz)]
    at = _places(expected_hz, b)[: len(n)]
    explained = table.salience_db.take(at).sum(axis=0) / table.total_db  # partials lie too far apart for two to claim one line
    weight = 1.0 / np.sqrt(n)
    weight[0] *= 0.5  # the fundamental may be missing
    present = weight @ table.presence.take(at) / np.maximum(weight @ table.in_view.take(at), LEAST_IN_VIEW * weight.sum())
    score = explained * present
    best = int(score.argmax())
    return float(score[best]), float(OFFSETS_CENTS[best // len(B_FACTORS)])


@lru_cache(maxsize=128)
def _places(expected_hz: float, b: float) -> np.ndarray:
    """Where in the table a string's partials lie, for each number, offset and inharmonicity; shape (N_PARTIALS, offsets · ways of B)."""
    above = CENTS * np.log(expected_hz / LOWEST_HZ * stiff_ratio(b * B_FACTORS, np.arange(1, N_PARTIALS + 1)[:, None]))
    at = ((OFFSETS_CENTS[:, None] + above[:, None, :]) / GRID_CENTS).round().astype(int)
    return np.clip(at, 0, len(GRID_HZ) - 1).reshape(N_PARTIALS, -1)
