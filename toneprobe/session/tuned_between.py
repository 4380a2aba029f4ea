"""A string tuned between its plucks: those before say where it stood, not where it stands.

Who tunes plucks again and again, a turn of the pin between, and the pitch rises step by step within seconds. A string does not do that by
itself: what holds it badly lets it down and never up, warmth takes minutes and moves all strings, and what else moves the pitch between two
plucks (another hand, the two polarisations) goes now up, now down, by a cent or two. A step back is allowed, as many tune a little too high
and come down. Not seen: a string tuned down, which falls as a slipping one does, one tuned in fewer turns, and one whose plucks before and
after lie in two recordings.
"""

from collections.abc import Sequence
from itertools import pairwise
from math import inf
from statistics import median

from toneprobe.limits import ONE_STRING_CENTS
from toneprobe.measure.figure import UNSURE_NAME, PluckMeasurement

MOST_APART_S = 12.0  # from one pluck to the next, a turn of the pin between (set)
LEAST_TURNS = 3  # steps up
TURN_CENTS = 3.0  # of one at the least: more than two takes of a string differ by, in nine of ten (1.5 cents, measured)
CLIMB_CENTS = 20.0  # in all, from the lowest on: far more than a string that is left alone (5.6 at the most, measured)
BACK_CENTS = 10.0  # a step back at the most


def tuning(plucks: Sequence[PluckMeasurement]) -> list[PluckMeasurement]:
    """The plucks of one string in which it was tuned, the last of several such runs; empty for none. In the order of a recording."""
    run: list[PluckMeasurement] = []
    found: list[PluckMeasurement] = []
    for pluck in plucks:
        if not pluck.cents_off.known or pluck.sureness < UNSURE_NAME:
            continue
        goes_on = bool(run) and 0.0 < pluck.onset_s - run[-1].onset_s <= MOST_APART_S and _step_cents(run[-1], pluck) >= -BACK_CENTS
        run = [*run, pluck] if goes_on else [pluck]
        found = run if _is_tuning(run) else found
    return found


def since_tuned(plucks: Sequence[PluckMeasurement]) -> list[PluckMeasurement]:
    """The plucks that tell how a string stands since it was tuned: those after, or the last of the tuning, and of those before any in which
    it stood there already. All where it was not tuned."""
    turned = tuning(plucks)
    if not turned:
        return list(plucks)
    first, last = (next(i for i, pluck in enumerate(plucks) if pluck is one) for one in (turned[0], turned[-1]))
    since = list(plucks[last + 1:]) or [turned[-1]]
    known = [pluck.cents_off.value for pluck in since if pluck.cents_off.known]
    now_cents = median(known) if known else inf
    before = [pluck for pluck in plucks[:first] if pluck.cents_off.known and abs(pluck.cents_off.value - now_cents) <= ONE_STRING_CENTS]
    return [*before, *since]


def _is_tuning(run: Sequence[PluckMeasurement]) -> bool:
    up = [step for before, after in pairwise(run) if (step := _step_cents(before, after)) >= TURN_CENTS]
    lowest = min(pluck.cents_off.value for pluck in run)
    return len(up) >= LEAST_TURNS and run[-1].cents_off.value - lowest >= CLIMB_CENTS


def _step_cents(before: PluckMeasurement, after: PluckMeasurement) -> float:
    return after.cents_off.value - before.cents_off.value
