"""Which string each span is, how sure that is, and which strings were not heard.

A single pluck seldom names its string beyond doubt: E and F are a semitone apart, a string may be a semitone out of tune, C flat sounds
as B. A sweep does: it runs along the harp. So the whole sweep is solved at once, as the most probable path of a hidden Markov chain
(see `sweep_order`). Evidence: the likeness of each event to each string (see `likeness`) and how far its pitch lies from what the whole
harp does. How sure a name is comes from the same chain: the posterior probability of that string at that event.
"""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import groupby, pairwise
from types import MappingProxyType

import numpy as np

from toneprobe.audio import Recording
from toneprobe.identify.as_played import as_played
from toneprobe.identify.beside_sweep import fallen_in
from toneprobe.identify.between_notes import LEAST_ODDS, NOTHING_KNOWN, OFF_NOTE_CENTS, Between, Known, rivals_at, weighed
from toneprobe.identify.candidates import LONGEST_RING_S, Candidate, candidates, partials_hz
from toneprobe.identify.evidence import (
    FULL_EVIDENCE_DB,
    NO_PLUCK_SCORE,
    Naming,
    string_evidence,
    with_far_strings,
)
from toneprobe.identify.leaps import learn_leaps
from toneprobe.identify.likeness import LONGEST_S, LOW_HZ, LOW_S, Likeness, new_lines
from toneprobe.identify.missed_repeats import missed_repeats
from toneprobe.identify.neighbours_note import beyond_habit
from toneprobe.identify.octave import is_octave_above, is_octave_below, octave_apart_cents
from toneprobe.identify.over_ringing import is_octave_over
from toneprobe.identify.steadiness import wander_cents
from toneprobe.identify.sweep_order import (
    Run,
    at_two_pitches,
    best_path,
    learn_habits,
    order_tells,
    posterior,
    run_of,
)
from toneprobe.identify.together import second_string
from toneprobe.identify.touch import is_heard, rise_db
from toneprobe.instrument import Instrument, StringSpec, string_expected_b
from toneprobe.segment import Span
from toneprobe.units import cents_between, shift_hz
from toneprobe.workers import Each, one_by_one

LEAST_SURENESS = 0.5  # of all names: better none than one more likely wrong …
LEAST_PLUCK = 0.8  # … and half of this share in all, for it may be no pluck
LEAST_SHARED = 0.3  # of the second of two names between which nothing decides
WANDER_CENTS = 14.0  # all partials of a string never move so far together
THUMP_HZ, THUMP_S = 500.0, 0.15  # after this the body is silent above, and …
LOW_THUMP_S = 0.35  # … after this below
SURELY_NOT = -1e3
VOICE = "its pitch wanders, as a voice's does"
PLUCKED_WHILE_RINGING = "its string seems to have been plucked again while it still rang, and what rang then is both"
NOTHING_NEW, LIKE_NO_STRING = "nothing new rings after it", "no string of the instrument sounds like it"
EITHER = "two strings sound alike there, and nothing beside it tells which was plucked"
BESIDE_SWEEP = "it is far fainter than its string's own plucks, and the sweep goes on around it"
BESIDE_ALL = "it is far fainter than the plucks of the strings near it, and the sweep goes on around it"  # of a string that has no others
OUT_OF_ORDER = "it may be a pluck, but it does not fit the sweep's order"
TOO_FAINT = "too faint, or out of the sweep's order"
OCTAVE_ABOVE = "it sounds an octave above the string that it is most like, as a harmonic does, or a string that the instrument lacks"
OCTAVE_BELOW = "it sounds an octave below the string that it is most like, as one that has slipped far, or that the instrument lacks"
BETWEEN = "it lies between the notes of two strings, and nothing tells which was plucked"
OCTAVE_OF_BOTH = "it sounds an octave above the string that it is most like, as a harmonic does, or the string an octave higher"
HARMONIC_CENTS = 2.0  # a harmonic lies within 0.2 of its string's even partials (model harps), and a firmer pluck sounds a cent sharper …
HARMONIC_SHARE = 0.7  # … in all pairs of a sweep: of octaves tuned within two cents up to 40 %, of a real harp's a fifth
MOST_UNHEARD = 0.1  # of the strings, in a sweep of them all (set)
OCTAVE_WITHIN_CENTS = 60.0  # what is out of tune is an octave still
QUIET_DB = 6.0  # a sound so much weaker than a pluck does not end it …
DROWNING_DB = 7.0  # … unless what is left of the pluck is so much weaker than both together


