"""Decaying tones into samples, many at once.

Within a block of 64 samples every tone is a fixed factor times one that depends only on the place in the block, so a block
of all tones is one product of matrices. Each tone is dropped when it is 100 dB down.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_BLOCK = 64
_FADED_NEPERS = 100.0 / 20.0 * float(np.log(10.0))


@dataclass(frozen=True)
class Modes:
    """Decaying tones Re[amplitude·exp((2πi·freq − delta)·t)] from t = 0 on; arrays of one length."""

    amplitude: np.ndarray  # complex
    freq_hz: np.ndarray
    delta_per_s: np.ndarray

    def where(self, keep: np.ndarray | slice) -> Modes:
        return Modes(self.amplitude[keep], self.freq_hz[keep], self.delta_per_s[keep])

    @property
    def power(self) -> np.ndarray:
        """Complex s of each tone's exp(s·t)."""
        return 2j * np.pi * self.freq_hz - self.delta_per_s


@dataclass(frozen=True)
class Glide:
    """All frequencies start (1 + start) times too high, and the excess dies out at rate_per_s."""

    start: float = 0.0
    rate_per_s: float = 1.0

    def excess(self, time_s: np.ndarray) -> np.ndarray:
        return self.start * np.exp(-self.rate_per_s * time_s)

    def advance_s(self, time_s: np.ndarray) -> np.ndarray:
        """How far the phase has run ahead, as time."""
        return self.start * -np.expm1(-self.rate_per_s * time_s) / self.rate_per_s


@dataclass(frozen=True)
class Stretch:
    """When tones sound: they start at start_s, reach full strength within rise_s, and fade over the last fade_s before stop_s."""

    start_s: float
    stop_s: float
    rise_s: float
    fade_s: float = 0.0


NO_GLIDE = Glide()


def join(parts: list[Modes]) -> Modes:
    return Modes(*(np.concatenate([getattr(part, name) for part in parts]) for name in ("amplitude", "freq_hz", "delta_per_s")))


def add_ringing(out: np.ndarray, modes: Modes, stretch: Stretch, *, rate_hz: float, glide: Glide = NO_GLIDE) -> None:
    """Add the modes to `out` (in place), t = 0 at stretch.start_s, which may fall between samples."""
    first, stop = max(int(stretch.start_s * rate_hz), 0), min(round(stretch.stop_s * rate_hz), out.size)
    if stop <= first:
        return
    late_s = stretch.start_s - first / rate_hz
    tone = ring(modes, rate_hz=rate_hz, n_samples=stop - first, late_s=late_s, glide=glide)
    n_rise, n_fade = (min(int(length_s * rate_hz) + 2, tone.size) for length_s in (stretch.rise_s, stretch.fade_s))
    tone[:n_rise] *= _rise(np.arange(n_rise) / rate_hz - late_s, stretch.rise_s)
    if stretch.fade_s > 0.0:
        tone[-n_fade:] *= _rise((np.arange(n_fade)[::-1]) / rate_hz, stretch.fade_s)
    out[first:stop] += tone


def _rise(time_s: np.ndarray, length_s: float) -> np.ndarray:
    return 0.5 - 0.5 * np.cos(np.pi * np.clip(time_s / length_s, 0.0, 1.0))


def ring(modes: Modes, *, rate_hz: float, n_samples: int, late_s: float = 0.0, glide: Glide = NO_GLIDE) -> np.ndarray:
    """Samples k = 0 … n_samples − 1 of the sum of the modes at t = k/rate_hz − late_s; zero before t = 0. float64. Tones at or above 0.45 ×
    rate_hz are left out, so that nothing folds back."""
    modes = modes.where(modes.freq_hz < 0.45 * rate_hz)
    out = np.zeros(-(-n_samples // _BLOCK) * _BLOCK)
    last = _FADED_NEPERS / modes.delta_per_s * rate_hz / _BLOCK if modes.freq_hz.size else np.zeros(1)  # in blocks
    start, length, n_blocks = 0, 16, out.size // _BLOCK
    while start < min(n_blocks, last.max()):
        stop = min(start + length, n_blocks)
        out[start * _BLOCK : stop * _BLOCK] = _blocks(modes.where(last > start), np.arange(start, stop), rate_hz, late_s, glide)
        start, length = stop, min(int(length * 1.5), 4096)
    out[: int(np.ceil(late_s * rate_hz))] = 0.0
    return out[:n_samples]


def _blocks(modes: Modes, blocks: np.ndarray, rate_hz: float, late_s: float, glide: Glide) -> np.ndarray:
    """The blocks' samples; a glide turns each tone within a block by a small angle, which is taken to its second power."""
    centre_s = (blocks + 0.5) * _BLOCK / rate_hz - late_s
    within_s = (np.arange(_BLOCK) - 0.5 * _BLOCK) / rate_hz
    turn = 2j * np.pi * modes.freq_hz
    at_centre = modes.amplitude * np.exp(np.outer(centre_s, modes.power) + np.outer(glide.advance_s(centre_s), turn))
    in_block = np.exp(np.outer(modes.power, within_s))
    samples = _real_product(at_centre, in_block)
    if glide.start:
        excess, angle = glide.excess(centre_s)[:, None], np.outer(turn, within_s)
        samples += _real_product(at_centre * excess, in_block * angle) + _real_product(at_centre * excess**2, in_block * angle**2 / 2.0)
    return samples.ravel()


def _real_product(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Real part of left @ right, in single precision (errors 140 dB down)."""
    return np.hstack([left.real, -left.imag]).astype(np.float32) @ np.vstack([right.real, right.imag]).astype(np.float32)
