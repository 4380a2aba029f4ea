"""A sound between the notes of two strings, where few strings were plucked: which of the two it was, if anything tells.

D 40 cents sharp sounds as E flat 60 cents flat. In a whole sweep the order tells (`sweep_order`), of a few strings hardly. What tells then:
- a string has one pitch: what lies farther from another pluck of a name than two plucks of one string do is another string's;
- a new string, or one that the player names, may be far off its note, strings known to have settled hardly;
- the string that the player names is in the recording.

All assignments of such sounds to strings are weighed against each other, each with the likeliest run along the harp.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise, product

import numpy as np
from scipy.special import logsumexp

from toneprobe.identify.evidence import PITCH_COST_CAP, PITCH_SPREAD_CENTS, Naming, string_evidence
from toneprobe.identify.likeness import REACH_CENTS
from toneprobe.identify.sweep_order import MOVED_COST, SAME_PITCH_CENTS, Run, best_path
from toneprobe.units import CENTS

OFF_NOTE_CENTS = 25.0  # nearer to its note than this a sound is known by its pitch
LIKE_SHARE = 0.5  # of the best likeness: strings a semitone apart are as good as equally like a sound between them
SETTLED_SPREAD_CENTS = 15.0  # of strings known to have settled, the others taken off: weather moves what is beside them alike (set here)
LOOSE_SPREAD_CENTS = 120.0  # of new strings, and of one whose pitch is asked for: a semitone off is common (set here)
ABSENT_COST = 3.0  # that a string which the player says is in the recording is not
LEAST_ODDS = 0.75  # of the likelier of two strings: three to one; with less nothing tells
MOST_ASSIGNMENTS = 256  # more than these are not tried


@dataclass(frozen=True)
class Known:
    """What a book and its player know beforehand, by string name."""

    loose: frozenset[str] = frozenset()  # new strings, whose pitch still falls: far off their notes is nothing strange
    asked: str | None = None  # in the recording, by the player's word, and perhaps tuned while it ran


NOTHING_KNOWN = Known()


@dataclass(frozen=True)
class Between:
    """Sounds of one pitch that two strings or more may have made."""

    events: tuple[int, ...]
    strings: tuple[int, ...]  # highest first
    odds: tuple[float, ...]  # of each

    @property
    def is_clear(self) -> bool:
        return max(self.odds) >= LEAST_ODDS


@dataclass(frozen=True)
class _PitchGroup:
    """Plucks of one pitch, under whatever name."""

    events: tuple[int, ...]
    string: int  # as which most of them were named
    pitch_cents: float  # their mean, from 1 Hz
    cents: np.ndarray  # off the note of each string that they may be, others nan


@dataclass(frozen=True)
class Weighed:
    """The sounds between notes with the odds of each string, and all namings with those sounds given to the likeliest."""

    between: tuple[Between, ...]
    namings: list[Naming]
    level_cents: float  # the whole harp is off by


def weighed(namings: Sequence[Naming], path: Sequence[int | None], run: Run, *, loose: Collection[int],
            asked: int | None) -> Weighed | None:
    """None where no sound is in question. `path`: a first solution; `loose`, `asked`: as in `Known`, by place."""
    groups = _of_one_pitch(namings, path, run.expected_hz)
    may_be_off = {*loose, asked} - {None}
    is_open = [_is_open(one, groups, may_be_off, _level_cents(groups, but=one)) for one in groups]
    opened = [one for one, it_is in zip(groups, is_open, strict=True) if it_is]
    fixed = [one for one, it_is in zip(groups, is_open, strict=True) if not it_is]
    choices = [tuple(np.flatnonzero(~np.isnan(one.cents)).tolist()) for one in opened]
    if not opened or np.prod([len(one) for one in choices]) > MOST_ASSIGNMENTS:
        return None
    level_cents = _level_cents(fixed)
    assignments = list(product(*choices))
    assigned = [_assigned(namings, opened, assignment, level_cents) for assignment in assignments]
    logs = np.array([_log_weight(one, run, level_cents) - _cost(opened, assignment, fixed, level_cents, loose, asked)
                     for one, assignment in zip(assigned, assignments, strict=True)])
    shares = np.exp(logs - logsumexp(logs))
    found = [Between(one.events, strings, tuple(float(shares[[assignment[k] == s for assignment in assignments]].sum()) for s in strings))
             for k, (one, strings) in enumerate(zip(opened, choices, strict=True))]
    return Weighed(tuple(found), assigned[int(logs.argmax())], level_cents)


def rivals_at(naming: Naming, string: int, expected_hz: np.ndarray) -> np.ndarray:
    """Cents off their notes of the strings that the sound of `string` may also be by pitch and likeness; others nan."""
    off = CENTS * np.log(expected_hz[string] / expected_hz) + naming.offset_cents[string]
    same = (np.abs(off - naming.offset_cents) <= SAME_PITCH_CENTS) & (np.abs(off) <= REACH_CENTS) & ~naming.is_far
    alike = naming.score >= LIKE_SHARE * naming.score[string]
    return np.where(same & alike, off, np.nan)


def _of_one_pitch(namings: Sequence[Naming], path: Sequence[int | None], expected_hz: np.ndarray) -> list[_PitchGroup]:
    """Plucks that lie no farther apart than those of one string, lowest first."""
    pitch = {i: CENTS * np.log(expected_hz[s]) + namings[i].offset_cents[s] for i, s in enumerate(path) if s is not None}
    groups: list[list[int]] = []
    for before, i in pairwise([None, *sorted(pitch, key=pitch.__getitem__)]):
        if before is None or pitch[i] - pitch[before] > SAME_PITCH_CENTS:
            groups.append([])
        groups[-1].append(i)
    found = []
    for group in groups:
        of_each = np.array([rivals_at(namings[i], path[i], expected_hz) for i in group])
        off = of_each.mean(axis=0)  # nan where one of them cannot be that string
        names = [path[i] for i in group]
        found.append(_PitchGroup(tuple(sorted(group)), max(names, key=names.count), float(np.mean([pitch[i] for i in group])), off))
    return found


def _is_open(one: _PitchGroup, groups: Sequence[_PitchGroup], may_be_off: Collection[int], level_cents: float) -> bool:
    """Whether its name is in question: it may be two strings, and lies off the notes of both, or its name has another pitch nearer to the
    note; or it may be an unheard string that is likely far off."""
    off = np.abs(one.cents - level_cents)
    if np.isnan(off).sum() > len(off) - 2:
        return False
    beside = [abs(other.cents[one.string] - level_cents) for other in groups if other is not one and other.string == one.string]
    if np.nanmin(off) > OFF_NOTE_CENTS or any(near <= off[one.string] for near in beside):
        return True
    unheard = set(may_be_off) - {other.string for other in groups}
    return off[one.string] > SAME_PITCH_CENTS and any(not np.isnan(one.cents[string]) for string in unheard)


def _level_cents(groups: Sequence[_PitchGroup], but: _PitchGroup | None = None) -> float:
    """Cents by which the harp lies off its notes, by the other sounds and one string in tune, since few tell little."""
    return float(np.median([0.0, *(one.cents[one.string] for one in groups if one is not but and not np.isnan(one.cents[one.string]))]))


def _assigned(namings: Sequence[Naming], opened: Sequence[_PitchGroup], assignment: Sequence[int], level_cents: float) -> list[Naming]:
    """The namings where each of those sounds can be one string only, at no cost of its pitch, which `_cost` counts once."""
    assigned = list(namings)
    for one, string in zip(opened, assignment, strict=True):
        for i in one.events:
            before = assigned[i]
            score, cents, is_far = np.zeros_like(before.score), before.offset_cents.copy(), before.is_far.copy()
            score[string], cents[string], is_far[string] = before.score[string], level_cents, False
            assigned[i] = replace(before, score=score, offset_cents=cents, is_far=is_far)
    return assigned


def _log_weight(namings: Sequence[Naming], run: Run, level_cents: float) -> float:
    _, log_weight = best_path(string_evidence(namings, level_cents), run.no_pluck, run.steps(namings, level_cents))
    return log_weight


def _cost(opened: Sequence[_PitchGroup], assignment: Sequence[int], fixed: Sequence[_PitchGroup], level_cents: float,
          loose: Collection[int], asked: int | None) -> float:
    """Cost of these strings for the open sounds: their pitches, once each, and two pitches of one name."""
    all_named = [*zip(opened, assignment, strict=True), *((one, one.string) for one in fixed)]
    cost = sum(_pitch_cost(one, string, level_cents, loose, asked) for one, string in zip(opened, assignment, strict=True))
    for (one, string), (other, another) in combinations(all_named, 2):
        if string == another != asked and abs(one.pitch_cents - other.pitch_cents) > SAME_PITCH_CENTS:
            cost += MOVED_COST
    is_absent = asked is not None and all(string != asked for _, string in all_named)
    return cost + ABSENT_COST * is_absent


def _pitch_cost(one: _PitchGroup, string: int, level_cents: float, loose: Collection[int], asked: int | None) -> float:
    """If some of its strings are known to move and others not, both facts count; otherwise no more than for any string."""
    rivals, may_be_off = set(np.flatnonzero(~np.isnan(one.cents)).tolist()), {*loose, asked}
    spread = PITCH_SPREAD_CENTS
    if rivals & may_be_off and rivals - may_be_off:
        spread = LOOSE_SPREAD_CENTS if string in may_be_off else SETTLED_SPREAD_CENTS
    return float(min(0.5 * ((one.cents[string] - level_cents) / spread) ** 2, PITCH_COST_CAP))
