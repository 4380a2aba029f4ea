"""What a model's partials truly are: their frequencies and decay rates, before anything is played or recorded.

δ is the decay rate of the amplitude in 1/s, T60 = ln(1000)/δ. Each partial is two modes, one for each polarisation: the first is
the loud one, which shakes the soundboard; the second hardly meets it, is heard less and lasts longer.
"""

from dataclasses import dataclass

import numpy as np

from toneprobe.synth.point_mass import point_mass_ratio
from toneprobe.synth.soundboard import mobility_s_kg
from toneprobe.synth.string_model import StringModel
from toneprobe.units import shift_hz

N_PARTIALS = 60
AIR_VISCOSITY_PA_S = 1.8e-5
AIR_DENSITY_KG_M3 = 1.2


@dataclass(frozen=True)
class TruePartials:
    """Arrays of one length, ascending n."""

    n: np.ndarray
    freq_hz: np.ndarray  # first polarisation
    delta_per_s: np.ndarray
    second_freq_hz: np.ndarray
    second_delta_per_s: np.ndarray
    board_delta_per_s: np.ndarray  # the part of delta_per_s that goes into the board

    @property
    def t60_s(self) -> np.ndarray:
        return np.log(1000.0) / self.delta_per_s


def true_partials(model: StringModel, n_max: int = N_PARTIALS) -> TruePartials:
    """The model's partials 1 to n_max (at most N_PARTIALS)."""
    n = np.arange(1, min(n_max, N_PARTIALS) + 1, dtype=float)
    own = np.random.default_rng(model.individual).normal(size=(3, N_PARTIALS))[:, : n.size]
    cents = model.scatter_cents * own[0] + model.uneven_cents * own[1] / np.sqrt(n)
    freq = shift_hz(n * model.f0_hz * np.sqrt(1.0 + model.b * n**2), cents)
    if model.mass_fraction > 0.0:
        freq = freq * point_mass_ratio(n, model.mass_fraction, model.mass_place)
    second = shift_hz(freq, model.split_cents) + model.split_hz * own[2]
    inside, board = _inside_delta(model, n, freq), model.tension_n / (model.length_mm * 1e-3) * mobility_s_kg(model.board, freq)
    return TruePartials(n, freq, inside + board, second, inside + model.second_board * board, board)


def _inside_delta(model: StringModel, n: np.ndarray, freq_hz: np.ndarray) -> np.ndarray:
    """Decay rate through air, the string's own matter, age and dirt."""
    inner = np.pi * freq_hz * (model.inner_loss + model.bend_loss * model.b * n**2 + model.age_loss)
    return model.air * _air_delta(model, freq_hz) + inner + model.highs_loss_per_s * (freq_hz / 1000.0) ** 2


def _air_delta(model: StringModel, freq_hz: np.ndarray) -> np.ndarray:
    """Viscous drag of air on a thin cylinder (Stokes; as used by Cuesta and Valette): δ = (πη + πd·√(πηρf)) / µ."""
    diameter_m = model.gauge_mm * 1e-3
    drag = AIR_VISCOSITY_PA_S + diameter_m * np.sqrt(np.pi * AIR_VISCOSITY_PA_S * AIR_DENSITY_KG_M3 * freq_hz)
    return np.pi * drag / model.linear_density_kg_m
