"""What a forecast is worth on the day on which it is read: days put together by hand, by the rules at the head of `settling.forecast`."""

from dataclasses import replace
from datetime import date

import pytest

from toneprobe.measure.figure import Figure
from toneprobe.settling.forecast import AsOf, read_forecast
from toneprobe.settling.verdict import USUAL_TOLERANCE, DateRange, Settling

UNKNOWN = Figure(None, reason="not asked")


def day(of_may):
    return date(2024, 5, of_may)


def days(*of_may):
    return DateRange(*map(day, of_may))


STRETCHING = Settling("3C", "settling", day(4), 3, 0, UNKNOWN, UNKNOWN, USUAL_TOLERANCE, days(6, 8, 10), None, UNKNOWN)
NEW = replace(STRETCHING, checked_on=None, n_intervals=0, settled=None)  # no check of it


def read(found, today, *, usual=(7, 12), n_counting=2, measured_on=None, is_hidden=False, rises=False):
    """usual: days of May on which one of its kind, put on when it was, has had its time, at the earliest and at the latest."""
    as_of = AsOf(day(today), day(usual[1]), day(usual[0])) if usual else AsOf(day(today), None)
    return read_forecast(found, as_of, n_counting=n_counting, measured_on=measured_on, is_hidden=is_hidden, rises=rises)


@pytest.mark.parametrize(("today", "settled"), [(5, days(6, 8, 10)), (7, days(7, 8, 10)), (9, days(9, 9, 10)), (11, days(11, 11, 11))])
def test_no_day_is_foretold_that_is_over(today, settled):
    found = read(STRETCHING, today)
    assert (found.state, found.settled, found.due_on) == ("settling", settled, None)


@pytest.mark.parametrize(("today", "usual", "late", "due"), [
    (11, (7, 12), 10, None), (12, (7, 12), 10, 12),  # its kind has its time, though its own is over
    (12, (7, 12), 15, None), (15, (7, 12), 15, 15),  # its own lasts longer
    (31, None, 10, None),  # on since before the log: when its time was is not known
])
def test_a_forecast_that_is_over_is_none_any_more(today, usual, late, due):
    found = read(replace(STRETCHING, settled=days(6, 8, late)), today, usual=usual)
    assert (found.state, found.due_on) == (("unsure", day(due)) if due else ("settling", None))
    assert (found.settled is None) == bool(due)
    for state in ("settled", "slipping"):  # of these nothing is foretold
        told = replace(STRETCHING, state=state, settled=days(2, 3, 4))
        assert read(told, 31) == told


@pytest.mark.parametrize(("checked", "n_counting", "is_due"), [(10, 2, False), (9, 2, True), (12, 1, True)])
def test_of_a_string_that_is_being_checked_nothing_is_over(checked, n_counting, is_due):
    """On 13 May, three days ahead being what its tolerance speaks of; one interval tells nothing of the string itself."""
    assert bool(read(replace(STRETCHING, checked_on=day(checked)), 13, n_counting=n_counting).due_on) == is_due


def test_a_string_never_checked_is_foretold_as_its_kind():
    assert read(NEW, 5, n_counting=0).settled == days(7, 12, 12) and read(NEW, 5, n_counting=0, usual=None).settled is None
    assert read(NEW, 9, n_counting=0).settled == days(9, 12, 12) and read(NEW, 12, n_counting=0).due_on == day(12)


@pytest.mark.parametrize("why", [{"found": replace(STRETCHING, n_intervals=0)}, {"found": STRETCHING, "is_hidden": True}])
@pytest.mark.parametrize(("own", "told"), [((5, 6, 8), (7, 12, 12)), ((8, 13, 20), (8, 13, 20)), ((5, 14, 20), (7, 14, 20))])
def test_where_no_interval_tells_of_it_a_string_settles_no_sooner_than_its_kind(why, own, told):
    found = replace(why["found"], settled=days(*own))
    assert read(found, 4, is_hidden="is_hidden" in why).settled == days(*told)
    assert read(replace(STRETCHING, settled=days(*own)), 4).settled == days(*own)  # its own checks tell otherwise
    assert read(replace(found, settled=None), 4, is_hidden="is_hidden" in why).settled is None
    assert read(found, 4, is_hidden="is_hidden" in why, usual=None).settled == days(*own)  # on since before the log


def test_two_intervals_show_that_it_has_settled_so_none_can_before_the_next_check():
    assert read(replace(STRETCHING, settled=days(3, 4, 9)), 4, n_counting=1).settled == days(5, 5, 9)
    assert read(replace(STRETCHING, settled=days(3, 4, 9)), 4).settled == days(4, 4, 9)


@pytest.mark.parametrize(("today", "checked", "due"), [(11, 4, None), (12, 4, 12), (12, 10, None), (20, 10, 12)])
def test_a_new_string_that_rises_has_had_its_time_too(today, checked, due):
    rising = replace(STRETCHING, state="unsure", checked_on=day(checked), settled=None)
    assert read(rising, today, rises=True).due_on == (day(due) if due else None)
    assert read(rising, today).due_on is None  # in doubt for another reason
    assert read(rising, today, usual=None, rises=True).due_on is None
    assert read(replace(rising, state="settled"), today, rises=True) == replace(rising, state="settled")


@pytest.mark.parametrize(("measured", "state"), [(3, "slipping"), (2, "unsure")])
def test_a_string_that_slipped_more_than_four_weeks_ago_may_have_been_seen_to(measured, state):
    slipping = replace(STRETCHING, state="slipping", settled=None)
    found = read(slipping, 31, measured_on=day(measured))
    assert (found.state, found.slipping_until) == (state, day(measured) if state == "unsure" else None)
    assert read(slipping, 31) == slipping  # a new one
    assert read(replace(slipping, state="settled"), 31, measured_on=day(2)).state == "settled"
