"""One pluck in many dresses: changes of the recording that must change no figure."""

from collections.abc import Callable

import numpy as np

from sounds.formula_plucks import PRE_S, FormulaPluck, render, spec_of
from toneprobe.instrument import StringSpec
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_samples

RATE_HZ = 44100
OFF_CENTS = 5.0  # what comes from naming the pluck is its pitch in rough


def measured(samples: np.ndarray, *, f1_hz: float, rate_hz: float = RATE_HZ, pre_s: float = PRE_S, spec: StringSpec | None = None,
             ) -> PluckMeasurement:
    """The whole measurement of samples that sound at f1_hz or near."""
    return measure_samples(samples, rate_hz, spec or spec_of(f1_hz), pitch_hz=f1_hz * 2.0 ** (OFF_CENTS / 1200.0), pre_s=pre_s)


def at_rate(pluck: FormulaPluck, rate_hz: float) -> PluckMeasurement:
    return measured(render(pluck, rate_hz=rate_hz), f1_hz=pluck.f1_hz, rate_hz=rate_hz)


def changed(pluck: FormulaPluck, change: Callable[[np.ndarray], np.ndarray]) -> PluckMeasurement:
    return measured(change(render(pluck)), f1_hz=pluck.f1_hz)


CHANGES = {  # volume and polarity: of all figures at once in tests/measure/test_pluck.py
    "later by a fraction of a sample": lambda pluck: measured(render(pluck, late_s=0.37 / RATE_HZ), f1_hz=pluck.f1_hz),
    "more before the onset": lambda pluck: measured(render(pluck, pre_s=0.05), f1_hz=pluck.f1_hz, pre_s=0.05),
    "22.05 kHz": lambda pluck: at_rate(pluck, 22050),
    "48 kHz": lambda pluck: at_rate(pluck, 48000),
    "96 kHz": lambda pluck: at_rate(pluck, 96000),
    "a quiet room after it": lambda pluck: measured(render(pluck, length_s=4.5), f1_hz=pluck.f1_hz),
    "digital silence after it": lambda pluck: changed(pluck, lambda x: np.concatenate([x, np.zeros(RATE_HZ)])),
    "an offset of the recorder": lambda pluck: changed(pluck, lambda x: x + 0.02),
}
