"""Onsets of plucks, and how long each rings."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Span:
    """One sounding event: from its onset to the damping, the next onset or the noise floor."""

    onset_s: float
    end_s: float
    next_s: float  # onset of the following event, or the recording's end
