"""What else rings in a pluck: the lines that are no partials of the string, and what each is likely to be.

Kinds: mains hum (at one of the first twelve multiples of 50 or 60 Hz, and not dying with the string); a mode of the body (dying several
times as fast as the string); a second voice (so near a partial that the two beat: the other polarisation, or a string that responds, see
`answers`); a sum tone of two partials (Conklin, JASA 105 (1999) 536); or not known. A kind fits the line's place and decay, which proves
nothing: a body mode may lie where a sum tone would. Levels are read through the window of the partial's zone: half-way between two partials
up to 10 dB too low.
"""

import numpy as np

from toneprobe.audio.hum import LINE_ASTRAY_HZ, MAINS_HZ, N_LINES_HEARD
from toneprobe.measure.figure import HUM, OtherLine
from toneprobe.measure.partials import FAR_DECAY
from toneprobe.measure.series import FIRST_SUM_TONE, Lines, tolerance_hz
from toneprobe.units import CENTS, t60_of_decay

BODY, NOT_KNOWN, VOICE, SUM_TONE = "body", "not known", "second voice", "sum tone"
MOST = 12  # the strongest
RANGE_DB = 35.0  # below the strongest partial; weaker ones may be the skirts of strong partials
STEADY = 0.5  # of the slowest partial's decay rate: what falls no faster does not die with the string
VOICE_HZ, VOICE_CENTS = 12.0, 25.0  # a second voice lies no farther from its partial than either
LEAST_FALL = 0.3  # natural log of the amplitude


def other_lines(lines: Lines, n: np.ndarray, line: np.ndarray) -> tuple[OtherLine, ...]:
    """The strongest others, ascending in frequency. n: numbers of the partials found, line: their places in `lines`, both of shape (k,)."""
    level_db = 10.0 * np.log10(lines.level / lines.level[line].max())
    rest = np.setdiff1d(np.flatnonzero((lines.weight > 0) & (level_db > -RANGE_DB)), line)
    strongest = np.sort(rest[np.argsort(-level_db[rest])][:MOST])
    return tuple(OtherLine(float(lines.freq_hz[i]), float(level_db[i]), _t60_s(lines, i), _kind(lines, int(i), n, line)) for i in strongest)


def _t60_s(lines: Lines, i: int) -> float | None:
    """None for a line that hardly falls while it is heard."""
    falls = lines.delta[i] * lines.length_s[i] > LEAST_FALL
    return float(t60_of_decay(lines.delta[i])) if falls else None


def _kind(lines: Lines, i: int, n: np.ndarray, line: np.ndarray) -> str:
    hz, delta, partial_hz = float(lines.freq_hz[i]), float(lines.delta[i]), lines.freq_hz[line]
    if delta < STEADY * lines.delta[line].min() and any(_is_hum(hz, mains_hz) for mains_hz in MAINS_HZ):
        return HUM
    if delta > FAR_DECAY * np.median(lines.delta[line]):
        return BODY
    beside = int(np.argmin(np.abs(partial_hz - hz)))
    summed = _sum_tone(hz, n, partial_hz)
    apart_hz = abs(partial_hz[beside] - hz)
    if apart_hz <= min(VOICE_HZ, partial_hz[beside] * VOICE_CENTS / CENTS) and not (summed and summed[1] < apart_hz):
        return f"{VOICE} of partial {n[beside]}"
    return summed[0] if summed else NOT_KNOWN


def _is_hum(hz: float, mains_hz: float) -> bool:
    multiple = round(hz / mains_hz)
    return 1 <= multiple <= N_LINES_HEARD and abs(hz - multiple * mains_hz) <= LINE_ASTRAY_HZ


def _sum_tone(hz: float, n: np.ndarray, partial_hz: np.ndarray) -> tuple[str, float] | None:
    """The nearest sum tone within reach, and how far off it lies in Hz."""
    first, second = np.triu_indices(len(n))
    off_hz = np.abs(partial_hz[first] + partial_hz[second] - hz)
    off_hz[n[first] + n[second] < FIRST_SUM_TONE] = np.inf
    k = int(np.argmin(off_hz))
    if off_hz[k] > tolerance_hz(hz):
        return None
    return f"{SUM_TONE} of partials {n[first[k]]} and {n[second[k]]}", float(off_hz[k])
