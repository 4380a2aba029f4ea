"""What a sweep says of each string against its own fresh baseline."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from toneprobe.measure.figure import Figure

VERDICTS = ("false", "dead", "watch", "settling", "unsure", "unrated", "unheard", "sound")  # most pressing first


@dataclass(frozen=True)
class Condition:
    """The verdict on one string."""

    string: str
    note: str
    verdict: str  # one of VERDICTS
    dead_score: float | None  # 0 as fresh … 100 beyond argument; None where it cannot be scored
    false_score: float | None
    n_plucks: int
    reasons: tuple[str, ...]  # plain sentences, the deciding one first
    next_step: str  # what the player does now, "" where nothing
    figures: Mapping[str, Figure]  # this sweep; keys: measure.figure.FIGURES
    fresh: Mapping[str, Figure]  # the fitting's fresh baseline, empty where there is none
