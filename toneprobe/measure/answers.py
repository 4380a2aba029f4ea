"""Which of a pluck's beats and other lines are another string's answer, or the body's, as the whole sweep tells.

An undamped string with a partial near one of the plucked string's is set going by it, and the two beat, though the plucked string is true.
This answer has the answering string's frequency and decay, both known from its own pluck in the sweep. So a weaker mode within ANSWER_HZ of
another string's partial, with its decay within ANSWER_DECAY, is taken for that string's and makes no beat of this one. An unnamed line at
one place in plucks of several strings is the body's.
An answer starts from silence, but that cannot be seen, as the plucked partial's own phase is not known. So a second polarisation where
another string has a partial is taken for that string: on model harps whose strings do not answer one beat of 20, on a real lever harp one
in eight, true answers among them. Damping that string and plucking again would tell.
"""

import math
from bisect import bisect
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from toneprobe.measure.beats import Beat, string_beat
from toneprobe.measure.figure import Figure, OtherLine, Partial, PluckMeasurement
from toneprobe.measure.other_lines import BODY, NOT_KNOWN, VOICE
from toneprobe.units import CENTS, LN_1000

ANSWER_HZ, ANSWER_CENTS = 0.2, 0.5
ANSWER_DECAY = 2.0  # ratio of decay times
ANSWER_TO = 12  # partials of the answering string
BODY_CENTS = 15.0
BODY_STRINGS = 3  # others whose plucks have a line without a name at the same place


@dataclass(frozen=True)
class _Line:
    """A partial of a string, as its own pluck gave it, or a line without a name."""

    freq_hz: float
    string: str
    t60_s: float | None = None


def with_answers(plucks: Sequence[PluckMeasurement]) -> tuple[PluckMeasurement, ...]:
    """The plucks of one sweep with `answered_by` and `taken_for` as far as the others tell, and the string's beat without answers."""
    own = [_Line(one.freq_hz, pluck.string, one.t60_s) for pluck in plucks for one in pluck.partials if one.n <= ANSWER_TO and one.t60_s]
    nameless = [_Line(line.freq_hz, pluck.string) for pluck in plucks for line in pluck.others if line.taken_for == NOT_KNOWN]
    own, nameless = (sorted(lines, key=lambda one: one.freq_hz) for lines in (own, nameless))
    return tuple(_told(pluck, own, nameless) for pluck in plucks)


def _told(pluck: PluckMeasurement, own: Sequence[_Line], nameless: Sequence[_Line]) -> PluckMeasurement:
    partials = tuple(replace(one, answered_by=_answering(pluck.string, one.beat_other_hz, one.beat_other_t60_s, own))
                     for one in pluck.partials)
    others = tuple(_named(pluck.string, line, own, nameless) for line in pluck.others)
    told = replace(pluck, partials=partials, others=others)
    changes = pluck.beat_hz.known and any(one.answered_by for one in partials)
    return replace(told, **_beat_of(partials)) if changes else told


def _within(lines: Sequence[_Line], freq_hz: float, reach_hz: float) -> Sequence[_Line]:
    """Those of the ascending lines that lie no farther off."""
    first, last = (bisect(lines, edge_hz, key=lambda one: one.freq_hz) for edge_hz in (freq_hz - reach_hz, freq_hz + reach_hz))
    return lines[first:last]


def _answering(string: str, freq_hz: float | None, t60_s: float | None, own: Sequence[_Line]) -> str | None:
    """The other string whose own partial is nearest, if it lies there and dies like that."""
    if freq_hz is None or t60_s is None:
        return None
    reach_hz = math.hypot(ANSWER_HZ, freq_hz * ANSWER_CENTS / CENTS)
    near = [one for one in _within(own, freq_hz, reach_hz)
            if one.string != string and abs(math.log(one.t60_s / t60_s)) <= math.log(ANSWER_DECAY)]
    return min(near, key=lambda one: abs(one.freq_hz - freq_hz)).string if near else None


def _named(string: str, line: OtherLine, own: Sequence[_Line], nameless: Sequence[_Line]) -> OtherLine:
    if line.taken_for == NOT_KNOWN or line.taken_for.startswith(VOICE):
        answering = _answering(string, line.freq_hz, line.t60_s, own)
        if answering is not None:
            return replace(line, taken_for=answering)
    if line.taken_for == NOT_KNOWN:
        there = {one.string for one in _within(nameless, line.freq_hz, line.freq_hz * BODY_CENTS / CENTS)} - {string}
        return replace(line, taken_for=BODY) if len(there) >= BODY_STRINGS else line
    return line


def _beat_of(partials: Sequence[Partial]) -> dict[str, Figure]:
    """Rate and depth of the string's beat, chosen as in `beats`, among those that are no answers."""
    beating = [one for one in partials if one.beat_hz is not None]
    found = [f"{one.answered_by} answers" if one.answered_by else _as_beat(one) for one in beating]
    rate_hz, depth_db = string_beat(np.array([one.n for one in beating]), found, np.array([one.level_db for one in beating]))
    return {"beat_hz": rate_hz, "beat_depth_db": depth_db}


def _as_beat(one: Partial) -> Beat:
    return Beat(one.beat_hz, one.beat_depth_db, one.beat_se_hz, one.beat_depth_se_db, one.beat_other_hz, LN_1000 / one.beat_other_t60_s)
