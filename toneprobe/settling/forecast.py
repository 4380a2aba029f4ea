"""What a forecast is worth on the day on which it is read.

Where the foretold days are over and no check shows what came of them, the string has had its time and nobody has looked: it is due for a
check. Otherwise no foretold day lies before the one on which it is read.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from toneprobe.settling.verdict import DateRange, Settling

SLIP_STANDS_DAYS = 28  # so long after its last known move an old string is still called slipping (set here)


@dataclass(frozen=True)
class AsOf:
    """The day for which the state of a string is wanted."""

    today: date
    usual_end: date | None  # when a string of its kind, put on on its day, has had its time; None: on since before the log
    usual_start: date | None = None  # when it has at the earliest


def read_forecast(
    found: Settling, day: AsOf, *, n_counting: int, measured_on: date | None, is_hidden: bool, rises: bool
) -> Settling:
    """The state as it stands on a day, without its words yet.

    `measured_on`: the end of the last move of an old string, which may have been seen to if it slipped weeks ago; None for a new one.
    `is_hidden`: none of its moves tells how it stretches. `rises`: it is new and does not move as one that stretches.
    """
    if found.state == "slipping" and measured_on is not None and (day.today - measured_on).days > SLIP_STANDS_DAYS:
        return replace(found, state="unsure", slipping_until=measured_on)
    if found.state == "unsure" and rises:
        is_due = day.usual_end is not None and day.usual_end <= day.today and not _is_being_checked(found, day.today, n_counting)
        return replace(found, due_on=day.usual_end) if is_due else found
    if found.state != "settling":
        return found
    if found.checked_on is None and day.usual_end:  # as every screen has it: nothing is known of the string itself
        found = replace(found, settled=DateRange(day.usual_start, day.usual_end, day.usual_end))
    days = found.settled
    if days and day.usual_end and (found.n_intervals == 0 or is_hidden):
        # no interval tells of its own stretch: that some of its kind never stretch says nothing of it, and that it may be late does
        days = DateRange(max(days.early, day.usual_start), max(days.likely, day.usual_end), max(days.late, day.usual_end))
    if days and n_counting < 2 and found.checked_on is not None:  # it takes two intervals to show it, so not by the last check
        days = days.not_before(found.checked_on + timedelta(days=1))
    due_on = max(day.usual_end, days.late) if days and day.usual_end else None  # never before a string of its kind has had its time
    if due_on is None or due_on > day.today or _is_being_checked(found, day.today, n_counting):
        return replace(found, settled=days and days.not_before(day.today))
    return replace(found, state="unsure", settled=None, due_on=due_on)


def _is_being_checked(found: Settling, today: date, n_counting: int) -> bool:
    """Checks that tell of the string itself, the last of them so lately that what it said of the days ahead is not over."""
    return n_counting >= 2 and today - found.checked_on <= timedelta(days=found.tolerance.ahead_days)
