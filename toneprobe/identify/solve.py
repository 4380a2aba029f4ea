"""Which string each span is, how sure that is, and which strings were not heard.

A single pluck seldom names its string beyond doubt: E and F are a semitone apart, a string may be a semitone off, C flat sounds as B. A
sweep does, since it runs along the harp. So the whole sweep is solved at once, as the most probable path of a hidden Markov chain
(`sweep_order`). Evidence: the likeness of each event to each string (`likeness`) and the distance of its pitch from what the whole harp
does. A name is as sure as that string's posterior probability at that event.
"""

from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from types import MappingProxyType

import numpy as np

from toneprobe.audio import Recording
from toneprobe.identify.beside_sweep import fallen_in
from toneprobe.identify.between_notes import LEAST_ODDS, OFF_NOTE_CENTS, Between, Known, rivals_at, weighed
from toneprobe.identify.candidates import partials_hz
from toneprobe.identify.evidence import string_evidence, with_far_strings
from toneprobe.identify.leaps import learn_leaps
from toneprobe.identify.named import BESIDE_ALL, BESIDE_SWEEP
from toneprobe.identify.neighbours_note import beyond_habit
from toneprobe.identify.octave_leaps import lies_above
from toneprobe.identify.solution import Events, Solution, StruckOver
from toneprobe.identify.steadiness import wander_cents
from toneprobe.identify.sweep_order import Run, at_two_pitches, best_path, learn_habits, order_tells, posterior, run_of
from toneprobe.instrument import StringSpec
from toneprobe.segment import Span

WANDER_CENTS = 14.0  # all partials of a string never move so far together
SURELY_NOT = -1e3  # log evidence of any string for a voice


def solve(recording: Recording, events: Events, known: Known, *, may_leap: bool = True,
          over: Mapping[int, StruckOver] = MappingProxyType({})) -> Solution:
    """over: as of `struck_over`: for these only the upper string is possible, and none if it may be a harmonic."""
    expected_hz = np.array([string.expected_hz for string in events.instrument.strings])
    likenesses = list(events.likenesses)
    for i, struck in over.items():
        may_be = [lies_above(hz, struck.lower_hz, times=struck.times) and not struck.may_be_harmonic for hz in expected_hz]
        likenesses[i] = replace(likenesses[i], score=np.where(may_be, likenesses[i].score, 0.0), octave_below_score=0.0)
    namings = [with_far_strings(like, expected_hz) for like in likenesses]
    run = run_of(likenesses, namings, events.onsets_s, expected_hz)
    level_cents, voices, doubt = 0.0, np.zeros(len(namings), bool), np.zeros((len(namings), len(expected_hz)))
    is_voice = cache(lambda i, s: _is_voice(recording, events.spans[i], events.instrument.strings[s], float(namings[i].offset_cents[s])))
    for first in (True, False):  # then with the first results: the harp's pitch, the player's habits, voices, doubtful names
        evidence = string_evidence(namings, level_cents) - np.concatenate([doubt, doubt, np.zeros((len(doubt), 1))], axis=1)
        evidence[voices] = SURELY_NOT
        steps = run.steps(namings, level_cents)
        path, _ = best_path(evidence, run.no_pluck, steps)
        offsets = [one.offset_cents[s] for one, s in zip(namings, path, strict=True) if s is not None and not one.is_far[s]]
        level_cents = float(np.median(offsets)) if offsets else 0.0
        if first or run.habits.leap == 0.0:  # leaps show only beside the first path, for which the order counted
            leaps = learn_leaps(evidence, run.no_pluck, path) if first and may_leap else None
            run = replace(run, habits=leaps or learn_habits(path))
        run = replace(run, is_ordered=order_tells(path))
        if first:
            has_mechanism = [string.mechanism for string in events.instrument.strings]
            doubt = at_two_pitches(namings, path, level_cents) + beyond_habit(namings, path, level_cents, has_mechanism)
        voices |= [s is not None and is_voice(i, s) for i, s in enumerate(path)]
        run = replace(run, may_be_pluck=run.may_be_pluck & ~voices)
    path = [None if voice else s for s, voice in zip(path, voices, strict=True)]
    solution = Solution(namings, path, voices, posterior(evidence, run.no_pluck, steps), over, is_leaping=run.habits.leap > 0.0)
    if order_tells(path):
        beside = () if solution.is_leaping else fallen_in(path, [like.power_db for like in events.likenesses])
        kept = [None if i in beside else s for i, s in enumerate(path)]
        solution = replace(solution, path=kept, beside={i: BESIDE_SWEEP if path[i] in kept else BESIDE_ALL for i in beside})
        return replace(solution, between=_left_open(solution, expected_hz, level_cents))
    return _of_a_few_strings(solution, events, known, run)


def _left_open(solution: Solution, expected_hz: np.ndarray, level_cents: float) -> tuple[Between, ...]:
    """Of a whole sweep: sounds between the notes of the named string and an unheard one where even their order does not tell."""
    heard, found = set(solution.path), []
    for i, string in enumerate(solution.path):
        if string is None:
            continue
        off = rivals_at(solution.namings[i], string, expected_hz)
        strings = tuple(s for s in np.flatnonzero(~np.isnan(off)).tolist() if s == string or s not in heard)
        chances = solution.chances[i][list(strings)]
        if len(strings) > 1 and min(abs(off[list(strings)] - level_cents)) > OFF_NOTE_CENTS and chances.max() < LEAST_ODDS * chances.sum():
            found.append(Between((i,), strings, tuple((chances / chances.sum()).tolist())))
    return tuple(found)


def _of_a_few_strings(solution: Solution, events: Events, known: Known, run: Run) -> Solution:
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
