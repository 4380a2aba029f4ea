"""Where a pluck sinks among the steps between its sample values.

Rounding is like noise while a sound is many steps high. A sound that dies away without noise stands still at ± one step, then is gone, so
its fall seems slow and then endless (12 real plucks, 38 steps high, rounded to 8 bits: decays up to 3.5 times too long, by up to 5.6 stated
errors). From where the whole sound is lower than LEAST_STEPS nothing is measured. If that leaves less of the fall than decays need, they
are not measured, nor what rests on them; a pluck hardly higher than its steps is not measured at all. In 16 bits at a usual level noise
holds the sound above this. Not seen: steps that the file no longer shows, as of 8 bits stored again as 16.
"""

from dataclasses import replace

import numpy as np

from toneprobe.measure.decay import RANGE_DB
from toneprobe.measure.figure import Figure, PluckMeasurement
from toneprobe.measure.refusal import NO_MODES

COARSE_STEP = 2.0**-16  # of full scale: finer ones no recorder's noise leaves bare (converters reach 20 bits), and floats have none
LEAST_STEPS = 3.0  # measured: two leave decays up to two thirds too long, three none
TOO_LOW_STEPS = 24.0  # highest of a pluck; of one of 12 the pitch is up to 15 errors off, of 38 it is right (the same)
WINDOW_S = 0.03  # a period of the lowest strings
SUNK = "recorded too quietly: it sinks among the steps between the sample values before its ring can be told"
BURIED_IN_STEPS = "recorded too quietly: hardly higher than the steps between the sample values"
NO_DECAY = {**NO_MODES, **dict.fromkeys(("t60_s", "t60_se_s", "early_t60_s", "bend"))}
RINGING = ("t60_s", "beat_hz", "beat_depth_db")


def sinks_at(samples: np.ndarray, *, rate_hz: float, step: float) -> int | None:
    """The sample from which on a pluck is lower than LEAST_STEPS; None where it never is, or has fallen by RANGE_DB by then."""
    if step < COARSE_STEP:
        return None
    n = max(1, round(WINDOW_S * rate_hz))
    highest = _height(samples)[: len(samples) // n * n].reshape(-1, n).max(axis=1) / step
    if not len(highest) or highest.max() >= LEAST_STEPS * 10 ** (RANGE_DB / 20):
        return None
    top = int(highest.argmax())
    low = np.flatnonzero(highest[top:] < LEAST_STEPS - 0.5)
    return (top + int(low[0])) * n if len(low) else None


def is_too_low(samples: np.ndarray, *, step: float) -> bool:
    return float(_height(samples).max(initial=0.0)) < TOO_LOW_STEPS * step


def _height(samples: np.ndarray) -> np.ndarray:
    """Some recorders add a constant."""
    return np.abs(samples - np.median(samples)) if len(samples) else samples


def without_ring(measured: PluckMeasurement) -> PluckMeasurement:
    """The measurement of a pluck that sinks, without what rests on its fall."""
    none = Figure(None, None, SUNK)
    partials = tuple(replace(partial, **NO_DECAY) for partial in measured.partials)
    return replace(measured, partials=partials, damping=None, ripple=None, wave=None,
                   **{name: none for name in RINGING if getattr(measured, name).known})
