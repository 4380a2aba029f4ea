"""What may be plucks, and what each was taken for: all events of a recording named at once."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from toneprobe.identify.between_notes import Between
from toneprobe.identify.candidates import Candidate
from toneprobe.identify.evidence import Naming
from toneprobe.identify.likeness import Likeness
from toneprobe.instrument import Instrument
from toneprobe.segment import Span


@dataclass(frozen=True)
class Events:
    """What may be plucks of the instrument in one tuning."""

    candidates: list[Candidate]
    instrument: Instrument

    @property
    def spans(self) -> list[Span]:
        return [one.span for one in self.candidates]

    @property
    def likenesses(self) -> list[Likeness]:
        return [one.likeness for one in self.candidates]

    @property
    def onsets_s(self) -> list[float]:
        return [one.span.onset_s for one in self.candidates]


@dataclass(frozen=True)
class StruckOver:
    """A string struck over one that rings, and two or three times as high."""

    lower_hz: float  # pitch of the one that rings
    times: int  # so many times as high
    may_be_harmonic: bool


@dataclass(frozen=True)
class Solution:
    """All events named at once. One entry per event."""

    namings: list[Naming]
    path: list[int | None]
    voices: np.ndarray  # bool
    chances: np.ndarray  # (events, n strings)
    over: Mapping[int, StruckOver] = field(default_factory=dict)
    between: tuple[Between, ...] = ()  # sounds of which the string could not be told
    beside: Mapping[int, str] = field(default_factory=dict)  # events that only fell into the sweep, and why
    is_leaping: bool = False  # the player does not run along the harp
