"""What the microphone, its place and the room did to levels: one smooth curve over frequency for all strings of a sweep.

Level of partial n of string i, now minus fresh: L_in = g_i + M(f_in) + rest. g_i is how hard the string was plucked; M is a broken line
over log frequency with a knot at each octave and a penalty on its bends. Strings whose levels slope over frequency otherwise than most
(dull ones) count little, so up to a third of them may be bad.

A mean slope shared by all strings cannot be told from all strings having gone dull: it is taken out, and told as common. A microphone
cannot change a decay, so decays are not touched.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pairing import Pairs
from toneprobe.baseline.robust import MEDIAN_CHI2, middle_of_most, student_trust

LEAST_STRINGS = 8  # fewer show no common curve
BEND_DB = 2.0  # rms bend (second difference) of a microphone's or room's curve from octave to octave, as a prior
N_ROUNDS = 12  # of fitting and weighing anew
KNOTS = np.arange(np.log2(32.7), np.log2(20000.0) + 1.0)  # log2 of frequency in Hz, an octave apart


@dataclass(frozen=True)
class LevelCurve:
    """Gain of the present sweep over the fresh one, dB at knots of log2 frequency, mean zero over the strings used."""

    gains_db: tuple[float, ...]

    def at(self, freq_hz: np.ndarray) -> np.ndarray:
        return np.interp(np.log2(freq_hz), KNOTS, self.gains_db)

    @property
    def db_per_octave(self) -> float:
        """Mean slope between 250 Hz and 4 kHz: negative where everything became duller."""
        return float(np.diff(self.at(np.array([250.0, 4000.0])))[0] / 4.0)


def level_curve(strings: Sequence[Pairs]) -> LevelCurve | None:
    """The curve that most strings share; None with fewer than LEAST_STRINGS that have three levels in common."""
    usable = [kept for pairs in strings if len((kept := pairs.where(np.isfinite(pairs.level_db))).n) >= 3]
    if len(usable) < LEAST_STRINGS:
        return None
    levels = np.concatenate([pairs.level_db for pairs in usable])
    owner = np.concatenate([np.full(len(pairs.n), i) for i, pairs in enumerate(usable)])
    variance = limits.PARTIAL_LEVEL_SPREAD_DB**2 * np.concatenate([pairs.per_pluck for pairs in usable])
    hats = _hats(np.log2(np.concatenate([pairs.freq_hz for pairs in usable])))
    design = np.hstack([hats, np.eye(len(usable))[owner]])
    string_trust = _string_trust(usable)[owner]
    trust = string_trust
    for _ in range(N_ROUNDS):
        weights = trust / variance
        solution = np.linalg.solve(design.T @ (weights[:, None] * design) + _penalty(len(usable)), design.T @ (weights * levels))
        trust = string_trust * _partial_trust(levels - design @ solution, variance)
    gains = solution[: len(KNOTS)]
    return LevelCurve(tuple((gains - np.mean(hats @ gains)).tolist()))


def _string_trust(strings: Sequence[Pairs]) -> np.ndarray:
    """Of each string: 1 where its levels slope over log frequency as most do, little where they do not."""
    octaves = [np.log2(pairs.freq_hz) - np.log2(pairs.freq_hz).mean() for pairs in strings]
    slopes = np.array([float(x @ pairs.level_db / (x @ x)) for x, pairs in zip(octaves, strings, strict=True)])
    off = np.abs(slopes - middle_of_most(slopes))
    return 1.0 / (1.0 + (off / (2.0 * max(float(np.median(off)), 0.3))) ** 4)


def _hats(log_freq: np.ndarray) -> np.ndarray:
    """The basis of the broken line: at each frequency, how much each knot counts; shape (frequencies, knots)."""
    return np.maximum(0.0, 1.0 - np.abs(np.clip(log_freq, KNOTS[0], KNOTS[-1])[:, None] - KNOTS))


def _penalty(n_strings: int) -> np.ndarray:
    bends = np.diff(np.eye(len(KNOTS)), n=2, axis=0) / BEND_DB
    penalty = np.zeros((len(KNOTS) + n_strings,) * 2)
    penalty[: len(KNOTS), : len(KNOTS)] = bends.T @ bends
    return penalty + 1e-6 * np.eye(len(penalty))  # level of the curve against the strings' own: any will do


def _partial_trust(rest: np.ndarray, variance: np.ndarray) -> np.ndarray:
    """By each partial's own distance from the curve (Student's t)."""
    off2 = rest**2 / variance
    return student_trust(off2, max(1.0, float(np.median(off2)) / MEDIAN_CHI2))
