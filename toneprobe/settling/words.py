"""The state of a new string in plain sentences."""

from __future__ import annotations

from toneprobe.days import day_text
from toneprobe.settling.verdict import DateRange, Grounds, Settling


def reasons_of(found: Settling, grounds: Grounds) -> tuple[str, ...]:
    """Plain sentences, the deciding one first."""
    lines = [_deciding(found, grounds), *_rate_line(found), *_jump_line(found), *_rise_line(grounds), *_weather_line(found)]
    return tuple(line for line in lines if line)


def next_step_of(found: Settling, grounds: Grounds) -> str:
    """What the player does now."""
    if found.state == "settled":
        return "" if grounds.is_old else "sweep it for its fresh baseline"
    if found.state == "slipping":
        return "have the knot and the tuning pin looked at; pins and their holes are for a harp technician"
    when = "again tomorrow" if found.jumped_on or grounds.is_old else "every day"
    return f"check it {when}: pluck it with two or three settled neighbours before you tune it, and again after"


def _deciding(found: Settling, grounds: Grounds) -> str:
    if found.state == "slipping":
        return "falls steadily and does not slow down: a pin or a knot, not stretch"
    if found.state == "settled":
        return f"over the next {found.tolerance.ahead_days:g} days it should drift {_drift(found)}, within {found.tolerance.cents:g} cents"
    if found.state == "unsure":
        return _unsure(found, grounds)
    if grounds.n_counting < 2:
        return f"{_checks(grounds.n_counting)}, so this goes mostly by what is usual: {_from_when(found.settled)}"
    if found.settled is not None and found.checked_on is not None and found.settled.likely <= found.checked_on:
        return f"may have settled about {day_text(found.settled.likely)}, but its checks must show it twice running"
    return f"still stretching: {_drift(found)} over the next {found.tolerance.ahead_days:g} days; {_from_when(found.settled)}"


def _unsure(found: Settling, grounds: Grounds) -> str:
    if found.jumped_on:
        return f"moved further before {day_text(found.jumped_on[-1])} than any stretch explains"
    if grounds.n_counting < 2:
        return f"{_checks(grounds.n_counting)}: too few to tell"
    return "moves more than the tolerance, but neither steadily nor like a new string: weather, retuning or readings"


def _checks(n_counting: int) -> str:
    return ("no two checks six hours or more apart yet", "only two checks six hours or more apart yet")[n_counting]


def _from_when(days: DateRange | None) -> str:
    if days is None:
        return "no end in sight within a year"
    if days.early == days.late:
        return f"settled from about {day_text(days.likely)}"
    return f"settled from about {day_text(days.likely)}, {day_text(days.early)} at the earliest, {day_text(days.late)} at the latest"


def _drift(found: Settling) -> str:
    drift = found.expected_drift_cents
    return f"{drift.value:+.1f} ± {drift.se:.1f} cents" if drift.known else "by an unknown amount"


def _rate_line(found: Settling) -> list[str]:
    rate = found.rate_cents_per_day
    if not rate.known:
        return []
    way = "fell" if rate.value < 0 else "rose"
    return [f"between the last checks it {way} by {abs(rate.value):.2g} ± {max(rate.se, 0.01):.1g} cents a day against its neighbours"]


def _jump_line(found: Settling) -> list[str]:
    days = ", ".join(f"{day_text(day)}" for day in found.jumped_on)
    return [f"left out of the reckoning: the moves before {days}"] if days and found.state != "unsure" else []


def _rise_line(grounds: Grounds) -> list[str]:
    return ["rises against its neighbours: that is not stretch"] if grounds.clear_rise else []


def _weather_line(found: Settling) -> list[str]:
    if found.n_intervals and found.n_neighbours == 0:
        return ["no settled neighbour of its material was read each time, so the weather is not taken out everywhere"]
    return []
