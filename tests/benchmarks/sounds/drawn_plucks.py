"""Plucks drawn from a statistical model of a string and of what two takes of it differ by: no sound, so thousands of sweeps in seconds.

The scatter is that measured on real takes: single partials' decays by 25 % (two polarisations), all of a pluck's together by 6 %,
frequencies by a fifth of a hertz and a cent, levels by 3 dB and a tilt. It is drawn here independently of the program's own thresholds,
with tails heavier than a normal distribution's (Student's t, 5 degrees of freedom).
"""

from dataclasses import dataclass, field, replace

import numpy as np

from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import Figure, Partial, PluckMeasurement
from toneprobe.units import LN_1000

NONE = Figure(None, None, "not drawn")


@dataclass(frozen=True)
class Takes:
    """Standard deviations of one take."""

    partial_decay: float = 0.22
    string_decay: float = 0.06
    freq_hz: float = 0.12
    freq_cents: float = 0.8
    level_db: float = 3.0
    tilt_db_per_octave: float = 1.0
    beat_db: float = 1.2
    pitch_cents: float = 0.6


@dataclass(frozen=True)
class DrawnString:
    """One string's truth. Arrays over partials 1 to k."""

    spec: StringSpec
    b: float
    log_decay: np.ndarray
    level_db: np.ndarray
    astray_cents: np.ndarray
    beat_db: np.ndarray
    cents: float = 0.0  # off the expected pitch

    @property
    def n(self) -> np.ndarray:
        return np.arange(1, len(self.log_decay) + 1)


@dataclass(frozen=True)
class Recorder:
    """What a microphone adds to levels."""

    db_per_octave: float = 0.0
    bump_db: float = 0.0  # at 2 kHz, an octave wide


def draw_string(spec: StringSpec, rng: np.random.Generator) -> DrawnString:
    """A healthy string: loss rising with frequency, more partials in the bass."""
    hz = spec.expected_hz
    k = int(np.clip(round(16 - 2.2 * np.log2(hz / 100.0)), 4, 16))
    n = np.arange(1, k + 1)
    b = 3e-4 * (hz / 260.0) ** 1.1 * float(np.exp(rng.normal(0, 0.3)))
    decay = LN_1000 / (4.5 * (220.0 / hz) ** 0.6) * n**0.5 * np.exp(rng.normal(0, 0.25, k))
    level_db = -3.0 * np.log2(n) + rng.normal(0, 5, k)
    return DrawnString(spec, b, np.log(decay), level_db, rng.normal(0, 1.0, k), np.abs(rng.normal(0, 2.0, k)))


def draw_pluck(string: DrawnString, rng: np.random.Generator, *, takes: Takes = Takes(), recorder: Recorder = Recorder(),
               strength_db: float = 0.0) -> PluckMeasurement:
    """One pluck's measurement. strength_db tilts the spectrum: harder is brighter, by a dB per octave for 6 dB."""
    n, k = string.n, len(string.n)
    hz = string.spec.expected_hz
    off = string.cents + rng.normal(0, takes.pitch_cents)
    freq = n * hz * 2 ** (off / 1200) * np.sqrt((1 + string.b * n**2) / (1 + string.b)) * 2 ** (string.astray_cents / 1200)
    freq = freq * 2 ** (takes.freq_cents * _t(rng, k) / 1200) + takes.freq_hz * _t(rng, k)
    decay = string.log_decay + takes.partial_decay * _t(rng, k) + rng.normal(0, takes.string_decay)
    octaves = np.log2(freq / 500.0)
    tilt = rng.normal(0, takes.tilt_db_per_octave) + strength_db / 6.0 + recorder.db_per_octave
    level = string.level_db + takes.level_db * _t(rng, k) + tilt * octaves + recorder.bump_db * np.exp(-0.5 * (octaves - 2.0) ** 2)
    beat = np.maximum(0.0, string.beat_db + takes.beat_db * _t(rng, k))
    t60 = LN_1000 / np.exp(decay)
    partials = tuple(Partial(int(n[i]), float(freq[i]), 0.02, float(level[i] - level.max()), 40.0, float(t60[i]), float(0.2 * t60[i]),
                             float(string.astray_cents[i]), 2.0, float(beat[i])) for i in range(k))
    power = 10 ** (level / 10)
    centroid = float(np.sum(power * freq) / np.sum(power))
    ring = float(np.median(t60[: max(2, k // 2)]))
    return PluckMeasurement(
        string.spec.name, string.spec.note, float(rng.uniform(0, 600)), 3.0, 0.98, 45.0,
        pitch_hz=Figure(hz * 2 ** (off / 1200), 0.05), cents_off=Figure(off, 0.5),
        inharmonicity=Figure(string.b * float(np.exp(rng.normal(0, 0.03))), 0.03 * string.b),
        t60_s=Figure(ring, 0.1 * ring), centroid_hz=Figure(centroid, 0.1 * centroid), centroid_ratio=Figure(centroid / hz, 0.1),
        centroid_partials_hz=Figure(centroid, 0.1 * centroid), beat_hz=NONE, beat_depth_db=NONE,
        trueness_cents=Figure(float(np.sqrt(np.mean(string.astray_cents**2))), 0.3), glide_cents=NONE, partials=partials, flags=())


def draw_harp(instrument: Instrument, seed: int) -> dict[str, DrawnString]:
    rng = np.random.default_rng([seed, 1])
    return {spec.name: draw_string(spec, rng) for spec in instrument.strings}


@dataclass(frozen=True)
class DrawnSweep:
    """How a sweep is played and recorded."""

    n_each: int = 2
    takes: Takes = field(default_factory=Takes)
    recorder: Recorder = field(default_factory=Recorder)
    strength_db: float = 0.0
    cents: float = 0.0  # the whole harp


def draw_sweep(strings: dict[str, DrawnString], how: DrawnSweep, seed: int) -> list[PluckMeasurement]:
    rng = np.random.default_rng([seed, 2])
    return [draw_pluck(replace(string, cents=string.cents + how.cents), rng, takes=how.takes, recorder=how.recorder,
                       strength_db=how.strength_db) for string in strings.values() for _ in range(how.n_each)]


def shorten(string: DrawnString, ring: float) -> DrawnString:
    """Ring times `ring`."""
    return replace(string, log_decay=string.log_decay - np.log(ring))


def stray(string: DrawnString, rms_cents: float, rng: np.random.Generator) -> DrawnString:
    pattern = rng.normal(0, 1, len(string.n))
    return replace(string, astray_cents=string.astray_cents + rms_cents * pattern / np.sqrt(np.mean(pattern**2)))


def _t(rng: np.random.Generator, size: int) -> np.ndarray:
    """Student's t with 5 degrees of freedom, scaled to unit variance."""
    return rng.standard_t(5, size) / np.sqrt(5.0 / 3.0)
