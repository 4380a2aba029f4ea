"""The partials that a string shows both now and when fresh, side by side.

Only such pairs are compared: what only one sweep shows (a filter, a softer pluck, more noise) tells nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from toneprobe import limits
from toneprobe.baseline.pull import pull_effect
from toneprobe.baseline.scatter import fall_factor, shown_db
from toneprobe.measure.figure import EARLY_RANGE_DB, LEAST_FALL_DB
from toneprobe.session.reading import PartialReading, Reading
from toneprobe.units import CENTS, DB_PER_NEPER


@dataclass(frozen=True)
class Band:
    """What both recordings carry."""

    low_hz: float = 0.0
    high_hz: float = np.inf
    least_db: float = -np.inf  # of a string's strongest partial: what is weaker, a codec has left out or made up in one of the two

    @property
    def is_codecs(self) -> bool:
        return self.least_db > -np.inf

    def holds(self, freq_hz: float, level_db: float = 0.0) -> bool:
        return self.low_hz <= freq_hz <= self.high_hz and level_db >= self.least_db


WHOLE_BAND = Band()
AS_LONG = 1.25  # ratio of ringing times up to which both sides show the same part of the fall


@dataclass(frozen=True)
class Pairs:
    """Arrays over the partials, shape (k,), ascending n; NaN where a value is not known in both."""

    n: np.ndarray
    freq_hz: np.ndarray  # when fresh
    per_pluck: np.ndarray  # 1/plucks now + 1/plucks fresh, the share of one pluck's variance that a difference has
    n_lacking: np.ndarray  # plucks of both sides that do not have it
    log_decay: np.ndarray  # now minus fresh
    log_decay_var: np.ndarray  # from the measurement's own errors
    cents: np.ndarray  # now against fresh, the pull's doing taken out
    cents_own_var: np.ndarray  # from the measurement's own errors
    cents_var: np.ndarray  # from what the plucks of each side differ by, the pull's doing taken out …
    cents_freedom: np.ndarray  # … and its degrees of freedom
    cents_unexplained: np.ndarray  # variance: the plucks' contradictions, what the pull does on both sides taken out
    cents_beside_var: np.ndarray  # from the lines beside a partial that only one pluck shows
    level_db: np.ndarray  # now minus fresh; each sweep's own zero
    fresh_level_db: np.ndarray
    fresh_decay: np.ndarray  # amplitude decay rate when fresh, 1/s
    heard_s: np.ndarray  # how long it could be heard in the sweep where that was shorter
    less_heard_db: np.ndarray  # by how much less of the fall one of the two shows before the noise …
    less_rung_db: np.ndarray  # … and by how much less still, because it was cut short by the hand or the next pluck …
    cut_db: np.ndarray  # … the part of that which counts: the last few dB of the range tell little
    fall_factor: np.ndarray  # on the scatter of its decay, because neither shows the whole fall

    def where(self, keep: np.ndarray) -> Pairs:
        return Pairs(*(getattr(self, name)[keep] for name in self.__dataclass_fields__))


def pair_partials(now: Reading, fresh: Reading, band: Band = WHOLE_BAND) -> Pairs:
    """All partials found in both and inside the band."""
    then = {p.n: p for p in fresh.partials}
    both = [(p, then[p.n]) for p in now.partials
            if p.n in then and band.holds(then[p.n].freq_hz.value, min(p.level_db.value, then[p.n].level_db.value))]
    n_plucks = now.n_plucks + fresh.n_plucks
    rows = [_row(a, b, n_plucks) for a, b in both]
    return Pairs(**{name: np.array([row[name] for row in rows], float) for name in Pairs.__dataclass_fields__})


def _row(now: PartialReading, fresh: PartialReading, n_plucks: int) -> dict[str, float]:
    """One partial's value of each array of `Pairs`. n_plucks: of both sides together."""
    decay, decay_var = (np.nan, np.nan) if _falls_too_little(now, fresh) else _difference(now.log_decay, fresh.log_decay)
    pull = pull_effect(now, fresh)
    less_heard_db, less_rung_db, cut_db = _less_heard_db(now, fresh)
    return {
        "n": now.n, "freq_hz": fresh.freq_hz.value, "per_pluck": 1.0 / now.n_plucks + 1.0 / fresh.n_plucks,
        "n_lacking": n_plucks - now.n_plucks - fresh.n_plucks, "log_decay": decay, "log_decay_var": decay_var,
        "cents": CENTS * np.log(now.freq_hz.value / fresh.freq_hz.value) - pull.cents,
        "cents_own_var": sum((CENTS * (one.freq_hz.se or 0.0) / one.freq_hz.value) ** 2 for one in (now, fresh)),
        "cents_var": pull.variance, "cents_freedom": pull.freedom, "cents_unexplained": pull.unexplained,
        "cents_beside_var": now.beside_cents**2 + fresh.beside_cents**2,
        "level_db": _difference(now.level_db, fresh.level_db)[0], "fresh_level_db": fresh.level_db.value,
        "fresh_decay": np.exp(fresh.log_decay.value) if fresh.log_decay.known else np.nan,
        "heard_s": np.fmin(now.heard_s or np.nan, fresh.heard_s or np.nan),
        "less_heard_db": less_heard_db, "less_rung_db": less_rung_db, "cut_db": cut_db, "fall_factor": _fall_factor(now, fresh),
    }


