"""The decay time that a model's pluck truly has, by the definition of `measure.decay` put to its true modes.

Of each partial 1 to 6 the slope of its energy still to come over the first 40 dB; of these the mean of ln δ, weighed by amplitude.
As it sounded: both polarisations as that pluck mixed them, beating. Of the string itself: without the beat, pulled at the usual angle.
The model's own `true_t60_s`, three times the fall from −5 to −25 dB of all low partials together, is the longer the slower the lowest is.
"""

from dataclasses import replace

import numpy as np

from toneprobe.synth.pluck import USUAL_PLUCK, Pluck, bridge_force_n
from toneprobe.synth.soundboard import radiation
from toneprobe.synth.string_model import StringModel
from toneprobe.synth.truth import true_partials
from toneprobe.units import LN_1000

HIGHEST_HZ = 20_000.0
USUAL_ANGLE_DEG = 25.0  # of the pull against the loud polarisation: the middle of what the model draws


def sounded_t60_s(model: StringModel, pluck: Pluck) -> float:
    """Without noise, neighbours, room and sum tones: what this pluck's own partials did."""
    return _mean_t60_s(model, pluck, beating=True)


def strings_t60_s(model: StringModel) -> float:
    return _mean_t60_s(model, replace(USUAL_PLUCK, angle_deg=USUAL_ANGLE_DEG), beating=False)


def _mean_t60_s(model: StringModel, pluck: Pluck, *, beating: bool) -> float:
    partials = true_partials(model, 6)
    level = np.abs(bridge_force_n(model, partials, pluck) * radiation(model.board, partials.freq_hz))
    level = np.where(partials.freq_hz < HIGHEST_HZ, level, 0.0)
    split_hz = (partials.second_freq_hz - partials.freq_hz) * beating
    delta = [energy_delta(modes, apart_hz, model.second_gain * np.tan(np.radians(pluck.angle_deg)), beating=beating)
             for *modes, apart_hz in zip(partials.delta_per_s, partials.second_delta_per_s, split_hz, strict=True)]
    return LN_1000 / float(np.exp(np.average(np.log(delta), weights=level)))


def energy_delta(modes: tuple[float, float], apart_hz: float, ratio: float, *, beating: bool) -> float:
    """Decay rate of two modes' energy still to come, over its first 40 dB. `ratio`: amplitude of the second over the first."""
    time_s = np.linspace(0.0, 14.0 / min(modes), 20_000)
    first, second = np.exp(-modes[0] * time_s), ratio * np.exp((-modes[1] + 2j * np.pi * apart_hz) * time_s)
    power = np.abs(first + second) ** 2 if beating else first**2 + np.abs(second) ** 2
    left = np.cumsum(power[::-1])[::-1]
    inside = left > left[0] * 1e-4
    return -float(np.polyfit(time_s[inside], np.log(left[inside]), 1)[0]) / 2
