"""Inharmonicity over a whole harp: which plucks fall out of the run, and what B would be expected of them.

B changes little from string to string of one material, and not between plucks of one string. Where sum tones and body modes explain a
pluck's lines almost as well as its partials do, chance may choose the wrong series, with a B several times off. A pluck whose B fits
neither the nearest strings below and above nor another pluck of its string is measured again with their B as a prior. The lines still
decide: another string fitted keeps its own B. Not seen: two neighbours mistaken alike, or in a sweep of few strings.
"""

import math
from collections.abc import Sequence
from statistics import median

from toneprobe.measure.figure import PluckMeasurement

N_BESIDE = 3  # strings on each side that say what is usual
LEAST = 3  # of them that must be heard
GROWTH = 0.75  # power of pitch by which B of plain strings grows up a harp (measured on a lever harp's treble)
CERTAIN = 14  # a series of so many partials is mistaken for no other
OUT_OF_RUN = math.log(1.6)  # of ln B; a gauge step changes B by a fifth


def out_of_run(plucks: Sequence[PluckMeasurement]) -> dict[int, float]:
    """Index → the B expected by the sweep, for each pluck that fits nowhere or whose B is not known."""
    found = {}
    for index, pluck in enumerate(plucks):
        usual = _usual_log_b(pluck, plucks) if pluck.pitch_hz.known and len(pluck.partials) < CERTAIN else []
        own = pluck.inharmonicity
        if len(usual) >= LEAST and not (own.known and min(abs(math.log(own.value) - one) for one in usual) <= OUT_OF_RUN):
            found[index] = math.exp(median(usual))
    return found


def fits(measured: PluckMeasurement, expected_b: float) -> bool:
    """Has the second look found what was expected?"""
    return measured.inharmonicity.known and abs(math.log(measured.inharmonicity.value / expected_b)) <= OUT_OF_RUN


def _usual_log_b(pluck: PluckMeasurement, plucks: Sequence[PluckMeasurement]) -> list[float]:
    """Of the nearest strings on both sides, scaled to this pitch, and of each other pluck of this string."""
    known = [other for other in plucks if other is not pluck and other.pitch_hz.known and other.inharmonicity.known]
    strings = {}
    for other in known:
        above = math.log(other.pitch_hz.value / pluck.pitch_hz.value)
        strings.setdefault(other.string, []).append((above, math.log(other.inharmonicity.value) - GROWTH * above))
    usual = [log_b for _, log_b in strings.pop(pluck.string, [])]
    beside = sorted((median(above for above, _ in rows), median(log_b for _, log_b in rows)) for rows in strings.values())
    below, over = [log_b for above, log_b in beside if above <= 0.0], [log_b for above, log_b in beside if above > 0.0]
    return usual + below[-N_BESIDE:] + over[:N_BESIDE]