@dataclass(frozen=True)
class NamedSpan:
    """A span with the string that it was taken for."""

    span: Span
    string: StringSpec
    sureness: float  # 0 to 1: posterior probability of this name
    offset_cents: float  # rough: the sounding pitch against the expected one
    pitch_hz: float  # rough: first partial
    knocks_s: tuple[float, ...] = ()  # when something else sounded while it rang, s from the recording's start …
    is_knocked: bool = False  # … and whether any of that stands out of what rings


@dataclass(frozen=True)
class Rejected:
    """A span that is no pluck of this instrument."""

    span: Span
    reason: str
    plucked: str = ""  # where it is one, but another string sounded with it: which, …
    along: str = ""  # … and the other
    between: tuple[str, ...] = ()  # where it lies between the notes of strings: which, lowest first


@dataclass(frozen=True)
class Identification:
    named: tuple[NamedSpan, ...]  # in time order
    unheard: tuple[StringSpec, ...]
    rejected: tuple[Rejected, ...]
    respelled: tuple[tuple[str, str], ...] = ()  # ("Eb", "E"): what was told and what was played, of each letter played otherwise
    kind: str | None = None  # the instrument's
    set_by_hand: frozenset[str] = frozenset()  # strings without mechanism


@dataclass(frozen=True)
class _Events:
    """What may be plucks of the instrument in one tuning."""

    found: list[Candidate]
    instrument: Instrument

    @property
    def spans(self) -> list[Span]:
        return [one.span for one in self.found]

    @property
    def likenesses(self) -> list[Likeness]:
        return [one.likeness for one in self.found]

    @property
    def onsets_s(self) -> list[float]:
        return [one.span.onset_s for one in self.found]


@dataclass(frozen=True)
class _Over:
    """What struck the octave above a string that rings."""

    lower_hz: float  # that string's pitch
    may_be_harmonic: bool


@dataclass(frozen=True)
class _Solution:
    """All events named at once. One entry per event."""

    namings: list[Naming]
    path: list[int | None]
    voices: np.ndarray  # bool
    chances: np.ndarray  # (events, n strings)
    over: Mapping[int, _Over] = field(default_factory=dict)
    between: tuple[Between, ...] = ()  # of these nothing tells which string it was
    beside: Mapping[int, str] = field(default_factory=dict)  # events that only fell into the sweep, and why
    leaps: bool = False  # the player does not run along the harp


def identify(recording: Recording, spans: tuple[Span, ...], instrument: Instrument, *, each: Each | None = None,
             known: Known = NOTHING_KNOWN) -> Identification:
    """Name every span of one recording; `each` maps functions of the recording over many of them (`workers`)."""
    each = each or one_by_one(recording)
    events = _Events(candidates(recording, spans, instrument, each), instrument)
    if not events.found:
        return Identification((), instrument.strings, ())
    solution = _solve(recording, events, known)
    played = as_played(instrument, events.likenesses, events.onsets_s, solution.path)
    if played != instrument:
        events = _Events(candidates(recording, spans, played, each), played)
        solution = _solve(recording, events, known)
    solution = _without_octaves_over(recording, events, solution, known, each)
    found = _alone(_collect(recording, events, solution), played, each)
    if solution.leaps and not _complete_the_sweep(found) and _are_harmonics(found.named, each):
        solution = _solve(recording, events, known, may_leap=False)
        solution = _without_octaves_over(recording, events, solution, known, each, may_leap=False)
        found = _alone(_collect(recording, events, solution), played, each)
    set_by_hand = frozenset(one.name for one in instrument.strings if not one.mechanism)
    return replace(found, respelled=_respelled(instrument, played), kind=instrument.kind, set_by_hand=set_by_hand)


def _respelled(told: Instrument, played: Instrument) -> tuple[tuple[str, str], ...]:
    """Pairs of letters with their accidentals, each once, from the highest string down."""
    notes = zip(told.strings, played.strings, strict=True)
    return tuple(dict.fromkeys((one.note.rstrip("0123456789"), other.note.rstrip("0123456789")) for one, other in notes if one != other))


def _without_octaves_over(recording: Recording, events: _Events, solution: _Solution, known: Known, each: Each, *,
                          may_leap: bool = True) -> _Solution:
    """The same, where what struck the octave above a string that rings was named for that one, solved again."""
    over = _struck_over(events, solution, each)
    return _solve(recording, events, known, may_leap=may_leap, over=over) if over else solution


