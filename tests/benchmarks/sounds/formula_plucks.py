"""Plucks made from formulas, so that every figure is known before anything is measured; for tests and benchmarks.

A partial is Σ A·exp(−δt)·cos(2πft + φ) from its onset on, sampled at t = k/rate (no end point: a tone over `linspace` with one is
0.8 cents flat at 50 ms). Partials lie at n·f0·√(1 + B·n²) (Fletcher 1964). Signal-to-noise ratio: mean square of all partials at the
onset, ΣA²/2, over the variance of white noise in the whole band.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.instrument import StringSpec
from toneprobe.units import LN_1000

PRE_S = 0.005

Mode = tuple[float, float, float, float]  # frequency in Hz, decay rate per s, amplitude, phase at the onset


@dataclass(frozen=True)
class FormulaPluck:
    """One pluck. The decay rate of partial n is δ1·n^loss_power, its amplitude n^−level_power."""

    f1_hz: float  # sounding first partial, f0·√(1 + B)
    b: float = 0.0
    t60_s: float = 3.0  # of the first partial
    n_partials: int = 16
    loss_power: float = 0.6
    level_power: float = 1.0
    astray_cents: tuple[float, ...] = ()  # of partials 1, 2, … off the series; 0 for the rest
    missing: tuple[int, ...] = ()
    level_db: float = -6.0  # sum of all amplitudes, under full scale
    glide_cents: float = 0.0  # of all partials at the onset, falling as the first partial's energy
    split_hz: float = 0.0  # a second mode beside each partial, so much higher …
    split_ratio: float = 0.0  # … and of this amplitude ratio …
    split_decay: float = 1.0  # … decaying so many times as fast
    seed: int = 0  # of the phases

    @property
    def n(self) -> np.ndarray:
        return np.arange(1, self.n_partials + 1)

    @property
    def f0_hz(self) -> float:
        return self.f1_hz / float(np.sqrt(1.0 + self.b))

    @property
    def string_t60_s(self) -> float:
        """Decay time of the string as `measure.decay` defines it: the mean of ln δ over the low partials, weighed by amplitude."""
        weight = self.amplitude[:6]
        return LN_1000 / float(np.exp(np.sum(weight * np.log(self.delta[:6])) / weight.sum()))

    @property
    def freq_hz(self) -> np.ndarray:
        astray = np.zeros(self.n_partials)
        astray[: len(self.astray_cents)] = self.astray_cents[: self.n_partials]
        return self.n * self.f0_hz * np.sqrt(1.0 + self.b * self.n**2) * 2.0 ** (astray / 1200.0)

    @property
    def delta(self) -> np.ndarray:
        return LN_1000 / self.t60_s * self.n**self.loss_power

    @property
    def amplitude(self) -> np.ndarray:
        amplitude = np.where(np.isin(self.n, self.missing), 0.0, self.n**-self.level_power)
        return amplitude * 10.0 ** (self.level_db / 20.0) / amplitude.sum()


def damped(time_s: np.ndarray, freq_hz: float, delta: float, *, amplitude: float = 1.0, phase: float = 0.0) -> np.ndarray:
    """A·exp(−δt)·cos(2πft + φ) from t = 0 on, nothing before; shape of time_s."""
    after = np.maximum(time_s, 0.0)
    return np.where(time_s < 0.0, 0.0, amplitude * np.exp(-delta * after) * np.cos(2.0 * np.pi * freq_hz * after + phase))


def time_grid_s(rate_hz: float, length_s: float, pre_s: float = PRE_S) -> np.ndarray:
    """Sample times from pre_s before the onset, which falls on a sample, to length_s after it."""
    n_before = round(pre_s * rate_hz)
    return np.arange(-n_before, round(length_s * rate_hz)) / rate_hz


def render(pluck: FormulaPluck, *, rate_hz: float = 44100, length_s: float = 3.0, pre_s: float = PRE_S, late_s: float = 0.0,
           snr_db: float | None = 60.0) -> np.ndarray:
    """The pluck's samples, in noise where snr_db is given; float64, shape (n,). `late_s`: the onset lies so much later, between samples."""
    time_s, rng = time_grid_s(rate_hz, length_s, pre_s) - late_s, np.random.default_rng([pluck.seed, 1])
    modes = []
    for freq_hz, delta, amplitude in zip(pluck.freq_hz, pluck.delta, pluck.amplitude, strict=True):
        phases = rng.uniform(-np.pi, np.pi, 2)
        if amplitude == 0.0 or freq_hz > 0.49 * rate_hz:  # nothing folds back
            continue
        modes.append((freq_hz, delta, amplitude, phases[0]))
        if pluck.split_ratio:
            modes.append((freq_hz + pluck.split_hz, delta * pluck.split_decay, amplitude * pluck.split_ratio, phases[1]))
    out, sounding = np.zeros(len(time_s)), time_s >= 0.0
    if modes and sounding.any():
        out[sounding] = _gliding(pluck, modes, time_s[sounding]) if pluck.glide_cents else _steady(modes, time_s[sounding])
    if snr_db is None:
        return out
    return out + np.random.default_rng([pluck.seed, 2]).normal(0.0, noise_sigma(pluck, snr_db), len(out))


