"""What is known of how two sweeps were recorded, and so what can be compared.

A recorder that rides its gain, or has too few steps, bends every decay; a high-pass or a codec removes the ends of the spectrum; an
overloaded input cuts attacks flat. What a recording cannot support is not compared, and the reason and the remedy are given.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from math import inf

from toneprobe import limits
from toneprobe.audio.band import HEARD_SHARE
from toneprobe.audio.recording import Quality
from toneprobe.audio.remark import BEND_DECAYS, CRUSHED
from toneprobe.audio.remarks import AS_PCM, FEW_BITS, WITHOUT_LOSS
from toneprobe.baseline.pairing import WHOLE_BAND, Band
from toneprobe.phrases import listed
from toneprobe.session.reading import Reading

MOST_CLIPPED_S = 0.05  # overload in all, beyond which brightness is not compared (set)
EDGE = 1.15  # a filter's slope begins this far inside its corner


@dataclass(frozen=True)
class Capture:
    """How one recording was made, as far as it is known."""

    quality: Quality | None = None
    rate_hz: float | None = None


NOW, FRESH = "This", "The fresh"  # which of the two recordings, as sentences begin
NOT_AGAIN = "Recording this sweep again does not help, another fresh sweep does"
Sides = tuple[tuple[Sequence[Capture], str], ...]  # how each of the two was recorded, and which it is


@dataclass(frozen=True)
class Spoiler:
    """What in a recording bends every decay, so that no ring can be compared with it."""

    what: str  # after "This recording"
    mend: str


RIDES_GAIN = Spoiler("'s gain moves by itself, or its quiet parts are faded or cut, and either bends every decay",
                     "Switch automatic gain and noise suppression off, cut nothing out")
RIDES_GAIN_OR_CRUSHED = Spoiler("'s gain moves by itself or its quiet parts are faded or cut, or its hard compression makes it seem so, "
                                "and each bends every decay", "Switch automatic gain and noise suppression off, choose WAV or FLAC")
EIGHT_BITS = Spoiler(" has only eight bits, whose steps swallow what rings on quietly", "Set the recorder to 16 or 24 bits")


@dataclass(frozen=True)
class HeardBeside:
    """The other strings in the fresh sweeps of a few: they link the room and microphone of those sweeps with this one's."""

    days: tuple[date, ...]  # of these sweeps
    readings: Mapping[str, Reading]  # by string, of the fittings that are on now


@dataclass(frozen=True)
class SweepContext:
    """All recordings of this sweep and of the fresh ones, and what was said before."""

    now: tuple[Capture, ...] = ()
    fresh: Mapping[str, tuple[Capture, ...]] = field(default_factory=dict)  # by `Baseline.capture`: not all were fresh on one day
    said: Mapping[str, Mapping[str, Sequence[date]]] = field(default_factory=dict)  # by string and verdict, the days of sweeps before
    beside: Mapping[str, HeardBeside] = field(default_factory=dict)  # by `Baseline.capture`
    own_now: Mapping[str, tuple[Capture, ...]] = field(default_factory=dict)  # by string, those of `now` in which it was plucked …
    own_fresh: Mapping[str, tuple[Capture, ...]] = field(default_factory=dict)  # … and of the fresh ones; not known: in any of them

    def sides_of(self, string: str, capture: str) -> tuple[tuple[Capture, ...], tuple[Capture, ...]]:
        """The recordings that a string was plucked in, now and fresh: what another recording lost does not concern it."""
        return self.own_now.get(string, self.now), self.own_fresh.get(string, self.fresh.get(capture, ()))


ALL_COMPARABLE = SweepContext()  # where nothing is known of the recordings


@dataclass(frozen=True)
class Comparable:
    """What the two sides have in common. A refusal is a reason in the player's words, None where nothing speaks against comparing."""

    band: Band = WHOLE_BAND
    why_no_decay: str | None = None  # refuses decays and beats
    why_no_brightness: str | None = None
    why_no_weak: str | None = None  # refuses what rests on weak partials: those themselves, lost ones, ripple and brightness
    warnings: tuple[str, ...] = ()
    spoilt_by: tuple[str, ...] = ()  # NOW, FRESH: the recordings for whose fault decays are refused …
    crushed_by: tuple[str, ...] = ()  # … and those that are compressed so hard that weak partials are
    said_of_now: frozenset[str] = frozenset()  # kinds of remark on the present recordings that the warnings say in their own words

    def without_decay(self, reason: str, which: str) -> Comparable:
        """Once the strings themselves showed that one of the recordings, NOW or FRESH, bends decays; brightness goes with them."""
        return replace(self, why_no_decay=reason, why_no_brightness=self.why_no_brightness or reason, warnings=(*self.warnings, reason),
                       spoilt_by=(which,))