def _struck_over(events: _Events, solution: _Solution, each: Each) -> dict[int, _Over]:
    """By event: what was named as a string that rings from an earlier pluck, but struck the octave above it."""
    last, asked, strings = {}, {}, events.instrument.strings
    for i, (string, span) in enumerate(zip(solution.path, events.spans, strict=True)):
        if string in last and string is not None and span.onset_s - last[string].onset_s < LONGEST_RING_S:
            pitch_hz = shift_hz(strings[string].expected_hz, float(solution.namings[i].offset_cents[string]))
            asked[i] = last[string], span, events.onsets_s[i - 1], (pitch_hz, string_expected_b(strings[string])[0])
        last[string] = span
    told = zip(asked, each(_over, list(asked.values())), strict=True)
    return {i: over for i, over in told if over is not None}


def _over(recording: Recording, asked: tuple[Span, Span, float, tuple[float, float]]) -> _Over | None:
    lower, span, since_s, named = asked
    if not is_octave_over(recording.read, rate_hz=recording.rate_hz, event_s=span.onset_s, since_s=since_s, named=named):
        return None
    lines = (new_lines(recording, one, longest_s=LOW_S) for one in (lower, span))
    return _Over(named[0], abs(octave_apart_cents(*lines, *named) or 0.0) < HARMONIC_CENTS)


def _solve(recording: Recording, events: _Events, known: Known, *, may_leap: bool = True,
           over: Mapping[int, _Over] = MappingProxyType({})) -> _Solution:
    """over: as told by `_struck_over`; of these only the upper string comes into question, and of what may be harmonics none."""
    expected_hz = np.array([string.expected_hz for string in events.instrument.strings])
    likenesses = list(events.likenesses)
    for i, struck in over.items():
        may_be = [_is_octave(hz, struck.lower_hz) and not struck.may_be_harmonic for hz in expected_hz]
        likenesses[i] = replace(likenesses[i], score=np.where(may_be, likenesses[i].score, 0.0), under_score=0.0)
    namings = [with_far_strings(like, expected_hz) for like in likenesses]
    run = run_of(likenesses, namings, events.onsets_s, expected_hz)
    common_cents, voices, doubt = 0.0, np.zeros(len(namings), bool), np.zeros((len(namings), len(expected_hz)))
    for first in (True, False):  # the second time with what the first told: the harp's pitch, the player's habits, voices, doubtful names
        evidence = string_evidence(namings, common_cents) - np.concatenate([doubt, doubt, np.zeros((len(doubt), 1))], axis=1)
        evidence[voices] = SURELY_NOT
        steps = run.steps(namings, common_cents)
        path, _ = best_path(evidence, run.no_pluck, steps)
        offsets = [one.offset_cents[s] for one, s in zip(namings, path, strict=True) if s is not None and not one.is_far[s]]
        common_cents = float(np.median(offsets)) if offsets else 0.0
        if first or run.habits.leap == 0.0:
            run = replace(run, habits=(first and may_leap and learn_leaps(evidence, run.no_pluck, path)) or learn_habits(path))
        run = replace(run, is_ordered=order_tells(path))
        if first:
            is_set = [string.mechanism for string in events.instrument.strings]
            doubt = at_two_pitches(namings, path, common_cents) + beyond_habit(namings, path, common_cents, is_set)
        voices |= [s is not None and _is_voice(recording, span, events.instrument.strings[s], float(one.offset_cents[s]))
                   for span, one, s in zip(events.spans, namings, path, strict=True)]
        run = replace(run, may_be_pluck=run.may_be_pluck & ~voices)
    path = [None if voice else s for s, voice in zip(path, voices, strict=True)]
    solution = _Solution(namings, path, voices, posterior(evidence, run.no_pluck, steps), over, leaps=run.habits.leap > 0.0)
    if order_tells(path):
        beside = () if solution.leaps else fallen_in(path, [like.power_db for like in events.likenesses])
        kept = [None if i in beside else s for i, s in enumerate(path)]
        solution = replace(solution, path=kept, beside={i: BESIDE_SWEEP if path[i] in kept else BESIDE_ALL for i in beside})
        return replace(solution, between=_left_open(solution, expected_hz, common_cents))
    return _of_a_few_strings(solution, events, known, run)


