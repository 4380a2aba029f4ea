"""Where a string is heading over the months, in a sentence, if its sweeps show it."""

import math
from collections.abc import Sequence
from datetime import date

from toneprobe import limits
from toneprobe.days import MONTHS
from toneprobe.report.series import HistoryPoint
from toneprobe.trend import Crossing, Trend, TrendPoint, fit_trend, threshold_crossing

SEASONS_DAYS = 548  # a year and a half: less may be half a yearly cycle, which no fit can tell from wear


def outlook(points: Sequence[HistoryPoint], *, today: date) -> str:
    """From the sweeps of one position, oldest first, for the string that was on at the last one up to `today`: its ring, else its partials.
    "" where nothing can be said."""
    points = [point for point in points if point.date <= today]
    own = [point for point in points if point.fitting_id == points[-1].fitting_id]
    lost = [TrendPoint(one.date, -math.log(one.ring.value), None if one.ring.se is None else one.ring.se / one.ring.value)
            for one in own if one.ring.known and one.ring.value > 0.0]
    astray = [TrendPoint(one.date, one.astray_cents.value, one.astray_cents.se) for one in own if one.astray_cents.known]
    return (trend_sentence(fit_trend(lost), limits.DECAY_NOTICED, "a quarter of its ring", "gone")
            or trend_sentence(fit_trend(astray), limits.ASTRAY_NOTICED_CENTS, "its partials", "as far out of place as is heard"))


def trend_sentence(trend: Trend | None, threshold: float, what: str, state: str) -> str:
    """What a player is told, "" where the readings show nothing. what, state: what it means to reach the threshold."""
    if trend is None:
        return ""
    seen = f"{trend.n_readings} sweeps since {_month(trend.first)}"
    if trend.rises and trend.level >= threshold:
        return f"It has been getting worse over {seen}."
    crossing = threshold_crossing(trend, threshold)
    if crossing is None:
        return ""
    is_short = (trend.last - trend.first).days < SEASONS_DAYS
    season = " Over less than a year and a half the season may have a part in it." if is_short else ""
    if crossing.may_be_past and crossing.latest is None:
        return f"Going by {seen}, {what} may be {state} already.{season}"
    return f"If it goes on as steadily as over {seen}, {what} will be {state} {_when(crossing)}.{season}"


def _when(crossing: Crossing) -> str:
    earliest, latest = crossing.earliest, crossing.latest
    if crossing.may_be_past:
        return f"by {_month(latest)}, and may be already"
    if latest is None:
        return f"in {_month(earliest)} at the earliest, or never if it slows down"
    if (earliest.year, earliest.month) == (latest.year, latest.month):
        return f"in {_month(earliest)}"
    return f"between {MONTHS[earliest.month - 1] if earliest.year == latest.year else _month(earliest)} and {_month(latest)}"


def _month(day: date) -> str:
    return f"{MONTHS[day.month - 1]} {day.year}"
