"""Which string each span is, how sure that is, and which strings were not heard.

A single pluck seldom names its string beyond doubt: E and F are a semitone apart, a string may be a semitone out of tune, C flat sounds
as B. A sweep does: it runs along the harp. So the whole sweep is solved at once, as the most probable path of a hidden Markov chain
(see `sweep_order`). Evidence: the likeness of each event to each string (see `likeness`) and how far its pitch lies from what the whole
harp does. How sure a name is comes from the same chain: the posterior probability of that string at that event.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from toneprobe.audio import Recording
from toneprobe.instrument import Instrument, StringSpec, string_expected_b
from toneprobe.likeness import LONGEST_S, LOW_HZ, LOW_S, Likeness, liken, new_lines
from toneprobe.segment import Span
from toneprobe.steadiness import wander_cents
from toneprobe.sweep_order import QUICK_REPEAT_S, Habits, Steps, best_path, gaps_between, learn_habits, posterior
from toneprobe.together import second_string
from toneprobe.units import shift_hz
from toneprobe.workers import Each, one_by_one

SHARPNESS = 4.0  # weight of ln(likeness) against the costs of steps
NO_PLUCK_SCORE = 0.09  # an event less like a string than this is none …
CLEAR_NO_PLUCK_SCORE = 0.04  # … or than this, where there is much evidence and all other strings are far less like it
CONTRAST = 2.5  # far less: by this factor
FULL_EVIDENCE_DB = 110.0  # salience of all lines together that makes a likeness count in full
PITCH_SPREAD_CENTS = 40.0
PITCH_COST_CAP = 2.0  # a string may be a semitone out
SECOND_THOUGHT_DB = 4.0  # at once, and so much weaker: part of the first
LATE_SWELL_DB = 6.0  # at once, the same string and not so much stronger: part of the first
ECHO_DB = 14.0  # the same string again, but so much weaker: it was touched, not plucked
LEAST_SURENESS = 0.5  # better no name than one more likely wrong
WANDER_CENTS = 14.0  # all partials of a string never move so far together
THUMP_HZ, THUMP_S = 500.0, 0.15  # after this the body is silent above, and …
LOW_THUMP_S = 0.35  # … after this below
SURELY_NOT = -1e3
VOICE = "its pitch wanders, as a voice's does"
QUIET_DB = 6.0  # a sound so much weaker than a pluck does not end it


@dataclass(frozen=True)
class NamedSpan:
    """A span with the string that it was taken for."""

    span: Span
    string: StringSpec
    sureness: float  # 0 to 1: posterior probability of this name
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


def identify(recording: Recording, spans: tuple[Span, ...], instrument: Instrument, *, each: Each | None = None) -> Identification:
    """Name every span of one recording; `each` maps functions of the recording over many of them (`workers`)."""
    each = each or one_by_one(recording)
    spans, likenesses = _without_second_thoughts(recording, spans, instrument, each)
    if not likenesses:
        return Identification((), instrument.strings, ())
    expected_hz = np.array([string.expected_hz for string in instrument.strings])
    gaps = gaps_between(likenesses, [span.onset_s for span in spans], expected_hz)
    no_pluck = np.array([_no_pluck(like) for like in likenesses])
    common_cents, habits, voices = 0.0, Habits(), np.zeros(len(likenesses), bool)
    for _ in range(2):  # the second time with the pitch of the whole harp, the player's habits and without the voices that the first found
        evidence = _evidence(likenesses, common_cents)
        evidence[voices] = SURELY_NOT
        steps = Steps(len(expected_hz), gaps, habits)
        path = best_path(evidence, no_pluck, steps)
        offsets = [like.offset_cents[s] for like, s in zip(likenesses, path, strict=True) if s is not None]
        common_cents, habits = float(np.median(offsets)) if offsets else 0.0, learn_habits(path)
        voices |= [s is not None and _is_voice(recording, span, instrument.strings[s], float(like.offset_cents[s]))
                   for span, like, s in zip(spans, likenesses, path, strict=True)]
    path = [None if voice else s for s, voice in zip(path, voices, strict=True)]
    found = _collect(spans, instrument, likenesses, path, posterior(evidence, no_pluck, steps))
    return _alone(_with_voices(found, {span.onset_s for span, voice in zip(spans, voices, strict=True) if voice}), instrument, each)


def _is_voice(recording: Recording, span: Span, string: StringSpec, offset_cents: float) -> bool:
    b, n = string_expected_b(string)[0], np.arange(1, 11)
    partials_hz = shift_hz(string.expected_hz, offset_cents) * n * np.sqrt((1.0 + b * n * n) / (1.0 + b))
    wander = wander_cents(recording.read, rate_hz=recording.rate_hz, onset_s=span.onset_s, end_s=span.end_s, partials_hz=partials_hz)
    return wander is not None and wander > WANDER_CENTS


def _with_voices(found: Identification, voices_s: set[float]) -> Identification:
    """What was left out for its wandering pitch says so."""
    rejected = tuple(Rejected(one.span, VOICE) if one.span.onset_s in voices_s else one for one in found.rejected)
    return replace(found, rejected=rejected)


def _without_second_thoughts(recording: Recording, spans: tuple[Span, ...], instrument: Instrument,
                             each: Each) -> tuple[tuple[Span, ...], list[Likeness]]:
    """Leave out what follows an onset at once and is weaker: the slow swelling of a bass string, the finger coming off."""
    kept: list[Span] = []
    likenesses: list[Likeness] = []
    for span, like in zip(spans, each(partial(liken, instrument=instrument), spans), strict=True):
        if kept:
            joined = Span(kept[-1].onset_s, span.end_s, span.next_s)
            whole = _one_pluck(recording, joined, instrument, likenesses[-1], like, span.onset_s)
            if whole:
                kept[-1], likenesses[-1] = joined, whole
                continue
            if _is_touched(likenesses[-1], like):
                kept[-1] = Span(kept[-1].onset_s, min(kept[-1].end_s, span.onset_s), span.next_s)
                continue
        kept.append(span)
        likenesses.append(like)
    return tuple(kept), likenesses


def _one_pluck(recording: Recording, joined: Span, instrument: Instrument, before: Likeness, after: Likeness,
               again_s: float) -> Likeness | None:
    """The likeness of two events taken together, where they are one pluck."""
    if again_s - joined.onset_s >= QUICK_REPEAT_S:
        return None
    whole, drop_db = liken(recording, joined, instrument), before.power_db - after.power_db
    same = whole.score.argmax() == after.score.argmax() and drop_db > -LATE_SWELL_DB
    return whole if drop_db > SECOND_THOUGHT_DB or same else None


def _is_touched(before: Likeness, after: Likeness) -> bool:
    """Whether the string that rings was only touched: that ends its pluck, and is none."""
    return before.power_db - after.power_db > ECHO_DB and before.score.argmax() == after.score.argmax()


def _evidence(likenesses: list[Likeness], common_cents: float) -> np.ndarray:
    """Log evidence for each string at each event, shape (events, 2n + 1), as the states are laid out in `step_weights`."""
    rows = []
    for like in likenesses:
        share = min(1.0, like.evidence_db / FULL_EVIDENCE_DB)
        off = (like.offset_cents - common_cents) / PITCH_SPREAD_CENTS
        named = SHARPNESS * np.log(np.maximum(like.score * share, 1e-4)) - np.minimum(0.5 * off**2, PITCH_COST_CAP)
        rows.append(np.concatenate([named, named, [-np.inf]]))
    return np.array(rows)


def _no_pluck(like: Likeness) -> float:
    """Log evidence that an event is no pluck."""
    share = min(1.0, like.evidence_db / FULL_EVIDENCE_DB)
    least = NO_PLUCK_SCORE - (NO_PLUCK_SCORE - CLEAR_NO_PLUCK_SCORE) * max(0.0, 2.0 * share - 1.0)
    return SHARPNESS * float(np.log(np.clip(CONTRAST * np.percentile(like.score, 85), least, NO_PLUCK_SCORE)))


def _collect(spans: tuple[Span, ...], instrument: Instrument, likenesses: list[Likeness], path: list[int | None],
             chances: np.ndarray) -> Identification:
    named, rejected = [], []
    for span, like, string, chance in zip(_joined(spans, likenesses, path), likenesses, path, chances, strict=True):
        if string is None or chance[string] < LEAST_SURENESS:
            rejected.append(Rejected(span, _why_not(like, float(chance.max()))))
            continue
        spec, cents = instrument.strings[string], float(like.offset_cents[string])
        named.append(NamedSpan(span, spec, float(chance[string]), cents, shift_hz(spec.expected_hz, cents)))
    heard = {one.string.name for one in named}
    return Identification(tuple(named), tuple(s for s in instrument.strings if s.name not in heard), tuple(rejected))


def _alone(found: Identification, instrument: Instrument, each: Each) -> Identification:
    """Without the plucks that another string sounded with."""
    named, rejected = [], list(found.rejected)
    for one, other in zip(found.named, each(partial(_other_string, instrument=instrument), found.named), strict=True):
        if other is None:
            named.append(one)
        else:
            rejected.append(Rejected(one.span, f"{one.string.name} and {other.name} sound at once"))
    heard = {one.string.name for one in named}
    unheard = tuple(string for string in instrument.strings if string.name not in heard)
    return Identification(tuple(named), unheard, tuple(sorted(rejected, key=lambda one: one.span.onset_s)))


def _other_string(recording: Recording, one: NamedSpan, instrument: Instrument) -> StringSpec | None:
    """Another string plucked with this one. It rings on; the thump of the body, which may look like low partials, does not."""
    longest_s = LOW_S if one.string.expected_hz < LOW_HZ else LONGEST_S
    lines = new_lines(recording, one.span, longest_s=longest_s)
    other = second_string(lines, one.string, one.pitch_hz, instrument.strings)
    if other is None:
        return None
    skip_s = THUMP_S if other.expected_hz > THUMP_HZ else LOW_THUMP_S
    lines = new_lines(recording, one.span, longest_s=longest_s, skip_s=skip_s)
    return second_string(lines, one.string, one.pitch_hz, instrument.strings)


def _joined(spans: tuple[Span, ...], likenesses: list[Likeness], path: list[int | None]) -> list[Span]:
    """Plucks ring on through what is no pluck, unless that is about as loud as they are."""
    joined = list(spans)
    for i, string in enumerate(path):
        j = i + 1
        while string is not None and j < len(spans) and path[j] is None and likenesses[j].power_db < likenesses[i].power_db - QUIET_DB:
            end_s = spans[j].end_s if likenesses[j].evidence_db == 0 or joined[i].end_s > spans[j].onset_s - 0.02 else joined[i].end_s
            joined[i] = Span(spans[i].onset_s, max(joined[i].end_s, end_s), spans[j].next_s)
            j += 1
    return joined


def _why_not(like: Likeness, chance: float) -> str:
    if like.evidence_db == 0.0:
        return "nothing new rings after it"
    if like.score.max() < NO_PLUCK_SCORE:
        return "no string of the instrument sounds like it"
    if chance > 0.2:
        return "it may be a pluck, but it does not fit the sweep's order"
    return "too faint, or out of the sweep's order"
