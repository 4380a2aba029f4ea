"""How far the untouched strings of this sweep scatter, told by the sweep itself.

Faults only make a string ring shorter, never longer, and only send partials astray. So the strings that ring *longer* than most, and
those whose partials strayed *least*, show the noise of the comparison, whatever a third of the harp may suffer from. Where that noise is
larger than each string's errors say (another room, other neighbours damped, an unsteady hand), all errors are enlarged alike.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.baseline.change import Change
from toneprobe.baseline.series_change import cut_chi2
from toneprobe.condition.evidence import sureness_asked
from toneprobe.measure.figure import Figure

LEAST_STRINGS = 6
PRIOR_STRINGS = 6.0  # strings that scattered as their errors say, added to those seen
QUIET_SHARE = 0.35  # strings at this rank of straying are untouched even where a third are bad
QUIET_CHI2 = 0.78  # χ²/ν that this share of untouched strings stays below, ν about 8 (derived)


@dataclass(frozen=True)
class SweepNoise:
    """Factors of at least 1 on the standard errors, and the centres about which the strings scatter."""

    sureness_asked: float
    decay_centre: Figure  # what most strings' decay has done, natural log of fresh over present decay time
    decay_scale: float
    brightness_scale: float
    astray_scale: float
    stretch_scale: float
    beat_centre_db: float  # at least 0
    beat_scale: float


def sweep_noise(changes: Sequence[Change], *, n_strings: int | None = None) -> SweepNoise:
    """From all strings' changes, or from all others' so that a string has no say in its own errors. n_strings: judged in all."""
    decay, decay_scale = _centre_and_scale([c.decay.all for c in changes], one_sided=True)
    _, brightness_scale = _centre_and_scale([c.brightness for c in changes], one_sided=False)
    _, stretch_scale = _centre_and_scale([c.series.stretch for c in changes], one_sided=False)
    beat, beat_scale = _centre_and_scale([c.beat_db for c in changes], one_sided=True)
    return SweepNoise(sureness_asked(n_strings or len(changes)), decay, decay_scale, brightness_scale, _astray_scale(changes), stretch_scale,
                      max(0.0, beat.value) if beat.known else 0.0, beat_scale)


def middle_of_most(values: np.ndarray) -> float:
    """Middle of the shortest interval that holds half of the values: where most lie, wherever the others do."""
    ordered = np.sort(values)
    half = len(ordered) // 2
    widths = ordered[half:] - ordered[: len(ordered) - half]
    start = int(np.argmin(widths))
    return float(np.median(ordered[start : start + half + 1]))


def _centre_and_scale(figures: Sequence[Figure], *, one_sided: bool) -> tuple[Figure, float]:
    """one_sided: only strings below the centre show the noise."""
    known = [f for f in figures if f.known and f.se]
    if len(known) < LEAST_STRINGS:
        return Figure(None, None, "too few strings to tell what they share"), 1.0
    values, errors = np.array([f.value for f in known]), np.array([f.se for f in known])
    centre = middle_of_most(values)
    off = (values - centre) / errors
    noise = -off[off <= 0] if one_sided else np.abs(off)
    seen = float(np.percentile(noise, 68.3)) ** 2 if noise.size else 1.0
    scale = float(np.sqrt(max(1.0, (PRIOR_STRINGS + noise.size * seen) / (PRIOR_STRINGS + noise.size))))
    return Figure(centre, scale * float(np.median(errors)) * 1.5 / float(np.sqrt(len(known)))), scale


def _astray_scale(changes: Sequence[Change]) -> float:
    ratios = [cut_chi2(c.series) / c.series.freedom for c in changes if c.series.freedom]
    if len(ratios) < LEAST_STRINGS:
        return 1.0
    seen = float(np.percentile(ratios, 100.0 * QUIET_SHARE)) / QUIET_CHI2
    n_quiet = QUIET_SHARE * len(ratios)
    return float(np.sqrt(max(1.0, (PRIOR_STRINGS + n_quiet * seen) / (PRIOR_STRINGS + n_quiet))))
