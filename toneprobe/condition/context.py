"""What is known of how two sweeps were recorded, and so in what they can be compared.

A recorder that rides its gain, or has too few steps, bends every decay; a high-pass or a codec takes away the ends of the spectrum; an
overloaded input cuts attacks flat. What a recording cannot support is not compared, and the reason and the remedy are said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from toneprobe.audio.recording import Quality
from toneprobe.baseline.pairing import Band

EDGE = 1.15  # a filter's slope begins this far inside its corner
MOST_CLIPPED_S = 0.05


@dataclass(frozen=True)
class Capture:
    """How one recording was made, as far as it is known."""

    quality: Quality | None = None
    rate_hz: float | None = None


@dataclass(frozen=True)
class SweepContext:
    """All recordings of this sweep and of the fresh ones."""

    now: tuple[Capture, ...] = ()
    fresh: tuple[Capture, ...] = ()


@dataclass(frozen=True)
class Comparable:
    """What the two have in common. A refusal is a reason in the player's words, None where nothing speaks against comparing."""

    band: Band = field(default_factory=Band)
    no_decay: str | None = None  # refuses decays and beats
    no_brightness: str | None = None
    warnings: tuple[str, ...] = ()


def compare_captures(context: SweepContext | None) -> Comparable:
    """What a comparison of these recordings can rest on; without a context, everything."""
    if context is None:
        return Comparable()
    band = Band(max(_lows(context.now) + _lows(context.fresh), default=0.0), min(_highs(context.now) + _highs(context.fresh), default=1e9))
    no_decay, no_brightness = _bent_decays(context), _clipped(context)
    warnings = [text for text in (no_decay, no_brightness, *_other_band(context)) if text]
    return Comparable(band, no_decay, no_brightness or no_decay, tuple(warnings))


def _lows(captures: Sequence[Capture]) -> list[float]:
    return [EDGE * c.quality.low_cut_hz for c in captures if c.quality and c.quality.low_cut_hz]


def _highs(captures: Sequence[Capture]) -> list[float]:
    cuts = [c.quality.high_cut_hz / EDGE for c in captures if c.quality and c.quality.high_cut_hz]
    return cuts + [0.45 * c.rate_hz for c in captures if c.rate_hz]


def _bent_decays(context: SweepContext) -> str | None:
    for captures, which in ((context.now, "This"), (context.fresh, "The fresh")):
        if any(c.quality and c.quality.gain_riding for c in captures):
            return (f"{which} recording's gain moves by itself, which bends every decay: decays and beats are not compared. "
                    "Switch automatic gain and noise suppression off and record again.")
        if any(c.quality and c.quality.eight_bits for c in captures):
            return (f"{which} recording has only eight bits, whose steps swallow what rings on quietly: decays and beats are not compared. "
                    "Set the recorder to 16 or 24 bits and record again.")
    return None


def _clipped(context: SweepContext) -> str | None:
    for captures, which in ((context.now, "This"), (context.fresh, "The fresh")):
        if any(c.quality and c.quality.clipped_s > MOST_CLIPPED_S for c in captures):
            return f"{which} recording is overloaded: brightness is not compared. Record again at a lower level."
    return None


def _other_band(context: SweepContext) -> list[str]:
    found = []
    for cuts, word, keep in ((_lows, "below", max), (_highs, "above", min)):
        now, fresh = keep(cuts(context.now), default=None), keep(cuts(context.fresh), default=None)
        ends = [cut for cut in (now, fresh) if cut is not None]
        lost = keep(ends) if ends else None
        if lost and (word == "below" or lost < 8000.0):
            found.append(f"Partials {word} {lost:.0f} Hz are not compared: one of the two recordings has nothing there.")
    return found
