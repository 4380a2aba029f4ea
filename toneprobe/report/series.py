"""Numbers ready to be drawn or listed: partials now and fresh, changes against fresh, history over months.

A change is a ratio now/fresh as a `Figure` (1 = as fresh); a missing one keeps the reason. Nothing is measured here.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from toneprobe import limits
from toneprobe.book.entries import StoredCondition
from toneprobe.condition import SILENT, Condition
from toneprobe.condition.doubt_words import is_too_wide, why_unmeasured
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.measure.figure import Figure
from toneprobe.measure.inharmonicity import AS_NONE
from toneprobe.report.glossary import FRESH
from toneprobe.session import PartialReading, Reading
from toneprobe.stiffness import stiff_partial_hz
from toneprobe.units import cents_between, t60_of_decay

UNKNOWN = Figure(None, reason="not measured")


@dataclass(frozen=True)
class PartialPoint:
    """One partial of a string in one sweep. None where it could not be measured."""

    n: int
    freq_hz: float | None = None
    level_db: float | None = None  # relative to the pluck's strongest partial
    t60_s: float | None = None
    t60_se_s: float | None = None
    astray_cents: float | None = None  # from the fitted stiff-string series


@dataclass(frozen=True)
class HistoryPoint:
    """One sweep in the life of a string: its changes against the baseline of the fitting that was on."""

    date: date
    verdict: str
    ring: Figure  # ratio to fresh
    brightness: Figure  # ratio to fresh
    astray_cents: Figure  # how far its partials have moved against each other
    fitting_id: int | None
    is_fresh: bool  # this sweep belongs to its baseline
    moved_cents: Figure  # as astray_cents, with the error that is told
    waver_db: Figure  # how much deeper than fresh its partials waver together

    @property
    def state(self) -> str:
        """The verdict; "fresh" where there is none because this sweep is its baseline."""
        return FRESH if self.is_fresh and self.verdict == "unrated" else self.verdict


def ratio(now: Figure | None, fresh: Figure | None) -> Figure:
    """now/fresh with the standard error of both; a reason where one is missing or not positive."""
    now, fresh = now or UNKNOWN, fresh or Figure(None, reason="no fresh baseline")
    if now.value is None or fresh.value is None:
        return Figure(None, reason=now.reason or fresh.reason)
    if now.value <= 0 or fresh.value <= 0:
        return Figure(None, reason="not a ratio")
    value = now.value / fresh.value
    if now.se is None or fresh.se is None:
        return Figure(value)
    return Figure(value, value * math.hypot(now.se / now.value, fresh.se / fresh.value))


def ring_change(condition: Condition) -> Figure:
    """Decay time now/fresh: the change that the condition's reasons tell; in sweeps stored before conditions kept that, the change of all
    paired partials, or of the lowest where these alone have clearly lost their ring; else the ratio of the two figures."""
    told, decay, lowest = (condition.changes.get(name) for name in ("ring", "decay", "decay_low"))
    if decay and lowest and decay.known and lowest.known and lowest.value > max(decay.value, limits.ERRORS_TOLD * lowest.se):
        decay = lowest
    return _unless_too_wide(_ratio_of_log(told or decay) or ratio(condition.figures.get("t60_s"), condition.fresh.get("t60_s")), condition)


def brightness_change(condition: Condition) -> Figure:
    """Brightness now/fresh as the condition has it, without what all strings share; else the ratio of the spectral centroids, those of the
    partials where both sides have them."""
    compared = _ratio_of_log(condition.changes.get("brightness"))
    if compared:
        return _unless_too_wide(compared, condition)
    changes = [ratio(condition.figures.get(key), condition.fresh.get(key)) for key in ("centroid_partials_hz", "centroid_hz")]
    return _unless_too_wide(next((one for one in changes if one.known), changes[0]), condition)


def highs_change(condition: Condition) -> Figure | None:
    """Decay time now/fresh of the upper half of the partials; None where it is not known apart."""
    change = _ratio_of_log(condition.changes.get("decay_high"))
    return _unless_too_wide(change, condition) if change is not None and change.known else None


def _unless_too_wide(change: Figure, condition: Condition) -> Figure:
    """The change, or a reason in its place where it is so uncertain that a figure would mislead and no verdict rests on it."""
    if change.value is None or change.se is None or condition.verdict in CONDEMNING or not is_too_wide(change.se / change.value):
        return change
    return Figure(None, reason=why_unmeasured(condition.n_plucks))


def history(conditions: Iterable[StoredCondition]) -> tuple[HistoryPoint, ...]:
    """All sweeps of one string position, oldest first."""
    return tuple(sorted(map(_history_point, conditions), key=lambda point: point.date))


def _history_point(one: StoredCondition) -> HistoryPoint:
    """Sweeps stored before `moved_cents` and `waver_db` have these values under the names that they are judged by."""
    changes = one.condition.changes
    astray = changes.get("astray_cents", UNKNOWN)
    return HistoryPoint(one.date, one.condition.verdict, ring_change(one.condition), brightness_change(one.condition), astray,
                        one.fitting_id, one.is_fresh, changes.get("moved_cents", astray),
                        changes.get("waver_db", changes.get("beat_db", UNKNOWN)))


def decisive(points: Sequence[HistoryPoint]) -> str:
    """Which figure shows over the months why a string is false or watched: "moved", "waver", or in all other cases "ring". The largest as a
    multiple of what a listener notices; "moved" before "waver" where both are noticed, as lanes and seasons tell it too."""
    said = last_said(points)
    if said is None or said.verdict not in ("false", "watch"):
        return "ring"
    moved, waver = _times_noticed(said.moved_cents, limits.ASTRAY_NOTICED_CENTS), _times_noticed(said.waver_db, limits.BEAT_NOTICED_DB)
    ring = -math.log(said.ring.value) / limits.DECAY_NOTICED if said.ring.known and said.verdict == "watch" else 0.0
    if ring >= max(moved, waver):
        return "ring"
    return "moved" if moved >= min(waver, 1.0) else "waver"


def _times_noticed(change: Figure, noticed: float) -> float:
    """A change as a multiple of what a listener notices; 0 where it is not known."""
    return change.value / noticed if change.known else 0.0


def last_said(points: Sequence[HistoryPoint]) -> HistoryPoint | None:
    """The last of one fitting's sweeps, oldest first, that says something of it; where none does, the last."""
    return next((point for point in reversed(points) if point.verdict not in SILENT), points[-1] if points else None)


