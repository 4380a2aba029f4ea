"""The plucks of one sweep become one reading per string, and what the whole sweep has in common."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from toneprobe.measure.figure import Figure


@dataclass(frozen=True)
class PartialReading:
    """One partial of one string over all its plucks in a sweep."""

    n: int
    freq_hz: Figure
    log_decay: Figure  # natural log of the amplitude decay rate δ (1/s)
    level_db: Figure


@dataclass(frozen=True)
class Reading:
    """One string in one sweep (or, as a fresh baseline, in the fresh sweeps of one fitting)."""

    string: str
    note: str
    n_plucks: int
    snr_db: float
    figures: Mapping[str, Figure]  # keys: measure.figure.FIGURES
    partials: tuple[PartialReading, ...]
    flags: tuple[str, ...] = ()
