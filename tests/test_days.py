"""Days by their names. The calendar was looked up by hand: 26 November 2026 is a Thursday."""

from datetime import date, time

import pytest

from toneprobe.days import clock_by_name, day_by_name, next_weekday, span_text

THURSDAY = date(2026, 11, 26)


@pytest.mark.parametrize(("days", "words"), [
    ((20, 21, 22), "20 to 22 November 2026"), ((22, 20, 20, 27), "20 to 27 November 2026"), ((20, 21), None), ((20,), None), ((), None),
    ((2, 3, 30), None)])
def test_the_evenings_of_one_task_are_one_span(days, words):
    assert span_text(date(2026, 11, day) for day in days) == words
    assert span_text((date(2026, 11, 29), date(2026, 11, 30), date(2026, 12, 2))) == "29 November 2026 to 2 December 2026"


@pytest.mark.parametrize(("name", "day"), [
    ("Friday", 27), ("friday", 27), (" Fri ", 27), ("Saturday", 28), ("SUN", 29), ("Monday", 30)])
def test_a_weekday_is_the_next_one(name, day):
    assert next_weekday(name, after=THURSDAY) == date(2026, 11, day)


def test_todays_name_is_the_day_a_week_ahead():
    assert next_weekday("Thursday", after=THURSDAY) == date(2026, 12, 3)


@pytest.mark.parametrize("name", ["", "F", "Frida", "2026-11-27", "today"])
def test_what_names_no_weekday(name):
    assert next_weekday(name, after=THURSDAY) is None


@pytest.mark.parametrize(("name", "day"), [
    ("today", date(2026, 11, 26)), (" Tomorrow ", date(2026, 11, 27)), ("friday", date(2026, 11, 27)), ("Mon", date(2026, 11, 30)),
    ("soon", None)])
def test_a_day_by_the_names_that_people_use(name, day):
    assert day_by_name(name, after=THURSDAY) == day


@pytest.mark.parametrize(("text", "clock"), [
    ("8:30", time(8, 30)), ("8.30", time(8, 30)), ("08.30", time(8, 30)), (" 20.15 ", time(20, 15)), ("2015", time(20, 15)),
    ("18", time(18)), ("8:30 pm", time(20, 30)), ("8.30am", time(8, 30)), ("12:05 a.m.", time(0, 5)), ("12 pm", time(12)),
    ("08:30:15", time(8, 30, 15))])
def test_a_clock_is_read_as_it_is_spoken(text, clock):
    """Half past eight is half past eight, whatever stands between; the half days as an English clock has them."""
    assert clock_by_name(text) == clock


@pytest.mark.parametrize("text", ["", "noon", "25:00", "8:60", "13 pm", "0:30 am", "8.3", "8.305", "830"])
def test_what_is_no_time_of_day(text):
    assert clock_by_name(text) is None
