"""What a fitting measured when fresh, with its spread, and how far a later reading has moved from it."""

from __future__ import annotations

from toneprobe.baseline.fresh import Baseline, fresh_baseline

__all__ = ["Baseline", "fresh_baseline"]
