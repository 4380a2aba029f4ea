"""What goes wrong with a string: each fault turns a model into the faulty one."""

from dataclasses import replace

import numpy as np

from toneprobe.synth.decay_time import true_t60_s
from toneprobe.synth.string_model import StringModel
from toneprobe.units import shift_hz


def age(model: StringModel, decay_factor: float) -> StringModel:
    """A duller string: true_t60_s times decay_factor (above 0, at most 1), through inner loss, so the highs lose most."""
    if decay_factor == 1.0:
        return model
    target_s = decay_factor * true_t60_s(model)
    low, high = 0.0, 1.0
    for _ in range(60):
        loss = 0.5 * (low + high)
        too_long = true_t60_s(replace(model, age_loss=model.age_loss + loss)) > target_s
        low, high = (loss, high) if too_long else (low, loss)
    return replace(model, age_loss=model.age_loss + high)


def dirty_windings(model: StringModel, loss_per_s: float) -> StringModel:
    """Dirt between the windings: takes the highs, leaves the mass. loss_per_s: decay rate added at 1 kHz, ∝ f²."""
    return replace(model, highs_loss_per_s=model.highs_loss_per_s + loss_per_s)


def dead_winding(model: StringModel, scatter_cents: float = 6.0, decay_factor: float = 0.5) -> StringModel:
    """A loose winding: the mass becomes uneven so that partials scatter, and the ring shortens."""
    return replace(age(model, decay_factor), scatter_cents=float(np.hypot(model.scatter_cents, scatter_cents)))


def add_mass(model: StringModel, fraction: float, place: float) -> StringModel:
    """A local thickening or a clinging piece of winding: a point mass of a fraction of the string's mass at a place over the length."""
    return replace(model, mass_fraction=fraction, mass_place=place)


def split_polarisations(model: StringModel, cents: float) -> StringModel:
    """Not round: the two polarisations lie cents apart and are both heard, so that every partial beats."""
    return replace(model, split_cents=cents, second_gain=max(model.second_gain, 0.8), second_board=max(model.second_board, 0.6))


def uneven(model: StringModel, cents: float) -> StringModel:
    """Thickness wanders along the string: partials stray (rms cents for the first, as 1/√n above) and the polarisations part by half."""
    return split_polarisations(replace(model, uneven_cents=float(np.hypot(model.uneven_cents, cents))), model.split_cents + cents / 2.0)


def other_gauge(model: StringModel, factor: float) -> StringModel:
    """A string factor times as thick at the same pitch: mass and tension go with its square, and so does B."""
    return _with_b_following(model, replace(model, gauge_mm=model.gauge_mm * factor))


def detune(model: StringModel, cents: float) -> StringModel:
    """The same string slacker or tighter; B moves with tension and with the modulus, which in nylon depends on stress."""
    return _with_b_following(model, replace(model, f0_hz=shift_hz(model.f0_hz, cents)))


def _with_b_following(before: StringModel, after: StringModel) -> StringModel:
    return replace(after, b=before.b * after.physical_b / before.physical_b)
