"""A string found far higher than before: its pin was turned in between, though no reading as left tells of it.

Stretch never lifts a string, and weather not so far against neighbours. What it fell since that tuning is not known, so the interval
says nothing of its stretch; the tuning is taken to have been right after the earlier check, when a player is asked for it.

A smaller tuning cannot be seen: a player who tunes after each check and reads nothing as left finds the string as high as before, or
higher. So does one whose string was on before and stretches no more; readings as found cannot tell the two apart. So where all moves of a
string of an age at which its kind still stretches are of that sort, none of them says how it stretches (`hides_stretch`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np

from toneprobe.settling.readings import PitchReading, Span, known, level_hz
from toneprobe.settling.steady import OLD_DAYS

RISE_SDS = 4.0  # beyond the errors of the readings and of the weather
RISE_CENTS = 15.0  # nearly four times what weather does where no neighbour was read (set here)
LEAST_DAYS = 0.01  # the law of stretch begins there: a quarter of an hour, as long as the pulling up takes
NEW_RISE_CENTS = 5.0  # of a new string that was read as found only: it is being brought up (set here: hardly a reading errs by more)


@dataclass(frozen=True)
class TunedUp:
    """A tuning that nothing but the rise tells of."""

    since: datetime  # the check before it
    until: datetime  # the check after it
    cents: float  # the rise against the neighbours; it was tuned up by so much, and by what it has fallen since


def find_tuned_up(
    readings: Sequence[PitchReading], spans: Sequence[Span], spans_days: np.ndarray, rises: np.ndarray, covariance: np.ndarray
) -> dict[int, TunedUp]:
    """By span: the rises that only a turned pin explains, given the rises in cents (n,), neighbours taken out, with their covariance."""
    found = {}
    for k, (span, rise) in enumerate(zip(spans, rises, strict=True)):
        start = next(one for one in readings if one.at == span[0] and level_hz(one) is not None)
        least = NEW_RISE_CENTS if spans_days[k, 0] < OLD_DAYS and not known(start.left_hz) else RISE_CENTS
        if rise > max(least, RISE_SDS * float(covariance[k, k]) ** 0.5):
            found[k] = TunedUp(*span, float(rise))
    return found


def hides_stretch(readings: Sequence[PitchReading], spans: Sequence[Span], falls: np.ndarray, sds: np.ndarray) -> bool:
    """Whether none of the moves (n,) tells how a new string stretches: each from a reading as found, and no fall beyond its error."""
    left_at = {one.at for one in readings if known(one.left_hz)}
    return bool(spans) and all(start not in left_at and fall < sd for (start, _), fall, sd in zip(spans, falls, sds, strict=True))


def usual_fall(span_days: np.ndarray, centre_cents: float) -> float:
    """Fall in cents of a string with A = `centre_cents` per factor of e in time, between two ages in days."""
    start, end = span_days
    return centre_cents * math.log((end + LEAST_DAYS) / (start + LEAST_DAYS))
