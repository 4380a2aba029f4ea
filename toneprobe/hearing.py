"""From sound to figures: open a recording, find what is new in it (segment), name each pluck over the whole sweep (identify), measure each.

Nothing here knows of a book, a baseline or a verdict.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from toneprobe.audio import Recording, open_recording, without_hum
from toneprobe.identify import Identification, identify
from toneprobe.instrument import Instrument
from toneprobe.measure.answers import with_answers
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_pluck
from toneprobe.measure.stiffness_run import fits, out_of_run
from toneprobe.segment import find_spans

Progress = Callable[[int, int], None]
N_LOOKS = 2


@dataclass(frozen=True)
class Heard:
    """What one recording told."""

    recording: Recording
    identification: Identification
    plucks: tuple[PluckMeasurement, ...]


def hear(recording: Recording | str | Path, instrument: Instrument, *, progress: Progress | None = None) -> Heard:
    """Find, name and measure every pluck of a recording. `progress` is called with (plucks done, plucks in all)."""
    if not isinstance(recording, Recording):
        recording = open_recording(recording)
    sound = without_hum(recording)
    identification = identify(sound, find_spans(sound), instrument)
    plucks = []
    for named in identification.named:
        plucks.append(measure_pluck(sound, named))
        if progress:
            progress(len(plucks), len(identification.named))
    return Heard(recording, identification, with_answers(_looked_at_again(sound, identification, plucks)))


def _looked_at_again(recording: Recording, identification: Identification, plucks: list[PluckMeasurement]) -> tuple[PluckMeasurement, ...]:
    """The plucks, those of which the others of the sweep expect another inharmonicity measured once more with that in mind.

    A second round, for what is mended in the first changes what is expected of its neighbours.
    """
    again, tried = list(plucks), set()
    for _ in range(N_LOOKS):
        for index, expected_b in out_of_run(again).items():
            attempt = (index, round(math.log(expected_b), 1))
            if attempt in tried:
                continue
            tried.add(attempt)
            second = measure_pluck(recording, identification.named[index], expected_b=expected_b)
            if fits(second, expected_b):
                again[index] = second
    return tuple(again)
