"""Which strings come first: what wants doing, worst first, and what could not be judged."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from toneprobe.condition import VERDICTS
from toneprobe.report.words import CHANGE_VERDICTS, NOT_JUDGED, REMEDIES, STAND_IN

if TYPE_CHECKING:
    from toneprobe.report.view import StringView

NEEDS_ATTENTION = (*CHANGE_VERDICTS, "watch")


@dataclass(frozen=True)
class NotJudged:
    """The strings that one verdict leaves open, and what would settle it."""

    verdict: str
    words: str  # "not sure"
    strings: tuple[StringView, ...]
    remedy: str


def worst_first(strings: Iterable[StringView]) -> tuple[StringView, ...]:
    """False and dead strings by their worse score, then those to watch; equals from the top of the harp down."""
    return tuple(sorted((one for one in strings if one.verdict in NEEDS_ATTENTION), key=_pressing))


def not_judged(strings: Iterable[StringView]) -> tuple[NotJudged, ...]:
    """Groups of strings without a verdict on their state: stand-ins, then in the order of `condition.VERDICTS`."""
    strings = tuple(strings)
    groups = [(state, tuple(one for one in strings if one.state == state)) for state in (STAND_IN, *VERDICTS) if state in NOT_JUDGED]
    return tuple(NotJudged(group[0].verdict, NOT_JUDGED[state], group, REMEDIES[state]) for state, group in groups if group)


def _pressing(one: StringView) -> tuple[bool, float, int]:
    worse = max(one.condition.dead_score or 0.0, one.condition.false_score or 0.0)
    return one.verdict not in CHANGE_VERDICTS, -worse, one.place
