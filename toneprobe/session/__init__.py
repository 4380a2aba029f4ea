"""The plucks of one sweep become one reading per string, and what the whole sweep has in common."""

from __future__ import annotations

from toneprobe.session.reading import PartialReading, Reading, SweepReading
from toneprobe.session.sweep import read_sweep

__all__ = ["PartialReading", "Reading", "SweepReading", "read_sweep"]
