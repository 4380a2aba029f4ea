"""The neighbours' answer: open strings whose partials lie close to those of the plucked string are driven through the board.

A lightly damped mode driven by a decaying tone is the difference of two decaying tones, κ·A·(e^{s₁t} − e^{s₂t})/(s₁ − s₂):
it grows late, is the stronger the closer the two lie, and rings on at its own pitch when the plucked string is stopped.
"""

from collections.abc import Mapping

import numpy as np

from toneprobe.synth.ringing import Modes
from toneprobe.synth.truth import TruePartials

NEAR_HZ = 8.0
_COUPLING = 0.15  # of what two strings lose into the board, the share that passes between them
_N_DRIVEN = 12


def neighbour_modes(string: str, own: Modes, strings: Mapping[str, TruePartials], sympathy: float) -> tuple[Modes, Modes]:
    """What the other strings add: the driven part at the plucked string's pitches and, pair by pair, the free part at their own. `own`:
    loud modes of `string`, partials from 1 up."""
    answer, of_board = _answering(string, strings)
    drive, hit = np.nonzero(np.abs(own.freq_hz[:_N_DRIVEN, None] - answer.freq_hz) < NEAR_HZ)
    driver, driven = own.where(drive), answer.where(hit)
    share = sympathy * _COUPLING * np.sqrt(strings[string].board_delta_per_s[drive] * of_board[hit])
    strength = share * driver.amplitude / (driver.power - driven.power)
    return Modes(strength, driver.freq_hz, driver.delta_per_s), Modes(-strength, driven.freq_hz, driven.delta_per_s)


def carried_on(driven: Modes, free: Modes, after_s: float) -> Modes:
    """The driven part once its string is stopped, after_s after the onset: it goes on at the neighbours' own pitches."""
    return Modes(driven.amplitude * np.exp(driven.power * after_s), free.freq_hz, free.delta_per_s)


def _answering(string: str, strings: Mapping[str, TruePartials]) -> tuple[Modes, np.ndarray]:
    """The other strings' low partials (amplitudes 1), and what each of them loses into the board."""
    others = [partials for name, partials in strings.items() if name != string]
    freq, delta, of_board = (np.concatenate([np.zeros(0), *(getattr(p, name)[:_N_DRIVEN] for p in others)])
                             for name in ("freq_hz", "delta_per_s", "board_delta_per_s"))
    return Modes(np.ones(freq.size), freq, delta), of_board