def _left_open(solution: _Solution, expected_hz: np.ndarray, common_cents: float) -> tuple[Between, ...]:
    """Of a whole sweep: sounds between the notes of the string named and of one that was not heard, where not even their order tells."""
    heard, found = set(solution.path), []
    for i, string in enumerate(solution.path):
        if string is None:
            continue
        off = rivals_at(solution.namings[i], string, expected_hz)
        strings = tuple(s for s in np.flatnonzero(~np.isnan(off)).tolist() if s == string or s not in heard)
        chances = solution.chances[i][list(strings)]
        if len(strings) > 1 and min(abs(off[list(strings)] - common_cents)) > OFF_NOTE_CENTS and chances.max() < LEAST_ODDS * chances.sum():
            found.append(Between((i,), strings, tuple((chances / chances.sum()).tolist())))
    return tuple(found)


def _of_a_few_strings(solution: _Solution, events: _Events, known: Known, run: Run) -> _Solution:
    """The same, sounds between the notes of two strings given to the likelier one."""
    place = {string.name: i for i, string in enumerate(events.instrument.strings)}
    found = weighed(solution.namings, solution.path, run, loose={place[name] for name in known.loose if name in place},
                    asked=place.get(known.asked))
    if found is None:
        return solution
    evidence = string_evidence(found.namings, found.level_cents)
    evidence[solution.voices] = SURELY_NOT
    steps = run.steps(found.namings, found.level_cents)
    path, _ = best_path(evidence, run.no_pluck, steps)
    chances = posterior(evidence, run.no_pluck, steps)
    for one in found.between:
        for i in one.events:
            plucked, chances[i] = chances[i].sum(), 0.0
            chances[i, list(one.strings)] = plucked * np.array(one.odds)
    return replace(solution, path=[None if voice else s for s, voice in zip(path, solution.voices, strict=True)], chances=chances,
                   between=tuple(one for one in found.between if not one.is_clear))


def _is_voice(recording: Recording, span: Span, string: StringSpec, offset_cents: float) -> bool:
    wander = wander_cents(recording.read, rate_hz=recording.rate_hz, onset_s=span.onset_s, end_s=span.end_s,
                          partials_hz=partials_hz(string, offset_cents))
    return wander is not None and wander > WANDER_CENTS


def _collect(recording: Recording, events: _Events, solution: _Solution) -> Identification:
    named, rejected, strings = [], [], events.instrument.strings
    nothing_new = [like.evidence_db == 0.0 for like in events.likenesses]
    again = missed_repeats(solution.path, events.onsets_s, nothing_new)
    joined = _joined(recording, events.spans, events.likenesses, solution.path, again)
    open_to = {i: tuple(strings[s].name for s in reversed(one.strings)) for one in solution.between for i in one.events}
    rows = zip(joined, events.likenesses, solution.namings, solution.path, solution.voices, solution.chances, strict=True)
    for i, (span, like, naming, string, voice, chance) in enumerate(rows):
        if string is not None and i in open_to:
            rejected.append(Rejected(span, BETWEEN, between=open_to[i]))
            continue
        if i in solution.beside:
            rejected.append(Rejected(span, solution.beside[i]))
            continue
        if string is None or chance[string] < LEAST_SURENESS * max(float(chance.sum()), LEAST_PLUCK):
            rejected.append(Rejected(span, VOICE if voice else PLUCKED_WHILE_RINGING if i in again
                                     else _octave_above(solution.over[i].lower_hz, events.instrument) if i in solution.over
                                     else _why_not(like, chance)))
            continue
        spec, cents = strings[string], float(naming.offset_cents[string])
        knocks_s = tuple(onset_s for onset_s in events.onsets_s if span.onset_s < onset_s < span.end_s)
        named.append(NamedSpan(span, spec, float(chance[string]), cents, shift_hz(spec.expected_hz, cents), knocks_s,
                               any(is_heard(recording.read, rate_hz=recording.rate_hz, at_s=at_s) for at_s in knocks_s)))
        rejected.extend(Rejected(span, why) for span, why in events.found[i].left_out)
    return _identified(named, rejected, strings)


def _identified(named: Sequence[NamedSpan], rejected: Sequence[Rejected], strings: Sequence[StringSpec]) -> Identification:
    heard = {one.string.name for one in named}
    return Identification(tuple(named), tuple(one for one in strings if one.name not in heard), tuple(rejected))


def _alone(found: Identification, instrument: Instrument, each: Each) -> Identification:
    """Without the plucks that another string sounded with, or that are another string's, an octave higher."""
    named, rejected = [], list(found.rejected)
    for one, why_not in zip(found.named, each(partial(_not_alone, instrument=instrument), found.named), strict=True):
        if why_not is None:
            named.append(one)
        else:
            rejected.append(why_not)
    return _identified(named, sorted(rejected, key=lambda one: one.span.onset_s), instrument.strings)


