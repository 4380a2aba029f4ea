"""The solved sweep in words: each pluck with all that it rings, and why each other sound is none."""

from collections.abc import Container, Sequence

import numpy as np

from toneprobe.audio import Recording
from toneprobe.identify.evidence import FULL_EVIDENCE_DB, NO_PLUCK_SCORE
from toneprobe.identify.likeness import Likeness
from toneprobe.identify.missed_repeats import missed_repeats
from toneprobe.identify.named import (
    BETWEEN,
    EITHER,
    LIKE_NO_STRING,
    NOTHING_NEW,
    OCTAVE_BELOW,
    OUT_OF_ORDER,
    PLUCKED_WHILE_RINGING,
    TOO_FAINT,
    VOICE,
    Identification,
    NamedSpan,
    Rejected,
    identified,
)
from toneprobe.identify.octave_leaps import why_above
from toneprobe.identify.solution import Events, Solution
from toneprobe.identify.touch import is_heard, rise_db
from toneprobe.segment import Span
from toneprobe.units import shift_hz

LEAST_SURENESS = 0.5  # least share of all names' chances that a name needs: better none than one more likely wrong
LEAST_PLUCK = 0.8  # chance of all names together, below which that share is taken of this instead, for it may be no pluck
LEAST_SHARED = 0.3  # of the second of two names between which nothing decides
QUIET_DB = 6.0  # a sound so much weaker than a pluck does not end it, unless what is left of the pluck drowns in it
DROWNING_DB = 7.0  # rise of the level from which on it does


def collect(recording: Recording, events: Events, solution: Solution) -> Identification:
    """What every event of the solved sweep was: a pluck with its string and all that it rings, or no pluck, and why."""
    named, rejected, strings = [], [], events.instrument.strings
    nothing_new = [like.evidence_db == 0.0 for like in events.likenesses]
    repeats = missed_repeats(solution.path, events.onsets_s, nothing_new)
    joined = _joined(recording, events.spans, events.likenesses, solution.path, repeats)
    open_to = {i: tuple(strings[s].name for s in reversed(one.strings)) for one in solution.between for i in one.events}
    rows = zip(joined, solution.namings, solution.path, solution.chances, strict=True)
    for i, (span, naming, string, chance) in enumerate(rows):
        if string is not None and i in open_to:
            rejected.append(Rejected(span, BETWEEN, between=open_to[i]))
            continue
        if i in solution.beside:
            rejected.append(Rejected(span, solution.beside[i]))
            continue
        if string is None or chance[string] < LEAST_SURENESS * max(float(chance.sum()), LEAST_PLUCK):
            rejected.append(Rejected(span, _why_unnamed(i, events, solution, repeats)))
            continue
        spec, cents = strings[string], float(naming.offset_cents[string])
        knocks_s = tuple(onset_s for onset_s in events.onsets_s if span.onset_s < onset_s < span.end_s)
        named.append(NamedSpan(span, spec, float(chance[string]), cents, shift_hz(spec.expected_hz, cents), knocks_s,
                               any(is_heard(recording.read, rate_hz=recording.rate_hz, at_s=at_s) for at_s in knocks_s)))
        rejected.extend(Rejected(span, why) for span, why in events.candidates[i].left_out)
    return identified(named, rejected, strings)


def _joined(recording: Recording, spans: Sequence[Span], likenesses: list[Likeness], path: list[int | None],
            repeats: Container[int]) -> list[Span]:
    """Plucks ring on through what is no pluck, unless that is about as loud as they were at first, or far louder than they are by then, or
    among the `repeats` of the same string."""
    joined = list(spans)
    for i, string in enumerate(path):
        for j in range(i + 1, len(spans) if string is not None else 0):
            if path[j] is not None or j in repeats or not _rings_through(recording, likenesses[i], spans[j], likenesses[j]):
                break
            end_s = spans[j].end_s if likenesses[j].evidence_db == 0 or joined[i].end_s > spans[j].onset_s - 0.02 else joined[i].end_s
            joined[i] = Span(spans[i].onset_s, max(joined[i].end_s, end_s), spans[j].next_s)
    return joined


def _rings_through(recording: Recording, pluck: Likeness, event: Span, other: Likeness) -> bool:
    is_quiet = other.power_db < pluck.power_db - QUIET_DB
    return is_quiet and rise_db(recording.read, rate_hz=recording.rate_hz, at_s=event.onset_s) < DROWNING_DB


def _why_unnamed(i: int, events: Events, solution: Solution, repeats: Container[int]) -> str:
    """Why event i is no pluck, or has no name that is sure enough."""
    if solution.voices[i]:
        return VOICE
    if i in repeats:
        return PLUCKED_WHILE_RINGING
    if i in solution.over:
        return why_above(solution.over[i].lower_hz, events.instrument, times=solution.over[i].times)
    return _why_unlike(events.likenesses[i], solution.chances[i])


def _why_unlike(like: Likeness, chance: np.ndarray) -> str:
    """chance: of each string, as posterior probability."""
    if like.evidence_db == 0.0:
        return NOTHING_NEW
    if like.score.max() < NO_PLUCK_SCORE:
        return LIKE_NO_STRING
    second, first = np.sort(chance)[-2:] if len(chance) > 1 else (0.0, float(chance.max()))
    if first + second > LEAST_PLUCK and second > LEAST_SHARED:
        return EITHER
    if first > 0.2 or like.evidence_db >= FULL_EVIDENCE_DB:
        return OCTAVE_BELOW if like.octave_below_score > like.score.max() else OUT_OF_ORDER
    return TOO_FAINT
