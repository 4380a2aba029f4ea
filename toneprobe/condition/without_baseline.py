"""Strings without a baseline: no score, but a note where one stands out from its neighbours of the same material.

Decay time runs smoothly over a harp within one material; brightness differs from maker to maker, so only the ring and the trueness are
compared, and generously: a neighbour may be the odd one.
"""

from collections.abc import Collection, Mapping

import numpy as np

from toneprobe import limits
from toneprobe.baseline.robust import robust_fit
from toneprobe.condition.doubt_words import percent_lost
from toneprobe.instrument import Instrument
from toneprobe.medians import SD_OF_DEVIATION
from toneprobe.session.reading import Reading

NEIGHBOUR_SPREAD = 0.2  # log decay time about a smooth run over the harp (measured)
STANDS_OUT_DECAY = np.log(2.0)  # log decay time below that run: half the ring of its neighbours (set)
STANDS_OUT_ASTRAY = np.log(3.0)  # log of how far its partials lie off, over its neighbours': three times as far (set)
LEAST_NEIGHBOURS = 5  # strings, for a line has two of them to itself and one may be bad too (set)
N_NEAREST = 8  # strings about an octave wide, four to either side: a wider line bends, a narrower one follows single strings (set)
FAR_SIGMAS = 4.0  # times what the neighbours scatter by (set; by chance 1 in 16,000 were that normal and known, derived; few strings tell
# it, so by chance more, and what follows is a note and no verdict)


def standing_notes(strings: Collection[str], readings: Mapping[str, Reading], instrument: Instrument) -> Mapping[str, str]:
    """For those of `strings` that stand out, a sentence; all strings of the sweep serve as neighbours."""
    notes = {}
    for spec in instrument.strings:
        alike = [other.name for other in instrument.strings if other.material == spec.material and other.name in readings]
        if spec.name in strings and (note := _note(spec.name, [name for name in alike if name != spec.name], readings)):
            notes[spec.name] = note
    return notes


def _note(string: str, others: list[str], readings: Mapping[str, Reading]) -> str | None:
    off = _off_the_line(string, others, readings, "t60_s")
    if off is not None and off < -STANDS_OUT_DECAY:
        return f"It rings {percent_lost(-off):.0f} % shorter than its neighbours of the same material lead one to expect."
    astray = _off_the_line(string, others, readings, "trueness_cents")
    clear = astray is not None and astray > STANDS_OUT_ASTRAY
    if clear and readings[string].figures["trueness_cents"].value > 2 * limits.ASTRAY_NOTICED_CENTS:
        return f"Its partials lie {np.exp(astray):.0f} times as far off their places as its neighbours' do."
    return None


def _off_the_line(string: str, others: list[str], readings: Mapping[str, Reading], figure: str) -> float | None:
    """Log distance from a robust line through the nearest neighbours; None within their scatter, or where it cannot be told."""
    own = _point(readings[string], figure)
    points = [point for name in others if (point := _point(readings[name], figure))]
    if own is None or len(points) < LEAST_NEIGHBOURS:
        return None
    x, y = np.array(sorted(points, key=lambda point: abs(point[0] - own[0]))[:N_NEAREST]).T
    design = np.stack([np.ones(len(x)), x - own[0]], axis=1)
    coefficients, covariance, _ = robust_fit(y, np.full(len(y), NEIGHBOUR_SPREAD**2), design)
    scatter = SD_OF_DEVIATION * float(np.median(np.abs(y - design @ coefficients)))
    off = own[1] - float(coefficients[0])
    return off if abs(off) > FAR_SIGMAS * np.hypot(scatter, np.sqrt(covariance[0, 0])) else None


def _point(reading: Reading, figure: str) -> tuple[float, float] | None:
    pitch, value = reading.figures["pitch_hz"], reading.figures[figure]
    return (float(np.log2(pitch.value)), float(np.log(value.value))) if pitch.known and value.known and value.value > 0 else None
