"""The state of a new string in plain sentences."""

from __future__ import annotations

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
    if found.jumped_on or grounds.is_old:
        return "check it again tomorrow, as found before as left, with its settled neighbours"
    return "check it daily, as found before as left, with its settled neighbours"


def _deciding(found: Settling, grounds: Grounds) -> str:
    if found.state == "slipping":
        return "falls steadily and does not slow down: a pin or a knot, not stretch"
    if found.state == "settled":
        return f"over the next {found.tolerance.ahead_days:g} days it should drift {_drift(found)}, within {found.tolerance.cents:g} cents"
    if found.state == "unsure":
        return _unsure(found, grounds)
    if grounds.n_counting < 2:
        return f"{_checks(grounds.n_counting)}, so this is mostly what is usual: {_from_when(found.settled)}"
    if found.settled is not None and found.checked_on is not None and found.settled.likely <= found.checked_on:
        return f"may have settled about {found.settled.likely:%Y-%m-%d}, but two quiet intervals running have not been seen yet"
    return f"still stretching: {_drift(found)} over the next {found.tolerance.ahead_days:g} days; {_from_when(found.settled)}"


def _unsure(found: Settling, grounds: Grounds) -> str:
    if found.jumped_on:
        return f"moved further before {found.jumped_on[-1]:%Y-%m-%d} than any stretch explains"
    if grounds.n_counting < 2:
        return f"{_checks(grounds.n_counting)}: too few to tell"
    return "moves more than the tolerance, but neither steadily nor like a new string: weather, retuning or readings"


def _checks(n_counting: int) -> str:
    return ("no interval of six hours or more yet", "only one interval of six hours or more yet")[n_counting]


def _from_when(days: DateRange | None) -> str:
    if days is None:
        return "no end in sight within a year"
    if days.early == days.late:
        return f"settled from about {days.likely:%Y-%m-%d}"
    return f"settled from about {days.likely:%Y-%m-%d} ({days.early:%Y-%m-%d} to {days.late:%Y-%m-%d})"


def _drift(found: Settling) -> str:
    drift = found.expected_drift_cents
    return f"{drift.value:+.1f} ± {drift.se:.1f} cents" if drift.known else "by an unknown amount"


def _rate_line(found: Settling) -> list[str]:
    rate = found.rate_cents_per_day
    return [f"measured {rate.value:+.2f} ± {rate.se:.2f} cents a day over the last intervals"] if rate.known else []


def _jump_line(found: Settling) -> list[str]:
    days = ", ".join(f"{day:%Y-%m-%d}" for day in found.jumped_on)
    return [f"left out of the reckoning: the moves before {days}"] if days and found.state != "unsure" else []


def _rise_line(grounds: Grounds) -> list[str]:
    return ["rises against its neighbours: that is not stretch"] if grounds.clear_rise else []


def _weather_line(found: Settling) -> list[str]:
    if found.n_intervals and found.n_neighbours == 0:
        return ["no settled neighbour of its material was read each time, so the weather is not taken out everywhere"]
    return []
