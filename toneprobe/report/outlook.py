"""Where a string is heading over the months, in a sentence, if its sweeps carry one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from toneprobe import limits
from toneprobe.report.series import HistoryPoint
from toneprobe.trend import TrendPoint, fit_trend, trend_sentence

RING_GONE = ("a quarter of its ring", "gone")  # limits.DECAY_NOTICED
UNTRUE = ("its partials", "as far out of place as is heard")  # limits.ASTRAY_NOTICED_CENTS


def outlook(points: Sequence[HistoryPoint], *, today: date) -> str:
    """Of the string that was on at the last sweep up to `today`: its ring first, else its partials. "" where nothing can be said.

    points: of one position, oldest first. Only sweeps of that one fitting count.
    """
    points = [point for point in points if point.date <= today]
    own = [point for point in points if point.fitting_id == points[-1].fitting_id]
    lost = [TrendPoint(one.date, -math.log(one.ring.value), None if one.ring.se is None else one.ring.se / one.ring.value)
            for one in own if one.ring.known and one.ring.value > 0.0]
    astray = [TrendPoint(one.date, one.astray_cents.value, one.astray_cents.se) for one in own if one.astray_cents.known]
    return (trend_sentence(fit_trend(lost), limits.DECAY_NOTICED, *RING_GONE)
            or trend_sentence(fit_trend(astray), limits.ASTRAY_NOTICED_CENTS, *UNTRUE))
