"""From sound to figures: open a recording, find what is new in it (segment), name each pluck over the whole sweep (identify), measure each.

Nothing here knows of a book, a baseline or a verdict.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from toneprobe.audio import Recording, open_recording
from toneprobe.identify import Identification, identify
from toneprobe.instrument import Instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.measure.pluck import measure_pluck
from toneprobe.segment import find_spans

Progress = Callable[[int, int], None]


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
    identification = identify(recording, find_spans(recording), instrument)
    plucks = []
    for named in identification.named:
        plucks.append(measure_pluck(recording, named))
        if progress:
            progress(len(plucks), len(identification.named))
    return Heard(recording, identification, tuple(plucks))
