"""Leaps of an octave in a whole sweep: plucked in pairs, or harmonics; and the string an octave, or an octave and a fifth, above one that
rings struck over it."""

from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np

from toneprobe.audio import Recording
from toneprobe.identify.candidates import LONGEST_RING_S
from toneprobe.identify.likeness import LOW_S, new_lines
from toneprobe.identify.named import ABOVE, ABOVE_OF_BOTH, Identification, NamedSpan
from toneprobe.identify.octave import apart_cents
from toneprobe.identify.over_ringing import times_over
from toneprobe.identify.solution import Events, Solution, StruckOver
from toneprobe.instrument import Instrument, string_expected_b
from toneprobe.segment import Span
from toneprobe.units import cents_between, shift_hz
from toneprobe.workers import Each

HARMONIC_CENTS = 2.0  # a harmonic lies within 0.2 of its string's even partials (model harps), and a firmer pluck sounds a cent sharper
HARMONIC_SHARE = 0.7  # of all pairs of a sweep that may lie so: of octaves tuned within two cents up to 40 %, of a real harp's a fifth
MOST_UNHEARD = 0.1  # of the strings, in a sweep of them all (set)
WITHIN_CENTS = 60.0  # what is out of tune is an octave, or an octave and a fifth, still


def struck_over(events: Events, solution: Solution, each: Each) -> dict[int, StruckOver]:
    """By event: what was named as a string that rings from an earlier pluck, but struck one above it that shares its partials."""
    last, repeats, strings = {}, {}, events.instrument.strings
    for i, (string, span) in enumerate(zip(solution.path, events.spans, strict=True)):
        if string in last and string is not None and span.onset_s - last[string].onset_s < LONGEST_RING_S:
            pitch_hz = shift_hz(strings[string].expected_hz, float(solution.namings[i].offset_cents[string]))
            repeats[i] = _Repeat(last[string], span, events.onsets_s[i - 1], (pitch_hz, string_expected_b(strings[string])[0]))
        last[string] = span
    told = zip(repeats, each(_struck_over, list(repeats.values())), strict=True)
    return {i: over for i, over in told if over is not None}


class _Repeat(NamedTuple):
    """What was named as a string that may still ring."""

    first: Span  # that string's pluck before
    again: Span
    since_s: float  # onset of the event before, of whatever string
    named: tuple[float, float]  # the string's pitch, Hz, and expected inharmonicity


def _struck_over(recording: Recording, repeat: _Repeat) -> StruckOver | None:
    times = times_over(recording.read, rate_hz=recording.rate_hz, event_s=repeat.again.onset_s, since_s=repeat.since_s, named=repeat.named)
    if times is None:
        return None
    lines = (new_lines(recording, span, longest_s=LOW_S) for span in (repeat.first, repeat.again))
    lower_hz, _ = repeat.named
    return StruckOver(lower_hz, times, abs(apart_cents(*lines, *repeat.named, times=times) or 0.0) < HARMONIC_CENTS)


def octave_leaps_complete_sweep(found: Identification) -> bool:
    """Whether nearly all strings were heard, and most of those that leaps of an octave came to by these alone: then they were plucked, as a
    guitar's octave courses are. Harmonics sound beside the plucks of the strings that have their notes, or those were not swept at all."""
    turns = [next(plucks) for _, plucks in groupby(found.named, key=lambda one: one.string.name)]  # of a string, plucked once or more
    uppers = {id(upper) for _, upper in _octave_pairs(turns)}
    reached = {one.string.name for one in turns if id(one) in uppers}
    on_their_own = {one.string.name for one in turns if id(one) not in uppers}
    n_strings = len(found.unheard) + len(reached | on_their_own)
    return len(found.unheard) <= MOST_UNHEARD * n_strings and 2 * len(reached - on_their_own) > len(reached)


def _octave_pairs(named: Sequence[NamedSpan]) -> list[tuple[NamedSpan, NamedSpan]]:
    """Each lower and upper one of two, one right after the other."""
    beside = [pair for one, other in pairwise(named) for pair in ((one, other), (other, one))]
    return [(lower, upper) for lower, upper in beside if lies_above(upper.pitch_hz, lower.pitch_hz)]


def octave_leaps_are_harmonics(named: Sequence[NamedSpan], each: Each) -> bool:
    """Whether what leaps an octave up, before or after a pluck of the string below, is that string touched at its middle."""
    pairs = _octave_pairs(named)
    apart = [cents for cents in each(_octave_apart_cents, pairs) if cents is not None]
    return bool(apart) and float(np.mean(np.abs(apart) < HARMONIC_CENTS)) >= HARMONIC_SHARE


def _octave_apart_cents(recording: Recording, pair: tuple[NamedSpan, NamedSpan]) -> float | None:
    lower, upper = (new_lines(recording, one.span, longest_s=LOW_S) for one in pair)
    return apart_cents(lower, upper, pair[0].pitch_hz, string_expected_b(pair[0].string)[0])


def why_above(lower_hz: float, instrument: Instrument, *, times: int = 2) -> str:
    """The reason why what sounds so many times as high as a string is no pluck of it."""
    has_it = any(lies_above(string.expected_hz, lower_hz, times=times) for string in instrument.strings)
    return ABOVE_OF_BOTH[times] if has_it else ABOVE[times]


def lies_above(upper_hz: float, lower_hz: float, *, times: int = 2) -> bool:
    return abs(cents_between(upper_hz, times * lower_hz)) < WITHIN_CENTS
