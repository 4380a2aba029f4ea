"""The tuning in which a sweep was played, where it is not the stated one: other pedals, a lever left up, another key.

Strings of a letter then sound a semitone or two off, many where a neighbour should: in naturals E sounds as F flat, and by pitch alone
every name slides to the next string. The whole sweep tells: in the tuning played, it runs along the harp string by string and near its
notes. So where the first naming leaves much unheard or far off, the harp's possible tunings are tried, then each letter, and one is
believed that explains the sweep better by far more than it is unlikely.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from operator import attrgetter

import numpy as np

from toneprobe.identify.evidence import string_evidence, with_far_strings
from toneprobe.identify.likeness import REACH_CENTS, Likeness
from toneprobe.identify.sweep_order import best_path, learn_habits, run_of
from toneprobe.instrument import Instrument, respelled
from toneprobe.instrument.tunings import accidentals_of, tunings_of
from toneprobe.units import CENTS, split_note

LEAST_STRINGS = 12  # fewer do not tell another tuning from strings that slipped
LEAST_OF_LETTER = 3  # fewer of a letter don't either: two may have slipped (set)
ODD_CENTS = 60.0  # nearer to another semitone, on a harp that is not in tune either
ODD_SHARE = 0.6  # of a letter's strings unheard or so far off: worth a try
TUNING_COST = 4.0  # of another of the harp's tunings than the stated one
KEY_COST = 6.0  # of another key
LETTER_COST = 4.5  # of each letter that is otherwise than in that key; a string off its note costs 2
LEVEL_CENTS = 50.0  # the whole harp lies no farther off: a semitone is another tuning, where the harp can take it

Letters = dict[str, str]  # letter to accidental
_log_weight_of = attrgetter("log_weight")


def as_played(instrument: Instrument, likenesses: Sequence[Likeness], onsets_s: Sequence[float], path: Sequence[int | None]) -> Instrument:
    """The instrument as it was played, mostly as stated. `path`: the first naming, in the stated tuning.

    First the keys, to which strings without mechanism are set by hand; then, from the best, single pedals or levers, which move none of
    those strings; then whether those stayed as stated.
    """
    if instrument.tuning is None or not _is_odd(instrument, likenesses, path):
        return instrument
    tunings = tunings_of(instrument.kind)
    stated, usual = tunings[instrument.tuning], set(tunings.values())
    keys = {signature: accidentals_of(signature) for signature in range(min(usual), max(usual) + 1)}

    def guess(signature: int, moved: Letters, *, set_by_hand: bool = True) -> _Guess:
        changed = {letter: to for letter, to in keys[signature].items() if to != keys[stated][letter]}
        tuned = respelled(respelled(instrument, changed, set_by_hand=set_by_hand), moved, set_by_hand=False)
        cost = 0.0 if signature == stated else TUNING_COST if signature in usual else KEY_COST
        return _Guess(_log_weight(instrument, tuned, likenesses, onsets_s) - cost - LETTER_COST * len(moved), signature, moved, tuned)

    best = max((guess(signature, {}) for signature in keys), key=_log_weight_of)
    for letter in "CDEFGAB" * 2:
        kept = {one: to for one, to in best.moved.items() if one != letter}
        others = sorted({accidentals[letter] for accidentals in keys.values()} - {keys[best.signature][letter]})
        tries = [guess(best.signature, moved) for moved in (kept, *({**kept, letter: to} for to in others)) if moved != best.moved]
        best = max([best, *tries], key=_log_weight_of)
    return max(best, guess(best.signature, best.moved, set_by_hand=False), key=_log_weight_of).tuned


@dataclass(frozen=True)
class _Guess:
    """A tuning in which the sweep may have been played."""

    log_weight: float  # of the likeliest run along the harp, less what is unlikely of the tuning
    signature: int
    moved: Letters  # otherwise than in that key
    tuned: Instrument


def _is_odd(instrument: Instrument, likenesses: Sequence[Likeness], path: Sequence[int | None]) -> bool:
    """Whether most strings of a letter were left out or lie far off. False with few strings heard, which could not tell a tuning."""
    cents: dict[int, float] = {}
    for like, string in zip(likenesses, path, strict=True):
        if string is not None:
            cents[string] = min(cents.get(string, np.inf), abs(float(like.offset_cents[string])))
    if len(cents) < LEAST_STRINGS:
        return False
    odd: dict[str, list[bool]] = {}
    for string in range(min(cents), max(cents) + 1):
        odd.setdefault(split_note(instrument.strings[string].note)[0], []).append(cents.get(string, np.inf) > ODD_CENTS)
    return any(len(of_letter) >= LEAST_OF_LETTER and np.mean(of_letter) >= ODD_SHARE for of_letter in odd.values())


def _log_weight(instrument: Instrument, tuned: Instrument, likenesses: Sequence[Likeness], onsets_s: Sequence[float]) -> float:
    """Of the likeliest run along the harp, were it tuned so."""
    told_hz, tuned_hz = (np.array([string.expected_hz for string in one.strings]) for one in (instrument, tuned))
    namings = [with_far_strings(_as_tuned(like, told_hz, tuned_hz), tuned_hz) for like in likenesses]
    run, level_cents, weight = run_of(likenesses, namings, onsets_s, tuned_hz), 0.0, -np.inf
    for _ in range(2):
        path, weight = best_path(string_evidence(namings, level_cents), run.no_pluck, run.steps(namings, level_cents))
        offsets = [float(one.offset_cents[s]) for one, s in zip(namings, path, strict=True) if s is not None]
        level_cents = float(np.clip(np.median(offsets), -LEVEL_CENTS, LEVEL_CENTS)) if offsets else 0.0
        run = replace(run, habits=learn_habits(path))
    return weight


def _as_tuned(like: Likeness, told_hz: np.ndarray, tuned_hz: np.ndarray) -> Likeness:
    """An event's likeness to strings tuned to other notes: that of whatever string it is like at that pitch."""
    moved = np.flatnonzero(told_hz != tuned_hz)
    sounds_hz = told_hz * np.exp(like.offset_cents / CENTS)
    cents = CENTS * np.log(sounds_hz / tuned_hz[moved, None])
    near = np.where(np.abs(cents) <= REACH_CENTS, like.score, 0.0)
    source = near.argmax(axis=1)
    score, offset = like.score.copy(), like.offset_cents.copy()
    score[moved], offset[moved] = near.max(axis=1), cents[np.arange(len(moved)), source]
    return replace(like, score=score, offset_cents=offset)
