"""The day that stands, from what earlier checks let one say: values made up here, each expected day read off the sentences above it."""

from dataclasses import replace
from datetime import date, datetime

import pytest

from toneprobe.measure.figure import Figure
from toneprobe.settling import USUAL_TOLERANCE, DateRange, PitchReading, Settling
from toneprobe.settling.history import as_said_before


def day(number):
    return date(2026, 4, number)


def said(state, likely=None, *, early=None, late=None):
    days = DateRange(day(early or likely), day(likely), day(late or likely)) if likely else None
    unknown = Figure(None, reason="not needed here")
    return Settling("3E", state, None, 5, 3, unknown, unknown, USUAL_TOLERANCE, days, days and days.likely, unknown)


def after(history, now):
    """What stands of `now`, found at the last of the checks; `history` gives their days and what each of the others let one say."""
    checks = [PitchReading("3E", "E5", datetime(2026, 4, number, 12)) for number in (*(number for number, _ in history), 30)]
    return as_said_before(now, checks, lambda known: history[len(known) - 1][1])


@pytest.mark.parametrize("history, now, settled_on", [
    ([(11, said("settling")), (12, said("settled", 10)), (14, said("settled", 9))], said("settled", 8, early=7, late=11), 10),
    ([(12, said("settled", 10))], said("settled", 7, early=6, late=9), 7),  # the later checks put the tenth out of their range
    ([(9, said("settled", 7)), (11, said("settling")), (14, said("settled", 10))], said("settled", 9, early=7, late=11), 10),  # it moved
    ([(12, said("unsure")), (14, said("settled", 12))], said("settled", 8, early=7, late=9), 12),
    ([(12, said("unsure"))], said("settled", 8, early=7, late=9), 12),
    ([(7, said("unsure")), (9, said("settled", 8))], said("settled", 8, early=7, late=9), 8),  # unsure before that day: no matter
    ([], said("settled", 8, early=7, late=9), 8),
])
def test_the_day_first_said_stands_unless_a_later_check_speaks_against_it(history, now, settled_on):
    found = after(history, now)
    assert found.settled_on == day(settled_on) == found.settled.likely
    assert found.settled.early <= found.settled.likely <= found.settled.late
    assert replace(found, settled=now.settled, settled_on=now.settled_on) == now  # nothing else is touched
