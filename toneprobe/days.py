"""Days in words, whatever the machine's language. Files and programs get ISO 8601 instead."""

import re
from collections.abc import Iterable
from datetime import date, time, timedelta

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December")
DAYS_PER_YEAR = 365.25
DAYS_PER_MONTH = DAYS_PER_YEAR / 12.0
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")

_CLOCK = re.compile(r"(\d{1,2})(?:[:.](\d{2})(?::(\d{2}))?)? ?(?:([ap])\.?m\.?)?|(\d{2})(\d{2})", re.IGNORECASE)


def day_text(day: date) -> str:
    """ "3 May 2025": in a sentence."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def weekday_text(day: date) -> str:
    """ "Saturday 3 May 2025": where its owner should see whether it is the day that was meant."""
    return f"{WEEKDAYS[day.weekday()]} {day_text(day)}"


def span_text(days: Iterable[date]) -> str | None:
    """ "20 to 22 September 2025" of three days and more that lie within a fortnight, as the evenings of one task; None of others."""
    ordered = sorted(set(days))
    if len(ordered) < 3 or ordered[-1] - ordered[0] > timedelta(days=14):
        return None
    first, last = ordered[0], ordered[-1]
    begin = f"{first.day}" if (first.year, first.month) == (last.year, last.month) else day_text(first)
    return f"{begin} to {day_text(last)}"


def short_day(day: date) -> str:
    """ " 3 May 2025", "18 Oct 2025": in a column, all of one width."""
    return f"{day.day:2} {MONTHS[day.month - 1][:3]} {day.year}"


def planner_day(day: date) -> str:
    """ "Sat 18 Oct 2025": where something is to be done on it."""
    return f"{WEEKDAYS[day.weekday()][:3]} {short_day(day)}"


def day_by_name(name: str, *, after: date) -> date | None:
    """The day called "today" or "tomorrow" on `after`, or the next weekday of that name; None for what names no day so."""
    n_days = {"today": 0, "tomorrow": 1}.get(name.strip().casefold())
    return next_weekday(name, after=after) if n_days is None else after + timedelta(days=n_days)


def next_weekday(name: str, *, after: date) -> date | None:
    """The next day of that English name, "Friday" or "fri", later than `after`; None for what names no weekday."""
    text = name.strip().casefold()
    place = next((k for k, weekday in enumerate(WEEKDAYS) if text in (weekday.casefold(), weekday[:3].casefold())), None)
    return None if place is None else after + timedelta(days=(place - after.weekday() - 1) % 7 + 1)


def clock_by_name(text: str) -> time | None:
    """The time of day written as "8:30", "08.30", "20:15", "8.15 pm" or "2015"; None for what names none."""
    match = _CLOCK.fullmatch(text.strip())
    if match is None:
        return None
    hour, minute, second = int(match[1] or match[5]), int(match[2] or match[6] or 0), int(match[3] or 0)
    if match[4]:  # the twelfth hour is the first of its half day
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if match[4] in "pP" else 0)
    return time(hour, minute, second) if hour < 24 and minute < 60 and second < 60 else None
