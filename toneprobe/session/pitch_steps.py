"""How far each pluck of a string lay below the one before: does the string lose pitch as it is plucked?

What holds a string badly, a knot or a pin that gives way, lets it down a little at every pull and never up; with less tension all its
partials lie lower by the same cents. Other things move the pitch between plucks too. The strength of the pluck: its glide is subtracted
from its pitch, and what that leaves open is in the pitch's error; unlike hands move a string by some cents more, see `PULL_CENTS`. The two
polarisations and answering neighbours move single partials and not all alike, so the error includes the partials' disagreement. Warmth
moves all strings alike, and hardly within the seconds between two plucks. Not told apart from a slip: a string that still stretches, one
tuned down between its plucks, and one with two voices a few cents apart of which each pluck excites another.

Clocks start anew in each recording, so plucks of several recordings may seem to follow one another; only plucks shortly after one another
are compared (`MOST_APART_S`).
"""

from collections.abc import Sequence
from itertools import pairwise
from math import inf, log, sqrt
from statistics import median

from toneprobe import limits
from toneprobe.measure.figure import Figure, PluckMeasurement
from toneprobe.measure.pull import squared_pull
from toneprobe.medians import SD_OF_DEVIATION, SE_OVER_MEANS
from toneprobe.units import cents_between

MOST_APART_S = 30.0  # from one pluck's onset to the next: the longest wire that is let ring, twice (15 s, from memory)
PULL_CENTS = 2.0  # standard deviation of a step, per log ratio of the two plucks' glides (measured: 22 real strings, soft against firm, 3.3
# cents rms at a log ratio of 1.3)
LEAST_PARTIALS = 3  # that both plucks have, or nothing tells a fall of the string from one partial's


def pitch_steps(plucks: Sequence[PluckMeasurement], *, most_cents: float) -> tuple[Figure, ...]:
    """For any two successive plucks, in the order given, by how many cents the later lay lower (negative: higher). Plucks more than
    most_cents apart may be of two strings and are left out."""
    steps = [_step(before, after) for before, after in pairwise(plucks) if 0.0 < after.onset_s - before.onset_s <= MOST_APART_S]
    return tuple(step for step in steps if step is not None and abs(step.value) <= most_cents)


def _step(before: PluckMeasurement, after: PluckMeasurement) -> Figure | None:
    if not (before.cents_off.known and after.cents_off.known):
        return None
    cents = before.cents_off.value - after.cents_off.value
    disagree = _disagreement(before, after, cents)
    errors = (before.cents_off.se or 0.0, after.cents_off.se or 0.0, disagree, PULL_CENTS * _other_pull(before, after))
    return Figure(cents, sqrt(sum(error**2 for error in errors))) if disagree < inf else None


def _disagreement(before: PluckMeasurement, after: PluckMeasurement, cents: float) -> float:
    """Standard error of the step as the partials show it, about the step of the whole string; infinite with too few."""
    then = {partial.n: partial.freq_hz for partial in before.partials if partial.n <= limits.TRUE_PARTIALS}
    off = [abs(cents_between(then[partial.n], partial.freq_hz) - cents) for partial in after.partials if partial.n in then]
    return SD_OF_DEVIATION * median(off) * SE_OVER_MEANS / sqrt(len(off)) if len(off) >= LEAST_PARTIALS else inf


def _other_pull(before: PluckMeasurement, after: PluckMeasurement) -> float:
    """How much harder one was pulled, log ratio of the glides; 0 where they are not known."""
    glides = [pluck.glide_cents.value for pluck in (before, after)]
    if None in glides:
        return 0.0
    first, second = (log(squared_pull(glide)) for glide in glides)
    return abs(first - second)
