"""What one event says for each string: log evidence from its likeness to the string and from its distance to the string's note.

It may be a string that has slipped far, or no pluck. A string off its note is off in every pluck, so the next one costs less
(`sweep_order`).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from toneprobe.identify.likeness import REACH_CENTS, Likeness
from toneprobe.units import CENTS, shift_hz

SHARPNESS = 4.0  # weight of ln(likeness) against the costs of steps
FULL_EVIDENCE_DB = 110.0  # salience of all lines together that makes a likeness count in full
PITCH_SPREAD_CENTS = 40.0  # standard deviation of a string about its note, the whole harp's distance taken off
PITCH_COST_CAP = 2.0  # a string may be a semitone out
FAR_COST = 3.0  # that it has slipped farther than REACH_CENTS: with what its pitch costs, more than a skip within FAR_CENTS does
FAR_CENTS = (-1300.0, 250.0)  # so far at the most
FAR_SHARE = 0.25  # of that cost by which it must outdo what is like near the note: the cost is due once for all plucks of a string
NO_PLUCK_SCORE = 0.09  # an event less like a string than this is no pluck
CLEAR_NO_PLUCK_SCORE = 0.04  # the same where there is much evidence and all other strings are far less like it
CONTRAST = 2.5  # far less: by this factor


@dataclass(frozen=True)
class Naming:
    """One event as each of the strings, highest first, including those that may have slipped far. Arrays of shape (n strings,)."""

    score: np.ndarray  # likeness, 0 to 1; a far string's has its doubt in it
    offset_cents: np.ndarray
    is_far: np.ndarray
    evidence_db: float
    power_db: float


def with_far_strings(like: Likeness, expected_hz: np.ndarray) -> Naming:
    """What sounds like one string may be another that has slipped: its likeness at that pitch, reduced by FAR_COST."""
    best = int(like.score.argmax())
    likest, sounds_hz = max((float(like.score[best]), float(shift_hz(expected_hz[best], like.offset_cents[best]))),
                            (like.octave_below_score, like.octave_below_hz))
    offset = CENTS * np.log(sounds_hz / expected_hz)
    is_better = likest * np.exp(-FAR_SHARE * FAR_COST / SHARPNESS) > like.score
    is_far = (FAR_CENTS[0] < offset) & (offset < FAR_CENTS[1]) & (np.abs(offset) > REACH_CENTS) & is_better
    score = np.where(is_far, likest * np.exp(-FAR_COST / SHARPNESS), like.score)
    return Naming(score, np.where(is_far, offset, like.offset_cents), is_far, like.evidence_db, like.power_db)


def pitch_cost(offset_cents: np.ndarray, level_cents: float) -> np.ndarray:
    """Cost of a string's distance from its note, the whole harp being off by level_cents."""
    return np.minimum(0.5 * ((offset_cents - level_cents) / PITCH_SPREAD_CENTS) ** 2, PITCH_COST_CAP)


def string_evidence(namings: Sequence[Naming], level_cents: float) -> np.ndarray:
    """Log evidence for each string at each event, shape (events, 2n + 1), as the states are laid out in `usual_steps`."""
    rows = []
    for one in namings:
        share = min(1.0, one.evidence_db / FULL_EVIDENCE_DB)
        of_string = SHARPNESS * np.log(np.maximum(one.score * share, 1e-4)) - pitch_cost(one.offset_cents, level_cents)
        rows.append(np.concatenate([of_string, of_string, [-np.inf]]))  # going down, going up, nothing yet
    return np.array(rows)


def no_pluck_evidence(like: Likeness) -> float:
    """Log evidence that an event is no pluck."""
    share = min(1.0, like.evidence_db / FULL_EVIDENCE_DB)
    least = NO_PLUCK_SCORE - (NO_PLUCK_SCORE - CLEAR_NO_PLUCK_SCORE) * max(0.0, 2.0 * share - 1.0)
    return SHARPNESS * float(np.log(np.clip(CONTRAST * np.percentile(like.score, 85), least, NO_PLUCK_SCORE)))