def _falls_too_little(now: PartialReading, fresh: PartialReading) -> bool:
    """Whether the partial, at the slower side's rate, would not have fallen far enough for a decay in the time that the shorter side heard
    it. It was then measured only because a beat's trough fell in that time, and came out too fast."""
    times_s = (now.heard_s, fresh.heard_s)
    if None in times_s or not (now.log_decay.known and fresh.log_decay.known):
        return False
    slower = math.exp(min(now.log_decay.value, fresh.log_decay.value))
    return DB_PER_NEPER * slower * min(times_s) < LEAST_FALL_DB


def _less_heard_db(now: PartialReading, fresh: PartialReading) -> tuple[float, float, float]:
    """How much less of the fall one side shows before the noise, how much less again before it was cut short, and how much of that counts.

    Where both rang as long, neither was cut: a string that dies sooner falls farther in that time. Of 30 dB the first 25 tell nearly as
    much, but of 13 dB the first 8 tell far less: so only what lacks beyond the last few dB of the range counts, on either side.
    """
    if now.heard_db is None or fresh.heard_db is None:
        return 0.0, 0.0, 0.0
    of_noise = abs(now.heard_db - fresh.heard_db)
    times_s = (now.heard_s, fresh.heard_s)
    if None in times_s or max(times_s) < AS_LONG * min(times_s) or not (now.log_decay.known and fresh.log_decay.known):
        return of_noise, 0.0, 0.0
    shown_db = _shown_db(now, fresh)
    lacking_db = [max(EARLY_RANGE_DB - limits.CUT_SHORT_DB - one, 0.0) for one in shown_db]
    return of_noise, *(max(abs(one - other) - of_noise, 0.0) for one, other in (shown_db, lacking_db))


def _shown_db(now: PartialReading, fresh: PartialReading) -> list[float]:
    """How much of the fall each side shows before the noise or the cut, at the mean of both decays: a short piece that holds a beat's first
    trough makes its own decay too fast."""
    decay = math.exp(0.5 * (now.log_decay.value + fresh.log_decay.value))
    return [shown_db(one, decay) for one in (now, fresh)]


def _fall_factor(now: PartialReading, fresh: PartialReading) -> float:
    """The side that shows more counts; what the other lacks beyond that is doubted in `less_heard_db` and `cut_db`."""
    return fall_factor(max(_shown_db(now, fresh))) if now.log_decay.known and fresh.log_decay.known else 1.0


def _difference(now, fresh) -> tuple[float, float]:
    if not (now.known and fresh.known):
        return np.nan, np.nan
    return now.value - fresh.value, (now.se or 0.0) ** 2 + (fresh.se or 0.0) ** 2
