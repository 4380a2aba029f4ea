"""The order in which a sweep runs along the harp: a hidden Markov chain over strings.

States: each string going down, each string going up, and "nothing plucked yet". At each event either a string is plucked (a step to a
state, its log weight plus the evidence for that string) or nothing is (the state stays). Weights of a step:
- the next string, the same again, a skip: as often as this player does them (`StepHabits`, learnt from the sweep);
- a swap, a step back, a turn of direction: rare;
- any other string, a leap: only if the player is known not to run along the harp (`leaps`);
- the same again but far weaker, or at once: hardly;
- another string that sounds at the pitch of the event before, though it should not: hardly, for it is that string again;
- a string off its note: less; far from it: hardly. But a string that is off is off in every pluck, so the next costs less.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import logsumexp

from toneprobe.identify.evidence import FAR_COST, PITCH_COST_CAP, Naming, no_pluck_evidence, pitch_cost, string_evidence
from toneprobe.identify.likeness import REACH_CENTS, Likeness
from toneprobe.units import CENTS, shift_hz

TURN_COST = 5.0  # of a turn of direction
SWAP_COST = 3.0  # of a step back by one string or two, as where two are swapped
BACK_COST = 5.0  # of a step farther back
FARTHER_COST = 0.25  # a skip of each further string
LONGEST_SKIP_COST = 4.0  # at the most, of all strings that are skipped beyond the first
WEAK_REPEAT_DB = 8.0  # a new pluck of the same string is doubtful if it is so much weaker than the last
WEAK_REPEAT_COST = 0.4  # for each dB beyond that
QUICK_REPEAT_S = 0.35  # sooner hardly anybody plucks a string twice (where somebody does, both plucks are one event: `touch`)
QUICK_REPEAT_COST = 20.0  # of a repeat at once, falling to none after QUICK_REPEAT_S
SAME_PITCH_CENTS = 15.0  # within which two sounds have one pitch
SAME_PITCH_COST = 3.0  # of another string at the pitch of the event before
MOVED_CENTS = 25.0  # a string keeps its pitch within so much, unless it is tuned between its plucks
MOVED_COST = 5.0  # of a pluck farther than REACH_CENTS from the string's last: nobody tunes so far between two
TUNED_COST = 2.0  # of one farther than MOVED_CENTS, as of a string off its note (set: as `PITCH_COST_CAP`); only where the order tells
LEAST_ORDERED = 8  # fewer plucks are no sweep whose order could tell
LEAST_HEARD_SHARE = 2.0 / 3.0  # of the strings between a sweep's ends: where fewer were heard, its order tells nothing
REFUND_SHARE = 0.5  # of what a string off its note costs (`evidence.pitch_cost`), given back where it has that pitch again
PRIOR_STEPS = 8.0  # what is known of players in general weighs as much as so many steps of this one


@dataclass(frozen=True)
class StepHabits:
    """Shares of the steps that go to the next string, to the same again, and past at least one."""

    following: float = 0.55
    same: float = 0.20
    skip: float = 0.25
    leap: float = 0.0  # of all steps, those that go to any other string at all; the three above share the rest, in which leaps count once
    # more, as skips: else four plucks more of 99 go unnamed where two hands pluck in turn (measured by leaping_players.py)
    usual_leaps: tuple[tuple[int, float], ...] = ()  # steps by so many strings, down the harp positive, and their shares of the leaps


@dataclass(frozen=True)
class Gap:
    """What lies between one event that may be a pluck and the next event."""

    drop_db: float  # by how much it is weaker than the one before
    wait_s: float
    same_pitch: np.ndarray  # (string before, string after): both names would mean the same sounding pitch, and should not
    again: np.ndarray  # log weight of the same string again, shape (n,), beside what its being plucked again weighs


def gaps_between(run: Run, namings: Sequence[Naming], level_cents: float) -> list[Gap]:
    """One gap per event: from the last event before it that may be a pluck, or from silence."""
    n = len(run.expected_hz)
    silence = Gap(0.0, np.inf, np.zeros((n, n), bool), np.zeros(n))
    same_note = _same_pitch(run.expected_hz, run.expected_hz)
    sounds_hz = [shift_hz(run.expected_hz, one.offset_cents) for one in namings]
    gaps, last = [], None
    for i, now in enumerate(namings):
        if last is None:
            gaps.append(silence)
        else:
            before = namings[last]
            gaps.append(Gap(before.power_db - now.power_db, run.onsets_s[i] - run.onsets_s[last],
                            same_pitch=_same_pitch(sounds_hz[last], sounds_hz[i]) & ~same_note,
                            again=_again_weight(before, now, level_cents, is_ordered=run.is_ordered)))
        if run.may_be_pluck[i]:
            last = i
    return gaps


def _same_pitch(before_hz: np.ndarray, after_hz: np.ndarray) -> np.ndarray:
    return np.abs(CENTS * np.log(before_hz[:, None] / after_hz[None, :])) < SAME_PITCH_CENTS


def _again_weight(before: Naming, now: Naming, level_cents: float, *, is_ordered: bool) -> np.ndarray:
    """Of each string at both events, by its pitch: part of its cost is given back where it kept that, and more is due where it moved."""
    moved = np.abs(now.offset_cents - before.offset_cents)
    is_kept = (before.is_far == now.is_far) & (moved < MOVED_CENTS)
    refund = REFUND_SHARE * pitch_cost(now.offset_cents, level_cents) + FAR_COST * now.is_far
    tuned = -TUNED_COST * (moved > MOVED_CENTS) * is_ordered
    return np.where(is_kept, refund, np.where(moved > REACH_CENTS, -MOVED_COST, tuned))


def usual_steps(n: int, habits: StepHabits) -> np.ndarray:
    """Log weight of going from state to state at a pluck, shape (2n + 1, 2n + 1): n going down, n going up, nothing yet."""
    start, end = np.indices((n, n))
    down, up = _along(end - start, habits), _along(start - end, habits)
    steps = np.full((2 * n + 1, 2 * n + 1), -np.inf)
    steps[:-1, :-1] = _or_leap(np.block([[down, down - TURN_COST], [up - TURN_COST, up]]), habits)
    steps[-1, :-1] = 0.0
    return steps


def step_weights(usual: np.ndarray, gap: Gap) -> np.ndarray:
    """The usual steps, at what lies between these two plucks; same shape."""
    weak = WEAK_REPEAT_COST * max(0.0, gap.drop_db - WEAK_REPEAT_DB)
    quick = QUICK_REPEAT_COST * max(0.0, 1.0 - gap.wait_s / QUICK_REPEAT_S)
    steps = usual.copy()
    steps[:-1, :-1] += np.tile(np.diag(gap.again - weak - quick) - SAME_PITCH_COST * gap.same_pitch, (2, 2))
    return steps


@dataclass(frozen=True)
class Steps(Sequence[np.ndarray]):
    """The weights of every step, each made on demand: for hours of plucks they are too many to keep."""

    n: int
    gaps: Sequence[Gap]
    habits: StepHabits

    def __len__(self) -> int:
        return len(self.gaps)

    @cached_property
    def usual(self) -> np.ndarray:
        return usual_steps(self.n, self.habits)

    def __getitem__(self, i: int) -> np.ndarray:
        return step_weights(self.usual, self.gaps[i])


@dataclass(frozen=True)
class Run:
    """What the chain needs beside the evidence of the events."""

    onsets_s: Sequence[float]
    expected_hz: np.ndarray  # highest first
    no_pluck: np.ndarray
    may_be_pluck: np.ndarray
    habits: StepHabits = StepHabits()
    is_ordered: bool = False  # as of `order_tells`, once a first solution has told

    def steps(self, namings: Sequence[Naming], level_cents: float) -> Steps:
        """Between the events as these, the whole harp being off by so much."""
        return Steps(len(self.expected_hz), gaps_between(self, namings, level_cents), self.habits)


def run_of(likenesses: Sequence[Likeness], namings: Sequence[Naming], onsets_s: Sequence[float], expected_hz: np.ndarray) -> Run:
    """Of events of which nothing is known yet but what they are like."""
    no_pluck = np.array([no_pluck_evidence(like) for like in likenesses])
    return Run(onsets_s, expected_hz, no_pluck, string_evidence(namings, 0.0).max(axis=1) > no_pluck - PITCH_COST_CAP)


def _along(ahead: np.ndarray, habits: StepHabits) -> np.ndarray:
    """Log weight of a step by so many strings ahead in the direction of the sweep."""
    skip = np.log(habits.skip) - np.minimum(FARTHER_COST * (ahead - 2), LONGEST_SKIP_COST)
    cases = [ahead == 1, ahead == 0, ahead >= 2, ahead >= -2]
    return np.select(cases, [np.log(habits.following), np.log(habits.same), skip, -SWAP_COST], -BACK_COST)


def _or_leap(along: np.ndarray, habits: StepHabits) -> np.ndarray:
    """The same where some steps go to any other string, after which the direction is not known."""
    if habits.leap == 0.0:
        return along
    n = len(along) // 2
    start, end = np.indices((n, n))
    share = np.full((n, n), (1.0 - sum(share for _, share in habits.usual_leaps)) / n)
    for step, share_of_leaps in habits.usual_leaps:
        share[end - start == step] += share_of_leaps
    leap = np.where(start == end, -np.inf, np.log(habits.leap * share))
    return np.logaddexp(along + np.log(1.0 - habits.leap), np.tile(leap, (2, 2)))


def at_two_pitches(namings: Sequence[Naming], path: Sequence[int | None], level_cents: float) -> np.ndarray:
    """Doubt about names of a first solution, shape (events, n strings).

    A string at two pitches was tuned between its plucks, or some of them are another string's that slipped there and is missing from the
    sweep. If such a string is missing, all plucks but those nearest to the whole harp's level are doubted by MOVED_COST.
    """
    doubt = np.zeros((len(namings), len(namings[0].score)))
    heard = sorted(set(path) - {None})
    if not order_tells(path):
        return doubt
    missing = np.setdiff1d(np.arange(heard[0], heard[-1]), heard)
    for string in heard:
        events = np.array([i for i, named in enumerate(path) if named == string])
        cents = np.array([namings[i].offset_cents[string] for i in events]) - level_cents
        moved = np.abs(cents - cents[np.abs(cents).argmin()]) > MOVED_CENTS
        doubt[[i for i in events[moved] if namings[i].is_far[missing].any()], string] = MOVED_COST
    return doubt


def order_tells(path: Sequence[int | None]) -> bool:
    """Whether so many strings were plucked along the harp that their order tells one from the next."""
    heard = sorted(set(path) - {None})
    return len(heard) >= LEAST_ORDERED and len(heard) >= LEAST_HEARD_SHARE * (heard[-1] - heard[0] + 1)


def learn_habits(path: Sequence[int | None]) -> StepHabits:
    """How this player runs along the harp, from a first solution."""
    strings = [string for string in path if string is not None]
    steps = np.abs(np.diff(strings))
    usual = StepHabits()
    counts = np.array([usual.following, usual.same, usual.skip]) * PRIOR_STEPS
    counts += [(steps == 1).sum(), (steps == 0).sum(), (steps >= 2).sum()]
    following, same, skip = (counts / counts.sum()).tolist()
    return StepHabits(following, same, skip)


def best_path(evidence: np.ndarray, no_pluck: np.ndarray, steps: Sequence[np.ndarray]) -> tuple[list[int | None], float]:
    """Viterbi: the string of each event, None for "no pluck", and the log weight of it all. `evidence`: (events, 2n + 1), `no_pluck`:
    (events,), log weights."""
    n_states = evidence.shape[1]
    reach, history = _start(n_states), []
    for named, none, step in zip(evidence, no_pluck, steps, strict=True):
        arrive = reach[:, None] + step
        source = arrive.argmax(axis=0)
        plucked, passed = arrive[source, np.arange(n_states)] + named, reach + none
        history.append((plucked > passed, source))
        reach = np.maximum(plucked, passed)
    state, path = int(reach.argmax()), []
    for is_pluck, source in reversed(history):
        path.append(state % (n_states // 2) if is_pluck[state] else None)
        state = int(source[state]) if is_pluck[state] else state
    return path[::-1], float(reach.max())


def posterior(evidence: np.ndarray, no_pluck: np.ndarray, steps: Sequence[np.ndarray]) -> np.ndarray:
    """Probability of each string at each event, shape (events, n), from forward and backward sums; what is missing to 1 is "no pluck"."""
    n_states = evidence.shape[1]
    forward, plucks = _start(n_states), []
    for named, none, step in zip(evidence, no_pluck, steps, strict=True):
        plucks.append(logsumexp(forward[:, None] + step, axis=0) + named)
        forward = np.logaddexp(plucks[-1], forward + none)
    total, backward, rows = logsumexp(forward), np.zeros(n_states), []
    for named, none, step, pluck in zip(evidence[::-1], no_pluck[::-1], reversed(steps), reversed(plucks), strict=True):
        weight = np.exp(pluck + backward - total)[:-1]
        rows.append(weight.reshape(2, -1).sum(axis=0))
        backward = np.logaddexp(logsumexp(step + named + backward, axis=1), backward + none)
    return np.array(rows[::-1])


def _start(n_states: int) -> np.ndarray:
    start = np.full(n_states, -np.inf)
    start[-1] = 0.0
    return start
