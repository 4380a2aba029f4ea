"""What may be plucks: every event of a recording, without what only follows a pluck and is part of it.

Right after an onset may come the slow swell of a bass string, or the finger coming off: weaker, and no pluck. A far weaker sound than a
pluck that may still ring is another pluck only if its string, or most of its partials each by itself, sound louder for it. Otherwise the
lines of ringing strings only seem new, through a knock, or the ringing string was touched, which ends its pluck. The strength of a repeat
is told by its partials, each beside itself at the pluck before: its new lines lack the strong ones that still rang, of which a firm pluck
may have more. Of a string plucked twice within so short a time the second pluck counts, which is left to ring; both together tell the name.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from toneprobe.audio import Recording
from toneprobe.identify.likeness import Likeness, liken
from toneprobe.identify.sweep_order import QUICK_REPEAT_S, SAME_PITCH_CENTS
from toneprobe.identify.touch import Rise, course_at, is_plucked_again, partials_rise
from toneprobe.instrument import Instrument, StringSpec, string_expected_b
from toneprobe.segment import Span
from toneprobe.stiffness import stiff_ratio
from toneprobe.units import cents_between, shift_hz
from toneprobe.workers import Each

SECOND_THOUGHT_DB = 4.0  # at once, and so much weaker: part of the first
LATE_SWELL_DB = 6.0  # at once, the same string and not so much stronger: part of the first
SOONEST_AGAIN_S = 0.2  # sooner than this a string that swells and one that is plucked again cannot be told apart
ECHO_DB = 14.0  # a sound so much weaker than what may still ring is looked at twice
LONGEST_RING_S = 10.0  # after which no pluck is taken to ring still
N_RISING = 20  # partials of which each is looked at by itself
RISE_B_FACTORS = np.geomspace(0.2, 3.2, 18)  # of the expected inharmonicity, tried for their places
RISE_CENTS = np.arange(-9.0, 9.1, 3.0)  # tried for their places: the pitch is known so well
AGAIN = "the same string was plucked again right after"
PART_OF_IT = "what comes right after a pluck is taken for a part of it"


@dataclass(frozen=True)
class Candidate:
    span: Span
    likeness: Likeness  # to each string of the instrument
    left_out: tuple[tuple[Span, str], ...] = ()  # what sounded right before or after it and is no pluck that counts, each with why

    @property
    def best(self) -> int:
        """The string that it is most like."""
        return int(self.likeness.score.argmax())

    @property
    def power_db(self) -> float:
        return self.likeness.power_db


def candidates(recording: Recording, spans: Sequence[Span], instrument: Instrument, each: Each) -> list[Candidate]:
    """In time order; `each` maps functions of the recording over many spans (`workers`)."""
    found: list[Candidate] = []
    for span, like in zip(spans, each(partial(liken, instrument=instrument), spans), strict=True):
        one = Candidate(span, like)
        whole = _likeness_as_one_pluck(recording, found[-1], one, instrument) if found else None
        if whole is not None:
            found[-1] = _with_part(recording, found[-1], span, whole, instrument)
            continue
        ringing = [other for other in found if span.onset_s - other.span.onset_s < LONGEST_RING_S]
        loudest = max(ringing, key=lambda other: other.power_db, default=None)
        if loudest is not None and _is_echo(one, loudest) and like.evidence_db > 0.0:
            looked_at = _looked_at_twice(recording, one, found, loudest, instrument)
            if looked_at is None:
                continue
            one = looked_at
        found.append(one)
    return found


def partials_hz(string: StringSpec, offset_cents: float) -> np.ndarray:
    """The lowest ten expected partials."""
    return shift_hz(string.expected_hz, offset_cents) * stiff_ratio(string_expected_b(string)[0], np.arange(1, 11))


def _likeness_as_one_pluck(recording: Recording, before: Candidate, after: Candidate, instrument: Instrument) -> Likeness | None:
    """Of two events taken together; None where they are no single pluck."""
    if after.span.onset_s - before.span.onset_s >= QUICK_REPEAT_S:
        return None
    whole, drop_db = liken(recording, _joined(before.span, after.span), instrument), before.power_db - after.power_db
    whole_hz, after_hz = (instrument.strings[int(like.score.argmax())].expected_hz for like in (whole, after.likeness))
    is_late_swell = abs(cents_between(after_hz, whole_hz)) < SAME_PITCH_CENTS and drop_db > -LATE_SWELL_DB  # E and F flat are one
    return whole if drop_db > SECOND_THOUGHT_DB or is_late_swell else None


def _joined(first: Span, second: Span) -> Span:
    return Span(first.onset_s, second.end_s, second.next_s)


def _with_part(recording: Recording, first: Candidate, second: Span, whole: Likeness, instrument: Instrument) -> Candidate:
    """Both events as one pluck, which begins where its string was plucked last."""
    joined, left_out = _joined(first.span, second), first.left_out
    if second.onset_s - joined.onset_s >= SOONEST_AGAIN_S:
        if _is_again(recording, joined.onset_s, second.onset_s, instrument, whole):
            left_out += ((Span(joined.onset_s, second.onset_s, second.onset_s), AGAIN),)
            joined = replace(joined, onset_s=second.onset_s)
        else:
            left_out += ((second, PART_OF_IT),)
    return Candidate(joined, whole, left_out)


def _is_again(recording: Recording, first_s: float, again_s: float, instrument: Instrument, whole: Likeness) -> bool:
    """Whether the string that two events together sound like was plucked at both."""
    best = int(whole.score.argmax())
    string, offset_cents = instrument.strings[best], float(whole.offset_cents[best])
    return is_plucked_again(recording.read, rate_hz=recording.rate_hz, first_s=first_s, again_s=again_s,
                            partials_hz=partials_hz(string, offset_cents), rise=_rise(recording, string, offset_cents, again_s))


def _is_echo(one: Candidate, ringing: Candidate) -> bool:
    return ringing.power_db - one.power_db > ECHO_DB


def _looked_at_twice(recording: Recording, one: Candidate, before: Sequence[Candidate], loudest: Candidate,
                     instrument: Instrument) -> Candidate | None:
    """A far weaker sound than a pluck that may still ring: a pluck, at its own strength; like no string, where nothing was struck; None
    where it is the hand on the loudest string."""
    string, offset_cents, onset_s = instrument.strings[one.best], float(one.likeness.offset_cents[one.best]), one.span.onset_s
    course = course_at(recording.read, rate_hz=recording.rate_hz, at_s=onset_s, partials_hz=partials_hz(string, offset_cents))
    is_anew = _rise(recording, string, offset_cents, onset_s).is_anew
    earlier = _last_of(one.best, before, onset_s) if is_anew else None
    if earlier is not None:
        since_db = _rise(recording, string, offset_cents, onset_s, earlier.span.onset_s).partials_db
        one = replace(one, likeness=replace(one.likeness, power_db=max(one.power_db, earlier.power_db + min(since_db, 0.0))))
    if course.is_stopped and _is_echo(one, loudest) and one.best == loudest.best:
        return None
    if course.is_struck or is_anew:
        return one
    return replace(one, likeness=replace(one.likeness, score=np.zeros_like(one.likeness.score), evidence_db=0.0, octave_below_score=0.0))


def _last_of(string: int, found: Sequence[Candidate], at_s: float) -> Candidate | None:
    """The last pluck that is most like that string, where it may still ring."""
    same = [one for one in found if one.likeness.evidence_db > 0.0 and one.best == string]
    return same[-1] if same and at_s - same[-1].span.onset_s < LONGEST_RING_S else None


def _rise(recording: Recording, string: StringSpec, offset_cents: float, at_s: float, since_s: float | None = None) -> Rise:
    stiffness = stiff_ratio(string_expected_b(string)[0] * RISE_B_FACTORS[:, None], np.arange(1, N_RISING + 1))
    hz = shift_hz(string.expected_hz, offset_cents + RISE_CENTS)[:, None, None] * stiffness
    return partials_rise(recording.read, rate_hz=recording.rate_hz, event_s=at_s, since_s=since_s, series_hz=hz.reshape(-1, N_RISING))
