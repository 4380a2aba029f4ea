"""The fresh baseline of a fitting: centre, spread and count of each figure, from the plucks of one or more fresh sweeps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.session.pooling import LOG_FIGURES, spread_of
from toneprobe.session.reading import Reading
from toneprobe.session.sweep import read_string


@dataclass(frozen=True)
class Baseline:
    """One fitting when it was new and settled."""

    reading: Reading  # centre and error over all fresh plucks
    spread: Mapping[str, float]  # standard deviation of one pluck, own plucks only; of the log where the figure is a ratio by nature
    n_plucks: int
    n_sweeps: int
    capture: str = ""  # how these sweeps were recorded; strings with the same text share a microphone, a room and a day

    @property
    def string(self) -> str:
        return self.reading.string

    @property
    def figures(self) -> Mapping[str, Figure]:
        return self.reading.figures


def fresh_baseline(sweeps: Sequence[Sequence[PluckMeasurement]], *, capture: str = "") -> Mapping[str, Baseline]:
    """A baseline for every string that was plucked in any of the fresh sweeps.

    Give only plucks of the fitting that is on now, from sweeps after it settled. Strings whose fresh sweeps differ (one was restrung
    later) take one call for each group, with another `capture` text, and the mappings are joined.
    """
    strings = dict.fromkeys(pluck.string for sweep in sweeps for pluck in sweep)
    return {string: _of_string([[p for p in sweep if p.string == string] for sweep in sweeps], capture) for string in strings}


def _of_string(sweeps: Sequence[Sequence[PluckMeasurement]], capture: str) -> Baseline:
    plucks = [pluck for sweep in sweeps for pluck in sweep]
    return Baseline(read_string(plucks), _spreads(plucks), len(plucks), sum(bool(sweep) for sweep in sweeps), capture)


def _spreads(plucks: Sequence[PluckMeasurement]) -> Mapping[str, float]:
    spreads = {}
    for name in FIGURES:
        values = [getattr(pluck, name).value for pluck in plucks if getattr(pluck, name).known]
        if name in LOG_FIGURES:
            values = [log(value) for value in values if value > 0.0]
        if len(values) > 1:
            spreads[name] = spread_of(values)
    return spreads
