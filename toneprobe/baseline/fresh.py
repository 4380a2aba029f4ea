"""The fresh baseline of a fitting: one reading, with its errors and spreads, from the plucks of one or more fresh sweeps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from toneprobe.measure.figure import Figure, PluckMeasurement
from toneprobe.session.reading import Reading
from toneprobe.session.sweep import read_string


@dataclass(frozen=True)
class Baseline:
    """One fitting when it was new and settled."""

    reading: Reading  # centre and error over all fresh plucks
    capture: str = ""  # how these sweeps were recorded; strings with the same text share a microphone, a room and a day

    @property
    def n_plucks(self) -> int:
        return self.reading.n_plucks

    @property
    def figures(self) -> Mapping[str, Figure]:
        return self.reading.figures


def fresh_baseline(sweeps: Sequence[Sequence[PluckMeasurement]], *, capture: str = "") -> Mapping[str, Baseline]:
    """A baseline for every string that was plucked in any of the fresh sweeps.

    Give only plucks of the fitting that is on now, from sweeps after it settled, and of one note: of several,
    `read_string` keeps one. Strings whose fresh sweeps differ (one was restrung later) take one call for each group, with another `capture`
    text, and the mappings are joined.
    """
    strings = dict.fromkeys(pluck.string for sweep in sweeps for pluck in sweep)
    return {string: Baseline(read_string([pluck for sweep in sweeps for pluck in sweep if pluck.string == string]), capture)
            for string in strings}
