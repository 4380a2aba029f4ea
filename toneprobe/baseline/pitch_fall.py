"""Does a string lose pitch from pluck to pluck, which it did not when fresh?

The model and its limits: `session.pitch_steps`. The steps of all plucks are summed, and since what slips only falls, any rise in between is
subtracted once more. The fall per pluck when fresh is subtracted too, and the spread of the fresh steps, up or down, is part of the error,
both as far as their own errors don't explain them: a string that plucks leave at two pitches did so when it was new.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from toneprobe.measure.figure import Figure
from toneprobe.session.reading import Reading

Steps = Sequence[tuple[float, float]]  # cents with their errors
TOO_FEW = Figure(None, None, "no two plucks one after another")


@dataclass(frozen=True)
class PitchFall:
    beyond_fresh: Figure = TOO_FEW  # cents by which the last pluck lay lower than the first, more than when fresh
    cents: float = 0.0  # that without regard to fresh


def pitch_fall(now: Reading, fresh: Reading) -> PitchFall:
    here, then = ([(step.value, step.se or 0.0) for step in of.pitch_steps] for of in (now, fresh))
    if not here:
        return PitchFall()
    cents = sum(step for step, _ in here)
    risen = sum(max(0.0, -step) for step, _ in here)
    variance = sum(se**2 for _, se in here) + len(here) * _spread(then)
    return PitchFall(Figure(cents - risen - len(here) * _usual(then), sqrt(variance)), cents)


def _usual(steps: Steps) -> float:
    """Mean fall in cents per pluck, as far as the steps show it beyond their errors; 0 where there are none."""
    mean = sum(step for step, _ in steps) / max(len(steps), 1)
    variance = sum(se**2 for _, se in steps) / max(len(steps), 1) ** 2
    return mean * max(0.0, 1.0 - variance / mean**2) if mean > 0.0 else 0.0


def _spread(steps: Steps) -> float:
    """Variance of a step beyond the errors, cents²: the mean square, in either direction."""
    return max(0.0, sum(step**2 - se**2 for step, se in steps) / max(len(steps), 1))
