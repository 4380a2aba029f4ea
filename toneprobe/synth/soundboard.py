"""The soundboard: how much it takes from each partial, what it makes of it, and its own short ring.

A board is a row of broad resonances. Its mobility (velocity per force at the string's foot) is their sum over a floor; a string of
tension T and length L loses δ = T·G/L of its amplitude a second to a mobility with real part G.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

SEED = 1  # of the resonances, drawn once


@dataclass(frozen=True)
class Soundboard:
    freqs_hz: tuple[float, ...]
    qualities: tuple[float, ...]  # Q of each resonance
    mobilities_s_kg: tuple[float, ...]  # real mobility at the peak of each
    floor_s_kg: float  # what the many overlapping high modes leave everywhere above the lowest resonances


@lru_cache(maxsize=1)
def soundboard() -> Soundboard:
    """The one soundboard of all model harps."""
    rng = np.random.default_rng(SEED)
    freqs = np.geomspace(75.0, 3000.0, 26) * np.exp(rng.normal(0.0, 0.06, 26))
    qualities = np.geomspace(28.0, 9.0, 26) * np.exp(rng.normal(0.0, 0.15, 26))
    peaks = 2.5e-3 * np.exp(rng.normal(0.0, 0.35, 26))
    return Soundboard(tuple(freqs), tuple(qualities), tuple(peaks), 1.2e-3)


def mobility_s_kg(board: Soundboard, freq_hz: np.ndarray) -> np.ndarray:
    """Real part of the mobility, same shape as freq_hz."""
    f = np.asarray(freq_hz, dtype=float)[..., None]
    peak_hz, quality = np.array(board.freqs_hz), np.array(board.qualities)
    resonances = np.array(board.mobilities_s_kg) / (1.0 + (quality * (f / peak_hz - peak_hz / f)) ** 2)
    return resonances.sum(axis=-1) + board.floor_s_kg * f[..., 0] / (f[..., 0] + 60.0)


def radiation(board: Soundboard, freq_hz: np.ndarray) -> np.ndarray:
    """Sound per force at the string's foot, relative: the resonances over a weak bass (small board) and softened highs."""
    f = np.asarray(freq_hz, dtype=float)
    if not board.freqs_hz:
        return np.ones_like(f)
    small = (f / 90.0) ** 2 / (1.0 + (f / 90.0) ** 2)
    return np.sqrt(mobility_s_kg(board, f) / 3e-3) * small / np.sqrt(1.0 + (f / 5000.0) ** 2)
