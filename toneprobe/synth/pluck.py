"""One pluck of one string: the finger, the two polarisations, the glide, the sum tones and the board's thump."""

from dataclasses import dataclass, replace

import numpy as np

from toneprobe.synth.ringing import Glide, Modes, join
from toneprobe.synth.soundboard import radiation
from toneprobe.synth.string_model import StringModel
from toneprobe.synth.truth import TruePartials

FULL_SCALE_PER_N = 0.05  # recording level of one newton at the string's foot, at gain 0 dB
ATTACK_S = 0.0012  # the finger lets go within about this time
_N_SUMMED = 8  # sum tones of partials up to this one
_LENGTHWISE = 0.03  # how well the board hears a force along the string, against one across it


@dataclass(frozen=True)
class Pluck:
    string: str = ""
    onset_s: float = 0.0  # the finger lets go
    strength: float = 0.5  # 0 to 1: gentle 0.2, usual 0.5, firm 1
    place: float = 0.36  # distance from one end over the length
    width_mm: float = 12.0  # of the finger on the string
    angle_deg: float | None = None  # of the pull against the loud polarisation; None: drawn
    thump: float = 1.0  # scale of the board's own ring


USUAL_PLUCK = Pluck()


def pull_mm(model: StringModel, pluck: Pluck) -> float:
    """How far the finger pulls the string aside."""
    return pluck.strength * 8.0 * model.length_mm / (model.length_mm + 700.0)


def bridge_force_n(model: StringModel, partials: TruePartials, pluck: Pluck) -> np.ndarray:
    """Amplitude of each partial's force on the soundboard, signed. A string pulled aside by h at place p: 2·T·h·sin(nπp) / (π·L·p·(1 −
    p)·n), smoothed by the finger's width and by its release time, shorter the firmer the pluck."""
    n, p = partials.n, pluck.place
    corner = 2.0 * model.tension_n * pull_mm(model, pluck) / (np.pi * model.length_mm * p * (1.0 - p))
    rounding = np.exp(-0.5 * (n * np.pi * pluck.width_mm / np.sqrt(12.0) / model.length_mm) ** 2)
    release = 1.0 / np.sqrt(1.0 + (partials.freq_hz / (400.0 + 3600.0 * pluck.strength)) ** 2)
    return corner * np.sin(n * np.pi * p) / n * rounding * release


def pluck_glide(model: StringModel, partials: TruePartials, pluck: Pluck) -> Glide:
    """The pull stretches the string: mean strain h²/(4·L²·p·(1 − p)) raises the tension; it falls as the energy does."""
    slope = pull_mm(model, pluck) / model.length_mm
    strain = 0.25 * slope**2 / (pluck.place * (1.0 - pluck.place))
    return Glide(0.5 * strain * model.stretch_stiffness_n / model.tension_n, 2.0 * float(partials.delta_per_s[0]))


def with_angle(pluck: Pluck, rng: np.random.Generator) -> Pluck:
    """The pluck with the angle of its pull: its own, or one drawn."""
    drawn = float(rng.normal(25.0, 8.0))
    return pluck if pluck.angle_deg is not None else replace(pluck, angle_deg=drawn)


def string_modes(model: StringModel, partials: TruePartials, pluck: Pluck) -> Modes:
    """Both polarisations of every partial; amplitudes in full scale. The pluck's angle must be given."""
    force = bridge_force_n(model, partials, pluck)
    angle = np.radians(pluck.angle_deg)
    heard = FULL_SCALE_PER_N * force * radiation(model.board, partials.freq_hz) * _phases(model, partials.n.size)
    first = Modes(np.cos(angle) * heard, partials.freq_hz, partials.delta_per_s)
    second = Modes(np.sin(angle) * model.second_gain * heard, partials.second_freq_hz, partials.second_delta_per_s)
    return join([first, second])


def sum_tone_modes(model: StringModel, partials: TruePartials, pluck: Pluck) -> Modes:
    """Tones at f_i + f_j, forced by the swing of the tension: ∝ the product of two partials, decaying at the sum of their rates."""
    low = slice(0, _N_SUMMED)
    slope = bridge_force_n(model, partials, pluck)[low] / model.tension_n * _phases(model, partials.n.size)[low]
    i, j = np.triu_indices(slope.size)
    freq = partials.freq_hz[low][i] + partials.freq_hz[low][j]
    force = model.sum_tones * _LENGTHWISE * model.stretch_stiffness_n * slope[i] * slope[j] * np.where(i == j, 0.25, 0.5)
    delta = partials.delta_per_s[low][i] + partials.delta_per_s[low][j]
    return Modes(FULL_SCALE_PER_N * force * radiation(model.board, freq), freq, delta)


def thump_modes(model: StringModel, pluck: Pluck, rng: np.random.Generator) -> Modes:
    """The board's resonances, knocked by the release and ringing for tens of milliseconds."""
    freq, quality = np.array(model.board.freqs_hz), np.array(model.board.qualities)
    knock_n = 0.25 * pluck.thump * pluck.strength * np.exp(-freq / 700.0)
    turns = np.exp(1j * rng.normal(-np.pi / 2.0, 0.3, freq.size))
    return Modes(FULL_SCALE_PER_N * knock_n * turns, freq, np.pi * freq / quality)


def _phases(model: StringModel, n: int) -> np.ndarray:
    """Phase that the way through the board gives each partial; the string's own, the same at each pluck."""
    return np.exp(1j * np.random.default_rng([model.individual, 7]).uniform(-np.pi, np.pi, 64))[:n]
