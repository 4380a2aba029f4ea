"""One pluck of the string model alone, without a harp, a room or a recorder about it."""

import numpy as np

from toneprobe.synth.pluck import ATTACK_S, USUAL_PLUCK, Pluck, pluck_glide, string_modes, sum_tone_modes, thump_modes, with_angle
from toneprobe.synth.ringing import Stretch, add_ringing, join
from toneprobe.synth.string_model import StringModel
from toneprobe.synth.truth import true_partials


def render_pluck(model: StringModel, *, rate_hz: float, duration_s: float, pluck: Pluck = USUAL_PLUCK, seed: int = 0) -> np.ndarray:
    """The pluck alone, in a dry room without noise: float64, shape (round(duration_s·rate_hz),), full scale ±1.

    The string is let ring until the end. The seed draws the angle of the pull and the phases of the thump.
    """
    rng, partials = np.random.default_rng(seed), true_partials(model)
    pluck = with_angle(pluck, rng)
    modes = join([string_modes(model, partials, pluck), sum_tone_modes(model, partials, pluck), thump_modes(model, pluck, rng)])
    out = np.zeros(round(duration_s * rate_hz))
    stretch = Stretch(pluck.onset_s, duration_s, ATTACK_S)
    add_ringing(out, modes, stretch, rate_hz=rate_hz, glide=pluck_glide(model, partials, pluck))
    return out
