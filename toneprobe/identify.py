"""Which string each span is, how sure that is, and which strings were not heard.

A single pluck seldom names its string beyond doubt: E and F are a semitone apart, a string may be a semitone out of tune, C flat sounds
as B. A sweep does: it runs along the harp. So the whole sweep is solved at once, as the most probable path of a hidden Markov chain.
Hidden state: the string and the direction of the sweep, or "no pluck". Evidence: the likeness of each event to each string
(see `likeness`) and how far its pitch lies from what the whole harp does. Steps: the next string is the rule; the same again, skips,
a swap, a step back and a turn of direction each cost what they are rare. How sure a name is comes from the same chain: the posterior
probability of that string at that event (forward and backward sums).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import logsumexp

from toneprobe.audio import Recording
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.likeness import Likeness, liken
from toneprobe.segment import Span
from toneprobe.units import shift_hz

SHARPNESS = 4.0  # weight of ln(likeness) against the costs of steps
NO_PLUCK_SCORE = 0.09  # an event less like a string than this is none …
CLEAR_NO_PLUCK_SCORE = 0.04  # … or than this, where there is much evidence and all other strings are far less like it
CONTRAST = 2.5  # far less: by this factor
FULL_EVIDENCE_DB = 110.0  # salience of all lines together that makes a likeness count in full
PITCH_SPREAD_CENTS = 40.0
PITCH_COST_CAP = 2.0  # a string may be a semitone out
TURN_COST = 5.0
SAME_AGAIN_COST = 1.2
WEAK_REPEAT_DB = 8.0  # a new pluck of the same string so much weaker than the last is doubtful …
WEAK_REPEAT_COST = 0.4  # … by so much per dB beyond
QUICK_REPEAT_S = 0.35  # sooner than this nobody plucks a string twice
QUICK_REPEAT_COST = 20.0
SECOND_THOUGHT_DB = 4.0
ECHO_DB = 14.0  # the same string again, but so much weaker: it was touched, not plucked
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


def identify(recording: Recording, spans: tuple[Span, ...], instrument: Instrument) -> Identification:
    """Name every span of one recording."""
    spans, likenesses = _without_second_thoughts(recording, spans, instrument)
    if not likenesses:
        return Identification((), instrument.strings, ())
    n_strings = len(instrument.strings)
    steps = [_steps(n_strings, _repeat_cost(drop_db, gap_s)) for drop_db, gap_s in zip(_drops_db(likenesses), _gaps_s(spans), strict=True)]
    no_pluck = np.array([_no_pluck(like) for like in likenesses])
    common_cents = 0.0
    for _ in range(2):  # the second time with the pitch that the first found for the whole harp
        evidence = _evidence(likenesses, common_cents)
        path = _best_path(evidence, no_pluck, steps)
        offsets = [like.offset_cents[s] for like, s in zip(likenesses, path, strict=True) if s is not None]
        common_cents = float(np.median(offsets)) if offsets else 0.0
    return _collect(spans, instrument, likenesses, path, _posterior(evidence, no_pluck, steps))


def _without_second_thoughts(recording: Recording, spans: tuple[Span, ...], instrument: Instrument) -> tuple[tuple[Span, ...], list[Likeness]]:
    """Leave out what follows an onset at once and is weaker: the slow swelling of a bass string, the finger coming off."""
    kept: list[Span] = []
    likenesses: list[Likeness] = []
    for span in spans:
        like = liken(recording, span, instrument)
        if kept and _is_second_thought(span.onset_s - kept[-1].onset_s, likenesses[-1], like):
            kept[-1] = Span(kept[-1].onset_s, span.end_s, span.next_s)
            likenesses[-1] = liken(recording, kept[-1], instrument)
        else:
            kept.append(span)
            likenesses.append(like)
    return tuple(kept), likenesses


def _is_second_thought(gap_s: float, before: Likeness, after: Likeness) -> bool:
    drop_db = before.power_db - after.power_db
    same = before.score.argmax() == after.score.argmax()
    return drop_db > SECOND_THOUGHT_DB and gap_s < QUICK_REPEAT_S or same and drop_db > ECHO_DB


def _drops_db(likenesses: list[Likeness]) -> list[float]:
    """By how much each event is weaker than the one before it."""
    powers = [like.power_db for like in likenesses]
    return [0.0, *(before - after for before, after in zip(powers, powers[1:], strict=False))]


def _gaps_s(spans: tuple[Span, ...]) -> list[float]:
    return [np.inf, *(after.onset_s - before.onset_s for before, after in zip(spans, spans[1:], strict=False))]


def _repeat_cost(drop_db: float, gap_s: float) -> float:
    """What it costs to take an event for the same string again: much where it is far weaker than the last or comes at once."""
    return SAME_AGAIN_COST + WEAK_REPEAT_COST * max(0.0, drop_db - WEAK_REPEAT_DB) + QUICK_REPEAT_COST * max(0.0, 1.0 - gap_s / QUICK_REPEAT_S)


def _evidence(likenesses: list[Likeness], common_cents: float) -> np.ndarray:
    """Log evidence for each string at each event, shape (events, 2n + 1), as the states are laid out in `_steps`."""
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


def _steps(n: int, repeat_cost: float) -> np.ndarray:
    """Log weight of going from state to state at a pluck. States: n strings going down, n going up, and nothing plucked yet."""
    start, end = np.indices((n, n))
    along = end - start
    down = np.select([along == 1, along == 0, along >= 2, along >= -2],
                     [0.0, -repeat_cost, -np.minimum(0.9 + 0.25 * (along - 2), 4.0), -3.0], -5.0)
    up = down[::-1, ::-1]
    steps = np.full((2 * n + 1, 2 * n + 1), -np.inf)
    steps[:-1, :-1] = np.block([[down, down - TURN_COST], [up - TURN_COST, up]])
    steps[-1, :-1] = 0.0
    return steps


def _start(n_states: int) -> np.ndarray:
    start = np.full(n_states, -np.inf)
    start[-1] = 0.0
    return start


def _best_path(evidence: np.ndarray, no_pluck: np.ndarray, steps: list[np.ndarray]) -> list[int | None]:
    """Viterbi: the string of each event, None for "no pluck", which leaves the state where it was."""
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
    return path[::-1]


def _posterior(evidence: np.ndarray, no_pluck: np.ndarray, steps: list[np.ndarray]) -> np.ndarray:
    """Probability of each string at each event, shape (events, n); what is missing to 1 is "no pluck"."""
    n_states = evidence.shape[1]
    forward, plucks = _start(n_states), []
    for named, none, step in zip(evidence, no_pluck, steps, strict=True):
        plucks.append(logsumexp(forward[:, None] + step, axis=0) + named)
        forward = np.logaddexp(plucks[-1], forward + none)
    total, backward, rows = logsumexp(forward), np.zeros(n_states), []
    for named, none, step, pluck in zip(evidence[::-1], no_pluck[::-1], steps[::-1], plucks[::-1], strict=True):
        weight = np.exp(pluck + backward - total)[:-1]
        rows.append(weight.reshape(2, -1).sum(axis=0))
        backward = np.logaddexp(logsumexp(step + named + backward, axis=1), backward + none)
    return np.array(rows[::-1])


def _collect(spans: tuple[Span, ...], instrument: Instrument, likenesses: list[Likeness], path: list[int | None],
             posterior: np.ndarray) -> Identification:
    named, rejected = [], []
    for span, like, string, chance in zip(_joined(spans, likenesses, path), likenesses, path, posterior, strict=True):
        if string is None or chance[string] < 1.0 - chance.sum():
            rejected.append(Rejected(span, _why_not(like, float(chance.max()))))
            continue
        spec, cents = instrument.strings[string], float(like.offset_cents[string])
        named.append(NamedSpan(span, spec, float(chance[string]), cents, shift_hz(spec.expected_hz, cents)))
    heard = {one.string.name for one in named}
    return Identification(tuple(named), tuple(s for s in instrument.strings if s.name not in heard), tuple(rejected))


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
