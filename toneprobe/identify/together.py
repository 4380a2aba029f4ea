"""Whether a second string was plucked with the one that was named.

New lines that are not the named string's partials belong to something else: sum tones (Conklin, JASA 105 (1999) 536) lie near enough to
pass for partials, or are like no string. If much is left, and another string explains it well, two strings sounded at once and neither can
be measured. Strings an octave apart share their lines and are not told apart.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from toneprobe.identify.likeness import NewLines, line_tolerance_hz, match_strings, named_series_hz
from toneprobe.instrument import StringSpec, string_expected_b
from toneprobe.units import CENTS

LEAST_LINES = 4  # a few resonances of the body look like the low partials of some string
EVIDENCE = 0.08  # that share times the likeness of the rest to another string; single real plucks stay below 0.035 (two harps)
FAR_TOLERANCES = 2.5  # a line farther than this from a string's partials is not the string's
STRAY_CENTS, STRAY_F1 = 45.0, 0.2  # so far a false string's partials may lie off and still be its own, but no farther than this share of f1
COVERED_OCTAVE_CENTS = 80.0  # so near an octave from what sounds, by its note, a string on a harp out of tune may lie under its lines
N_PARTIALS = 40  # of the named string, which explain lines


def second_string(lines: NewLines, named: StringSpec, pitch_hz: float, strings: Sequence[StringSpec]) -> StringSpec | None:
    """The string that sounds with `named`, of roughly `pitch_hz`; None if that sounds alone."""
    left = _unexplained(lines, pitch_hz, string_expected_b(named)[0])
    if left.sum() < LEAST_LINES:
        return None
    share = float(lines.salience_db[left].sum() / lines.salience_db.sum())
    if share < EVIDENCE:  # no likeness is more than 1
        return None
    others = [string for string in strings if string.name != named.name and not _is_octave(string.expected_hz, pitch_hz)]
    like = match_strings(replace(lines, freq_hz=lines.freq_hz[left], salience_db=lines.salience_db[left]), others)
    best = int(like.score.argmax()) if others else 0
    return others[best] if others and share * like.score[best] > EVIDENCE else None


def _unexplained(lines: NewLines, pitch_hz: float, expected_b: float) -> np.ndarray:
    """Lines far from every partial of the string, for the offset and inharmonicity that explain most; shape of the lines."""
    n, tolerance_hz = np.arange(1, N_PARTIALS + 1), line_tolerance_hz(lines.freq_hz, lines.width_hz)
    ways_hz = named_series_hz(pitch_hz, expected_b, n)
    off_hz = np.abs(lines.freq_hz[:, None] - ways_hz[:, None, :]).min(axis=2)  # of each line from the nearest partial, in each way
    best = int((np.exp(-0.5 * (off_hz / tolerance_hz) ** 2) @ lines.salience_db).argmax())
    stray_hz = np.minimum(lines.freq_hz * STRAY_CENTS / CENTS, STRAY_F1 * pitch_hz)
    return off_hz[best] > np.maximum(FAR_TOLERANCES * tolerance_hz, stray_hz)


def _is_octave(freq_hz: float, other_hz: float) -> bool:
    octaves = np.log2(freq_hz / other_hz)
    return abs(abs(octaves) - 1.0) < COVERED_OCTAVE_CENTS / 1200.0
