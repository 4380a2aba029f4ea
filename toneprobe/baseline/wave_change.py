"""A pitch that goes up and down while the string rings and did not when fresh.

At each rate (see `measure.pitch_wave`) the power of all plucks' waves, freed of what their errors add, is compared with the fresh one; the
error is one pluck's, and another day's. What the string does of itself, or what lets its pull come and go as it is plucked, begins with the
pluck, so the waves of its plucks begin alike: where they do not, or where one side has a single pluck, something else may have moved the
pitch, and the wave is not confirmed; nor where fewer than three swings of it were heard.

A pitch that slips or slides once is no wave. Its phases have a kink, whose part at a rate goes as 1/rate² and in cents as 1/rate; a wave
has next to nothing at twice its rate. Where a change beyond doubt is such a kink, no wave can be told beside it. (Real plucks with a slip
of 25 cents after 0.5 s: 0.36 and more of it where it passes for 6 cents; with a wave of 8 or 16 cents: 0.27 and less.)
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from toneprobe.measure.figure import Figure
from toneprobe.measure.pitch_wave import LEAST_WAVES, RATES_HZ
from toneprobe.session.reading import Reading

LEAST_ERROR_CENTS = 0.35  # of one side: another day, another hand (set: 24 untouched strings stay below 1.7 errors, soft against firm 2.3)
AT_TWICE = 0.33  # of the size at a wave's rate, from which on at twice that it is none (set)
BEGIN_ALIKE = 0.85  # of the waves' rms that their mean keeps: two do that begin 64° apart (set; one wave among two plucks keeps 0.71)
BEYOND_DOUBT = 2.0  # errors from which on a kink is told from chance (set)
LEAST_CONFIRMED = 3.0 / LEAST_WAVES  # times the slowest rate that was told: three swings of it were heard
NOT_LOOKED_FOR = Figure(None, None, "whether its pitch goes up and down was not looked for")
TOO_SHORT = Figure(None, None, "too few partials ring long enough to tell whether its pitch goes up and down")

OF_A_SLIP = Figure(None, None, "its pitch slipped or slid while it rang, so a going up and down could not be told")


@dataclass(frozen=True)
class WaveChange:
    cents: Figure  # more than when fresh, from lowest to highest
    rate_hz: float | None = None
    is_confirmed: bool = False  # several plucks on either side, and those of now alike


NO_WAVE = WaveChange(NOT_LOOKED_FOR)


class _Wave(NamedTuple):
    """Of one pluck, shape (rates,); NaN where unknown."""

    cents: np.ndarray  # complex
    variance: np.ndarray  # E|c|² of what chance adds to it


def wave_change(now: Reading, fresh: Reading) -> WaveChange:
    here, then = _waves_of_plucks(now), _waves_of_plucks(fresh)
    if not here or not then:
        return NO_WAVE
    (cents_now, variance_now), (cents_fresh, variance_fresh) = _size(here), _size(then)
    more, error = cents_now - cents_fresh, np.sqrt(variance_now + variance_fresh)
    if not np.isfinite(more).any():
        return WaveChange(TOO_SHORT)
    place = int(np.nanargmax(more / error))
    is_of_one_rate = _is_of_one_rate(cents_now, place)
    if not is_of_one_rate and more[place] > BEYOND_DOUBT * error[place]:
        return WaveChange(OF_A_SLIP)
    size = max(0.0, float(more[place])) if is_of_one_rate else 0.0
    slowest_hz = RATES_HZ[int(np.flatnonzero(np.isfinite(more))[0])]
    is_confirmed = min(len(here), len(then)) > 1 and RATES_HZ[place] >= LEAST_CONFIRMED * slowest_hz and _begin_alike(here, place)
    return WaveChange(Figure(size, float(error[place])), RATES_HZ[place], is_confirmed)


def _is_of_one_rate(cents: np.ndarray, place: int) -> bool:
    """True where twice the rate is not told."""
    twice_hz = 2.0 * RATES_HZ[place]
    twice = int(np.argmin(np.abs(np.array(RATES_HZ) - twice_hz)))
    return twice_hz > RATES_HZ[-1] or not cents[twice] > AT_TWICE * cents[place]


def _begin_alike(plucks: Sequence[_Wave], place: int) -> bool:
    waves = np.array([pluck.cents[place] for pluck in plucks])
    return bool(abs(waves.mean()) >= BEGIN_ALIKE * np.sqrt(np.mean(np.abs(waves) ** 2)))


def _size(plucks: Sequence[_Wave]) -> tuple[np.ndarray, np.ndarray]:
    """How far the waves of a side's plucks go, rms, and the variance of that, shape (rates,); NaN where any pluck cannot tell."""
    waves, variances = (np.array(values) for values in zip(*plucks, strict=True))
    variance = variances.mean(axis=0)
    return np.sqrt(np.maximum(np.mean(np.abs(waves) ** 2, axis=0) - variance, 0.0)), variance + LEAST_ERROR_CENTS**2


def _waves_of_plucks(reading: Reading) -> list[_Wave]:
    """Plucks with other rates are left out."""
    told = (one for one in reading.waves if len(one.se_cents) == len(RATES_HZ))
    parts = [np.array([one.in_phase_cents, one.quadrature_cents, one.se_cents], float) for one in told]
    return [_Wave(re + 1j * im, 2.0 * se**2) for re, im, se in parts]
