"""What an event did to a string: struck it, stopped it, or let it ring on; and how loud it is beside all that sounds.

Estimator: the power of the string's partials in a stretch before the event, one just before and one after it, equally far apart. A string
that rings on goes on falling, or swelling where it beats, as it did; one that is plucked rises by more, one that is touched falls by more.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

STRETCH_S = 0.18
CLEAR_S = 0.05  # after the event, while its own noise sounds
STEP_S = STRETCH_S + CLEAR_S
STRUCK_DB = 2.0
STOPPED_DB = 6.0
RISE_S = 0.1


class Course(NamedTuple):
    """Level of a string's partials, dB from a common zero."""

    early_db: float
    before_db: float
    after_db: float

    @property
    def is_struck(self) -> bool:
        return self.after_db - self.before_db > max(self.before_db - self.early_db, 0.0) + STRUCK_DB

    @property
    def is_stopped(self) -> bool:
        return self.before_db - self.after_db > max(self.early_db - self.before_db, 0.0) + STOPPED_DB


def course_at(read: Callable[[int, int], np.ndarray], *, rate_hz: float, at_s: float, partials_hz: np.ndarray) -> Course:
    """read: gives the samples between two indices; partials_hz: of the string, shape (n,)."""
    return Course(*(_level_db(read, rate_hz, at_s + CLEAR_S + k * STEP_S, partials_hz) for k in (-2, -1, 0)))


def rise_db(read: Callable[[int, int], np.ndarray], *, rate_hz: float, at_s: float) -> float:
    """Power of all that sounds just after a moment over that just before."""
    at, n, guard = int(at_s * rate_hz), int(RISE_S * rate_hz), int(0.005 * rate_hz)
    before, after = (float((piece**2).mean()) for piece in (read(at - guard - n, at - guard), read(at, at + n)))
    return float(10.0 * np.log10((after + 1e-20) / (before + 1e-20)))


def _level_db(read: Callable[[int, int], np.ndarray], rate_hz: float, start_s: float, partials_hz: np.ndarray) -> float:
    start, n = int(start_s * rate_hz), int(STRETCH_S * rate_hz)
    heard_hz = partials_hz[partials_hz < 0.45 * rate_hz]
    waves = np.exp(-2j * np.pi / rate_hz * np.arange(n)[:, None] * heard_hz)
    return float(10.0 * np.log10((np.abs((read(start, start + n) * np.hanning(n)) @ waves) ** 2).sum() + 1e-20))