def _gliding(pluck: FormulaPluck, modes: Sequence[Mode], time_s: np.ndarray) -> np.ndarray:
    fall = 2.0 * float(pluck.delta[0])
    clock_s = time_s + (2.0 ** (pluck.glide_cents / 1200.0) - 1.0) * -np.expm1(-fall * time_s) / fall
    return sum(amplitude * np.exp(-delta * time_s) * np.cos(2.0 * np.pi * freq_hz * clock_s + phase)
               for freq_hz, delta, amplitude, phase in modes)


def _steady(modes: Sequence[Mode], time_s: np.ndarray) -> np.ndarray:
    """At evenly spaced times a mode is its value at the start of a block times that at the place in it: two small tables, one product."""
    freq_hz, delta, amplitude, phase = np.array(modes).T
    rate_per_s, n = 2j * np.pi * freq_hz - delta, len(time_s)
    block = int(np.sqrt(n)) + 1
    starts = np.exp(1j * phase + np.outer(time_s[::block], rate_per_s)) * amplitude
    within = np.exp(np.outer(rate_per_s, time_s[:block] - time_s[0]))
    return (starts.real @ within.real - starts.imag @ within.imag).ravel()[:n]


def noise_sigma(pluck: FormulaPluck, snr_db: float) -> float:
    return float(np.sqrt(0.5 * np.sum(pluck.amplitude**2)) * 10.0 ** (-snr_db / 20.0))


@dataclass(frozen=True)
class Register:
    """A string as strings of its register are, in round figures (B and decay: orders of a concert harp, from memory)."""

    note: str
    f1_hz: float  # equal temperament, A4 = 440 Hz
    b: float
    t60_s: float
    n_partials: int
    material: str

    def pluck(self, **changes) -> FormulaPluck:
        return FormulaPluck(**{"f1_hz": self.f1_hz, "b": self.b, "t60_s": self.t60_s, "n_partials": self.n_partials} | changes)

    @property
    def spec(self) -> StringSpec:
        return spec_of(self.f1_hz, name=self.note, material=self.material)

    @property
    def length_s(self) -> float:
        """Of a recording that holds most of the ring."""
        return min(6.0, 1.5 * self.t60_s)


REGISTERS = {one.note: one for one in (
    Register("C1", 32.7032, 4e-5, 16.0, 24, "wire"), Register("C2", 65.4064, 4e-5, 12.0, 24, "wire"),
    Register("C3", 130.8128, 1.5e-4, 7.0, 20, "gut"), Register("C4", 261.6256, 2.6e-4, 4.0, 20, "gut"),
    Register("C5", 523.2511, 4.4e-4, 2.5, 20, "gut"), Register("C6", 1046.5023, 7.2e-4, 1.2, 17, "gut"),
    Register("C7", 2093.0045, 1.5e-3, 0.7, 9, "nylon"), Register("G7", 3135.9635, 4.6e-3, 0.4, 5, "nylon"))}


def spec_of(f1_hz: float, *, name: str = "string", material: str | None = None) -> StringSpec:
    """A string that is expected at f1_hz."""
    return StringSpec(name, name, f1_hz, material)
