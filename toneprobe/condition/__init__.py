"""What a sweep says of each string against its own fresh baseline."""

from __future__ import annotations

from toneprobe.condition.verdict import CHANGES, VERDICTS, Condition

__all__ = ["CHANGES", "VERDICTS", "Condition"]