def compare_captures(now: Sequence[Capture], fresh: Sequence[Capture]) -> Comparable:
    """What a comparison of these recordings can rest on; where nothing is known of them, everything."""
    sides = ((now, NOW), (fresh, FRESH))
    crushed = _crushed(sides)
    band = Band(max(_lows(now) + _lows(fresh), default=0.0), min(_highs(now) + _highs(fresh), default=1e9),
                limits.LOUD_IN_CODEC_DB if crushed else -inf)
    bent, clipped = _bent_decays(sides), _clipped(sides)
    why_no_decay, why_no_weak = (next(iter(of_side.values()), None) for of_side in (bent, crushed))
    warnings = [text for text in (*bent.values(), clipped, *crushed.values(), *_other_band(now, fresh)) if text]
    said_of_now = frozenset((*(BEND_DECAYS if NOW in bent else ()), *((CRUSHED,) if NOW in crushed else ())))
    return Comparable(band, why_no_decay=why_no_decay, why_no_brightness=clipped or why_no_decay or why_no_weak, why_no_weak=why_no_weak,
                      warnings=tuple(warnings), spoilt_by=tuple(bent), crushed_by=tuple(crushed), said_of_now=said_of_now)


def spoiler(captures: Sequence[Capture]) -> Spoiler | None:
    """What in these recordings bends every decay, None where nothing does."""
    qualities = [capture.quality for capture in captures if capture.quality]
    if any(one.gain_riding and is_crushed(one) for one in qualities):
        return RIDES_GAIN_OR_CRUSHED
    if any(one.gain_riding for one in qualities):
        return RIDES_GAIN
    return EIGHT_BITS if any(one.eight_bits for one in qualities) else None


def shared_warnings(by_string: Mapping[str, Comparable]) -> tuple[str, ...]:
    """Every warning once, with the strings it is of where it is not of all."""
    strings: dict[str, list[str]] = {}
    for string, comparable in by_string.items():
        for text in comparable.warnings:
            strings.setdefault(text, []).append(string)
    return tuple(text if len(of) == len(by_string) else f"Of {listed(of)}: {text}" for text, of in strings.items())


def _lows(captures: Sequence[Capture]) -> list[float]:
    return [EDGE * c.quality.low_cut_hz for c in captures if c.quality and c.quality.low_cut_hz]


def _highs(captures: Sequence[Capture]) -> list[float]:
    cuts = [c.quality.high_cut_hz / EDGE for c in captures if c.quality and c.quality.high_cut_hz]
    return cuts + [HEARD_SHARE * c.rate_hz for c in captures if c.rate_hz]


def _bent_decays(sides: Sides) -> dict[str, str]:
    """By side, why decays are refused. Recording again mends this sweep only: the fresh one stays as it was recorded."""
    found = {which: spoiler(captures) for captures, which in sides}
    told = {NOW: "decays and beats are not compared. {0} and record again.",
            FRESH: f"decays and beats are not compared with it. {NOT_AGAIN}: {{1}} before that."}
    return {which: f"{which} recording{one.what}: {told[which].format(one.mend, one.mend[0].lower() + one.mend[1:])}"
            for which, one in found.items() if one}


def is_crushed(quality: Quality) -> bool:
    """Whether a codec had so few bits that only a string's loud partials can be trusted."""
    return quality.coarse_codec is not None or (quality.codec_kbit_s is not None and quality.codec_kbit_s < limits.LEAST_KBIT_S)


def _crushed(sides: Sides) -> dict[str, str]:
    """By side, why what rests on weak partials is refused."""
    found = {}
    for captures, which in sides:
        crushed = [c.quality for c in captures if c.quality and is_crushed(c.quality)]
        if not crushed:
            continue
        coarse = next((one.coarse_codec for one in crushed if one.coarse_codec), None)
        what = (f"{FEW_BITS} ({coarse}), which adds a noise that goes with the sound" if coarse else
                f"{min(one.codec_kbit_s for one in crushed):.0f} kbit/s a channel, which leaves out or makes up what is quiet")
        mend = AS_PCM if coarse else WITHOUT_LOSS
        told = f"{mend}, and sweep again." if which == NOW else f"{NOT_AGAIN}. {mend}."
        found[which] = (f"{which} recording is compressed to {what}: weak and missing partials, wavering and brightness are not compared. "
                        f"{told}")
    return found


def _clipped(sides: Sides) -> str | None:
    for captures, which in sides:
        if any(c.quality and c.quality.clipped_s > MOST_CLIPPED_S for c in captures):
            mend = "Record again at a lower level." if which == NOW else f"{NOT_AGAIN}: set a lower level before that."
            return f"{which} recording is overloaded: brightness is not compared. {mend}"
    return None


def _other_band(now: Sequence[Capture], fresh: Sequence[Capture]) -> list[str]:
    """Which low and high partials one side lacks, where that is worth a word."""
    found = []
    for cuts, word, keep in ((_lows, "below", max), (_highs, "above", min)):
        ends = [keep(cuts(captures)) for captures in (now, fresh) if cuts(captures)]
        lost = keep(ends) if ends else None
        if lost and lost < limits.LEAST_REACH_HZ:
            found.append(f"Partials {word} {lost:.0f} Hz are not compared: one of the two recordings has nothing there.")
    return found
