"""What a fitting measured when fresh, with its spread, and how far a later reading has moved from it."""

from __future__ import annotations

from toneprobe.baseline.change import Change, change_since
from toneprobe.baseline.fresh import Baseline, fresh_baseline
from toneprobe.baseline.level_curve import LevelCurve, level_curve
from toneprobe.baseline.scatter import Scatter, pooled_scatter

__all__ = ["Baseline", "Change", "LevelCurve", "Scatter", "change_since", "fresh_baseline", "level_curve", "pooled_scatter"]
