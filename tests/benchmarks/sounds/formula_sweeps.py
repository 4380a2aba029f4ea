"""Sweeps of formula plucks: which string was plucked when is known, and each pluck is a sum of damped partials and nothing else."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sounds.formula_plucks import FormulaPluck, render
from toneprobe.instrument import Instrument, StringSpec, string_expected_b

HAND_S = 0.15


@dataclass(frozen=True)
class FormulaSweep:
    samples: np.ndarray
    rate_hz: int
    truth: tuple[tuple[str, float], ...]  # string and onset in s, in time order


def pluck_of(spec: StringSpec, *, cents: float = 0.0, seed: int = 0, **changes) -> FormulaPluck:
    """A string as strings of its pitch are: B as expected, ringing 12 s at the bottom of a harp to 0.4 s at its top."""
    f1_hz = spec.expected_hz * 2.0 ** (cents / 1200.0)
    t60_s = float(np.clip(3.0 * (262.0 / f1_hz) ** 0.75, 0.4, 12.0))
    n_partials = int(np.clip(9000.0 / f1_hz, 3, 20))
    return FormulaPluck(**{"f1_hz": f1_hz, "b": string_expected_b(spec)[0], "t60_s": t60_s, "n_partials": n_partials, "level_power": 1.2,
                           "level_db": -12.0, "seed": seed} | changes)


def sweep_of(harp: Instrument, names: Sequence[str], *, gap_s: float = 1.2, damped: bool = True, rate_hz: int = 22050,
             noise_db: float = -75.0, lead_s: float = 0.7, cents: Mapping[str, float] | float = 0.0,
             louder_db: Mapping[int, float] | None = None, **changes) -> FormulaSweep:
    """The named strings plucked in that order, gap_s apart. `cents`: off their notes, all alike or by name; `louder_db`: by place in the
    order; `noise_db`: of white noise, rms under full scale."""
    specs = {spec.name: spec for spec in harp.strings}
    rng = np.random.default_rng(7)
    out = rng.normal(0.0, 10 ** (noise_db / 20), round((lead_s + gap_s * len(names) + 1.5) * rate_hz))
    truth = []
    for place, name in enumerate(names):
        off = cents if isinstance(cents, int | float) else cents.get(name, 0.0)
        onset_s = lead_s + gap_s * place + float(rng.uniform(-0.05, 0.05))
        gain = 10 ** ((louder_db or {}).get(place, 0.0) / 20)
        sound = gain * _played(pluck_of(specs[name], cents=off, seed=place, **changes), gap_s, damped, rate_hz)
        start = round(onset_s * rate_hz)
        sound = sound[: len(out) - start]
        out[start : start + len(sound)] += sound
        truth.append((name, start / rate_hz))
    return FormulaSweep(out, rate_hz, tuple(truth))


def _played(pluck: FormulaPluck, gap_s: float, damped: bool, rate_hz: int) -> np.ndarray:
    sound = render(pluck, rate_hz=rate_hz, length_s=gap_s - 0.05 if damped else min(12.0, 1.2 * pluck.t60_s), pre_s=0.0, snr_db=None)
    if damped:
        n = round(HAND_S * rate_hz)
        sound[-n:] *= np.cos(np.linspace(0.0, np.pi / 2, n)) ** 2
    return sound