def partial_points(heard: Reading | None) -> tuple[PartialPoint, ...]:
    """The partials of one string."""
    if heard is None:
        return ()
    series = _f0_and_b(heard.figures)
    return tuple(_point(partial, series) for partial in heard.partials)


def _ratio_of_log(change: Figure | None) -> Figure | None:
    """The ratio now/fresh from a change, ln(fresh/now); None where there is no such change, a reason where it is not known."""
    if change is None or change.value is None:
        return change
    value = math.exp(-change.value)
    return Figure(value, None if change.se is None else value * change.se)


def _point(partial: PartialReading, series: tuple[float, float] | None) -> PartialPoint:
    log_decay = partial.log_decay  # ln δ, whose error is the relative error of T60
    t60_s = None if log_decay.value is None else t60_of_decay(math.exp(log_decay.value))
    t60_se_s = None if t60_s is None or log_decay.se is None else t60_s * log_decay.se
    return PartialPoint(partial.n, partial.freq_hz.value, partial.level_db.value, t60_s, t60_se_s, _cents_astray(partial, series))


def _f0_and_b(figures: Mapping[str, Figure]) -> tuple[float, float] | None:
    """f0 and B of f_n = n·f0·√(1 + B·n²), from the sounding pitch f1 = f0·√(1 + B). A B too small to be measured is 0."""
    pitch_hz, stiffness = figures.get("pitch_hz", UNKNOWN).value, figures.get("inharmonicity", UNKNOWN)
    b = 0.0 if stiffness.value is None and (stiffness.reason or "").startswith(AS_NONE) else stiffness.value
    if pitch_hz is None or b is None or b <= -1:
        return None
    return pitch_hz / math.sqrt(1.0 + b), b


def _cents_astray(partial: PartialReading, series: tuple[float, float] | None) -> float | None:
    if series is None or partial.freq_hz.value is None or 1.0 + series[1] * partial.n**2 <= 0:
        return None
    return cents_between(partial.freq_hz.value, stiff_partial_hz(*series, partial.n))
