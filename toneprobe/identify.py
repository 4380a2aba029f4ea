"""Which string each span is, how sure that is, and which strings were not heard."""

from __future__ import annotations

from dataclasses import dataclass

from toneprobe.instrument import StringSpec
from toneprobe.segment import Span


@dataclass(frozen=True)
class NamedSpan:
    """A span with the string that it was taken for."""

    span: Span
    string: StringSpec
    sureness: float  # 0 to 1: how much better this name is than the next best
    offset_cents: float  # rough: the sounding pitch against the expected one
    pitch_hz: float  # rough: first partial


@dataclass(frozen=True)
class Rejected:
    """A span that is no pluck of this instrument."""

    span: Span
    reason: str


@dataclass(frozen=True)
class Identification:
    named: tuple[NamedSpan, ...]  # in time order
    unheard: tuple[StringSpec, ...]
    rejected: tuple[Rejected, ...]