def _not_alone(recording: Recording, one: NamedSpan, instrument: Instrument) -> Rejected | None:
    """Where another string was plucked with this one, or in its place. That rings on; the body's thump, which may look like low partials,
    does not."""
    longest_s = LOW_S if one.string.expected_hz < LOW_HZ else LONGEST_S
    lines = new_lines(recording, one.span, longest_s=longest_s)
    named = one.pitch_hz, string_expected_b(one.string)[0]
    if is_octave_above(lines, *named):
        return Rejected(one.span, _octave_above(one.pitch_hz, instrument))
    if is_octave_below(lines, *named):
        return Rejected(one.span, OCTAVE_BELOW)
    other = second_string(lines, one.string, one.pitch_hz, instrument.strings)
    if other is not None:
        skip_s = THUMP_S if other.expected_hz > THUMP_HZ else LOW_THUMP_S
        lines = new_lines(recording, one.span, longest_s=longest_s, skip_s=skip_s)
        other = second_string(lines, one.string, one.pitch_hz, instrument.strings)
    if other is None:
        return None
    return Rejected(one.span, f"{one.string.name} and {other.name} sound at once", one.string.name, other.name)


def _octave_above(pitch_hz: float, instrument: Instrument) -> str:
    return OCTAVE_OF_BOTH if any(_is_octave(string.expected_hz, pitch_hz) for string in instrument.strings) else OCTAVE_ABOVE


def _complete_the_sweep(found: Identification) -> bool:
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
    return [(lower, upper) for lower, upper in beside if _is_octave(upper.pitch_hz, lower.pitch_hz)]


def _are_harmonics(named: Sequence[NamedSpan], each: Each) -> bool:
    """Whether what leaps an octave up, before or after a pluck of the string below, is that string touched at its middle."""
    pairs = _octave_pairs(named)
    apart = [cents for cents in each(_octave_apart_cents, pairs) if cents is not None]
    return bool(apart) and float(np.mean(np.abs(apart) < HARMONIC_CENTS)) >= HARMONIC_SHARE


def _octave_apart_cents(recording: Recording, pair: tuple[NamedSpan, NamedSpan]) -> float | None:
    lower, upper = (new_lines(recording, one.span, longest_s=LOW_S) for one in pair)
    return octave_apart_cents(lower, upper, pair[0].pitch_hz, string_expected_b(pair[0].string)[0])


def _is_octave(upper_hz: float, lower_hz: float) -> bool:
    return abs(cents_between(upper_hz, 2.0 * lower_hz)) < OCTAVE_WITHIN_CENTS


def _joined(recording: Recording, spans: Sequence[Span], likenesses: list[Likeness], path: list[int | None],
            again: Container[int]) -> list[Span]:
    """Plucks ring on through what is no pluck, unless that is about as loud as they were at first or far louder than they are by then;
    but not through those that are the same string `again`."""
    joined = list(spans)
    for i, string in enumerate(path):
        for j in range(i + 1, len(spans) if string is not None else 0):
            if path[j] is not None or j in again or not _rings_through(recording, likenesses[i], spans[j], likenesses[j]):
                break
            end_s = spans[j].end_s if likenesses[j].evidence_db == 0 or joined[i].end_s > spans[j].onset_s - 0.02 else joined[i].end_s
            joined[i] = Span(spans[i].onset_s, max(joined[i].end_s, end_s), spans[j].next_s)
    return joined


def _rings_through(recording: Recording, pluck: Likeness, event: Span, other: Likeness) -> bool:
    is_quiet = other.power_db < pluck.power_db - QUIET_DB
    return is_quiet and rise_db(recording.read, rate_hz=recording.rate_hz, at_s=event.onset_s) < DROWNING_DB


def _why_not(like: Likeness, chance: np.ndarray) -> str:
    if like.evidence_db == 0.0:
        return NOTHING_NEW
    if like.score.max() < NO_PLUCK_SCORE:
        return LIKE_NO_STRING
    second, first = np.sort(chance)[-2:] if len(chance) > 1 else (0.0, float(chance.max()))
    if first + second > LEAST_PLUCK and second > LEAST_SHARED:
        return EITHER
    if first > 0.2 or like.evidence_db >= FULL_EVIDENCE_DB:
        return OCTAVE_BELOW if like.under_score > like.score.max() else OUT_OF_ORDER
    return TOO_FAINT
