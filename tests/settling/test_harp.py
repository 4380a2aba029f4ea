"""A new string among the others of its harp."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from sounds.checked_strings import LogString, play
from sounds.heard_pitch import heard

from toneprobe.days import day_text
from toneprobe.fittings import Fitting
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.session import Reading
from toneprobe.settling import (
    DateRange,
    PitchReading,
    SettledRecord,
    check_of_sweep,
    judge_on_harp,
    judge_settling,
    neighbours_of,
    record_settled,
)
from toneprobe.settling.harp import expected_creep

HARP = load_instrument("pedal-47")
PUT_ON = date(2024, 5, 1)


def fitting(number, string, fitted=None, **fields):
    return Fitting(number, 1, string, fitted, **fields)


def check(day=0):
    return PitchReading("x", "A4", datetime(2024, 5, 1, 12) + timedelta(days=day), Figure(440.0, 0.1))


LOG = (
    fitting(1, "3C", PUT_ON),  # the new one, gut
    fitting(2, "3D"),  # gut, since before the log: tells the weather
    fitting(3, "3E", PUT_ON - timedelta(days=20)),  # gut, too young to trust unless found settled
    fitting(4, "3F", PUT_ON - timedelta(days=90)),  # gut, old enough
    fitting(5, "6C"),  # wire
    fitting(6, "3G", material="nylon"),  # another material on a gut position
    fitting(7, "3A", is_stand_in=True),
    fitting(8, "3B"),  # never read
)
READINGS = {one.id: [check(), check(1)] for one in LOG if one.id != 8}


def test_only_settled_strings_of_the_same_material_tell_the_weather():
    assert set(neighbours_of(LOG[0], READINGS, LOG, HARP)) == {2, 4}
    record = SettledRecord(3, "3E", PUT_ON - timedelta(days=10), PUT_ON - timedelta(days=9), 4.0)
    assert set(neighbours_of(LOG[0], READINGS, LOG, HARP, [record])) == {2, 3, 4}
    later = replace(record, noted_on=PUT_ON)  # by a check of the day of this one's first
    assert set(neighbours_of(LOG[0], READINGS, LOG, HARP, [later])) == {2, 4}
    assert neighbours_of(LOG[7], READINGS, LOG, HARP) == {}


def test_the_owner_s_own_strings_tell_what_to_expect():
    usual = expected_creep(LOG[0], LOG, HARP)
    records = [SettledRecord(n, "x", PUT_ON, PUT_ON, 12.0) for n in (2, 3, 4)] + [SettledRecord(5, "6C", PUT_ON, PUT_ON, 0.5)]
    own = expected_creep(LOG[0], LOG, HARP, records)
    assert usual.centre_cents == 5.0  # gut: about five days to a cent a day, common practice
    # derived: the mean of ln 12, ln 12, ln 12, ln 5, the usual one counting as one string; the wire does not count
    assert own.centre_cents == pytest.approx((12.0**3 * 5.0) ** 0.25)
    assert expected_creep(LOG[0], LOG, HARP, [SettledRecord(1, "3C", PUT_ON, PUT_ON, 99.0)]) == usual  # not from itself


@pytest.mark.parametrize("noted", [2, 6, 19])
def test_strings_changed_together_bear_no_witness_for_each_other(noted):
    """3C and 3E went on together, both were found higher after a tuning of the whole set that nobody logged, and 3E was found settled
    first, on the day that it went on: to 3C that is neither weather nor what to expect, so what is told of it does not hang on whether 3E
    was judged before. By reasoning: a tuning that both had would cancel out."""
    own, log = {number: found_on((2, -30.0), (4, 0.0), (8, -1.0)) for number in (1, 3)}, (LOG[0], LOG[2])
    record = SettledRecord(3, "3E", PUT_ON, date(2024, 5, noted), 12.0)
    alone, found = (judge_on_harp(LOG[0], own, log, HARP, records=known, today=date(2024, 5, 20)) for known in ((), (record,)))
    assert found == alone and found.n_neighbours == 0


def test_judged_on_the_harp_is_judged_with_its_neighbours():
    own, others = play(LogString(3.0), np.random.default_rng(2))
    old = (fitting(10 + k, string) for k, string in enumerate(("3D", "3E", "3F", "3G", "3A", "3B", "2F", "2G")))
    log = (fitting(1, "3C", PUT_ON), *old)
    readings = {1: own} | {10 + k: checks for k, checks in enumerate(others.values())}
    found = judge_on_harp(log[0], readings, log, HARP)
    plain = judge_settling(own, fitted_on=PUT_ON, neighbours=others, prior=expected_creep(log[0], log, HARP))
    assert found == plain and found.n_neighbours >= 6
    record = record_settled(found, 1)
    assert found.state == "settled" and record.settled_on == found.settled_on and record.noted_on == own[-1].at.date()
    assert record.creep_cents == pytest.approx(3.0, rel=0.35)
    assert record_settled(judge_settling([], fitted_on=PUT_ON), 1) is None


def test_a_sweep_is_a_check_as_found():
    reading = Reading("3C", "Cb5", 3, 40.0, {"pitch_hz": Figure(494.0, 0.1)}, ())
    found = check_of_sweep(reading, date(2024, 5, 3), sweep_id=9)
    assert (found.at, found.found_hz.value, found.left_hz, found.note, found.sweep_id) == (datetime(2024, 5, 3, 12), 494.0, None, "Cb5", 9)
    assert check_of_sweep(reading, datetime(2024, 5, 3, 19)).at.hour == 19


def test_the_neighbours_that_would_serve_are_named():
    """3C is gut, as are 3D, 3B and 3F, on for long; 3E is young until it was found settled, 3G nylon, 3A a stand-in, 6C wire. Those plucked
    at the last check go before the nearest. For 3G, the only nylon, there is none."""
    def step(fitting, records=(), readings=READINGS):
        return judge_on_harp(fitting, readings, LOG, HARP, records=records, today=PUT_ON + timedelta(days=1)).next_step

    named = "check it every day: pluck it with its settled neighbours {} before you tune it, and again after"
    assert step(LOG[0]) == step(LOG[0], readings={}) == named.format("3D, 3B and 3F")
    settled = SettledRecord(3, "3E", PUT_ON - timedelta(days=10), PUT_ON - timedelta(days=9), 4.0)
    assert step(LOG[0], [settled]) == named.format("3E, 3D and 3F")  # 3B, nearer, was not read
    assert step(LOG[0], [settled], readings={}) == named.format("3E, 3D and 3B")
    lone = replace(LOG[5], fitted_on=PUT_ON)
    assert step(lone) == "check it every day: pluck it before you tune it, and again after"


def test_without_a_neighbour_that_would_serve_it_is_said_what_decides_then():
    """The only nylon, found higher by 8 cents every day or two: what weather does, 4 cents (from memory), passes a cent a day in less than
    three days, so daily checks would not end it."""
    lone, own = replace(LOG[5], fitted_on=PUT_ON), found_on((7, -20.0), (9, -12.0), (11, -4.0))
    found = judge_on_harp(lone, {6: own}, [lone, *LOG[:5]], HARP, today=date(2024, 5, 11))
    assert found.state == "unsure" and found.reasons[0].endswith("No string of its material had settled before it, so none can tell")
    assert "to show what the weather did, so only moves over three days and more decide" in found.reasons[-1]
    assert found.next_step == "check it every three days: pluck it before you tune it, and again after"


# --- as of a day. Gut settles in five to seven days: common practice

def as_left(day, number=1):
    return {number: (PitchReading("3C", "Cb5", datetime(2024, 5, 1, 12) + timedelta(days=day), None, Figure(494.0, 0.1)),)}


def test_a_string_never_checked_has_had_its_time_after_a_week():
    """The same at any age: there is no check by which an old one could be told from a young one."""
    def on(days):
        return judge_on_harp(LOG[0], {}, LOG, HARP, today=PUT_ON + timedelta(days=days))

    assert on(6).state == "settling" and on(6).due_on is None and "every day" in on(6).next_step
    for days in (7, 30, 67, 400):
        found = on(days)
        assert (found.state, found.settled, found.due_on) == ("unsure", None, PUT_ON + timedelta(days=7))
        assert found.reasons == ("by what is usual it should have settled by 8 May 2024; its pitch has not been checked yet",)
        assert found.next_step.startswith("check it once:")


@pytest.mark.parametrize("days, early, words", [
    (0, 5, "settled by about 8 May 2024, 6 May 2024 at the earliest"), (4, 5, "settled by about 8 May 2024, 6 May 2024 at the earliest"),
    (5, 5, "settled by about 8 May 2024"), (6, 6, "settled by about 8 May 2024"),
])
def test_without_a_check_it_settles_when_its_kind_does(days, early, words):
    """Gut put on on 1 May, as the log of a change and a plan have it: in 5 to 7 days (common practice), counted on a calendar."""
    found = judge_on_harp(LOG[0], {}, LOG, HARP, today=PUT_ON + timedelta(days=days))
    assert found.settled == DateRange(*(PUT_ON + timedelta(days=k) for k in (early, 7, 7)))
    assert found.reasons[0] == f"not checked yet, so this goes by what is usual: {words}"


def test_no_forecast_begins_before_the_day_on_which_it_is_read():
    """Tuned on the second day. What a check of that day foretells reaches back before it; no day that is over is still to come."""
    readings = as_left(2)
    told = judge_on_harp(LOG[0], readings, LOG, HARP).settled
    assert told.early < PUT_ON + timedelta(days=2)  # else this shows nothing
    days = (told.late - PUT_ON).days
    for today in (PUT_ON + timedelta(days=k) for k in range(2, days)):
        found = judge_on_harp(LOG[0], readings, LOG, HARP, today=today)
        usual, long = PUT_ON + timedelta(days=5), PUT_ON + timedelta(days=7)  # of gut: common practice
        assert found.settled == DateRange(max(told.early, usual, today), max(told.likely, long, today), told.late)
        already = f"it may have settled already, by {day_text(told.late)} at the latest"
        assert found.reasons[0].endswith(already) is (today >= long)


@pytest.mark.parametrize("cents", [-5.0, -45.0])
def test_a_first_check_that_no_interval_came_before_brings_no_day_forward(cents):
    """Put on without a reading, found flat on the next day and tuned: how it stretches nobody knows yet, so what is usual stands, in 5 to
    7 days (common practice), however far it fell."""
    first = PitchReading("3C", "Cb5", datetime(2024, 5, 2, 9), heard(cents, 0.3), heard(0.0, 0.3))
    found = judge_on_harp(LOG[0], {1: (first,)}, LOG, HARP, today=date(2024, 5, 2))
    assert found.state == "settling" and found.settled.late > date(2024, 5, 8)
    assert (found.settled.early, found.settled.likely) == (date(2024, 5, 6), date(2024, 5, 8))


def test_no_day_is_foretold_that_no_check_could_show():
    """As left, and a day later hardly fallen: it is said to have settled after two intervals, and the second can end tomorrow at best."""
    readings = found_on((2, -9.0, 0.0), (3, -0.1))
    assert judge_on_harp(LOG[0], {1: readings}, LOG, HARP).settled.early < date(2024, 5, 4)  # else this shows nothing
    assert judge_on_harp(LOG[0], {1: readings}, LOG, HARP, today=date(2024, 5, 3)).settled.early == date(2024, 5, 4)


def found_on(*checks):
    """Of 3C, gut, put on on 1 May: the day of May and the cents as found of each check, and as left where it was read."""
    return [PitchReading("3C", "Cb5", datetime(2024, 5, day, 9), *(heard(one, 0.3) for one in cents)) for day, *cents in checks]


@pytest.mark.parametrize("rise", [4.0, 0.3])
def test_found_as_high_as_before_it_settles_no_sooner_than_its_kind(rise):
    """A new string falls (gut by 5·ln 2 = 3.5 cents from the first day to the second), so it may have been tuned in between and not logged:
    what is usual stands, 5 to 7 days (common practice), as on the day before, and how to log a tuning is said."""
    first, both = found_on((2, -12.0)), found_on((2, -12.0), (3, -12.0 + rise))
    alone, found = (judge_on_harp(LOG[0], {1: own}, LOG, HARP, today=own[-1].at.date()) for own in (first, both))
    assert found.state == "settling" and found.settled == alone.settled
    assert (found.settled.early, found.settled.likely) == (date(2024, 5, 6), date(2024, 5, 8))
    asked = next(line for line in found.reasons if "was it tuned between 2 May 2024 and 3 May 2024?" in line)
    assert "with '--as-left'" in asked
    said = judge_on_harp(LOG[0], {1: both}, LOG, HARP, today=date(2024, 5, 4)).reasons
    assert not any("may have settled already" in line for line in said)


def test_only_where_nothing_was_turned_does_a_string_that_holds_settle_before_its_kind():
    """Found level on four days running: tuned each day, or one that was on before and stretches no more. A reading as left at the start
    tells them apart, for then nobody turned the pin."""
    days = [(3, 0.0), (4, 0.1), (5, 0.0)]
    still = {number: found_on((2, 0.0), *days) for number in (2, 4)}  # 3D and 3F, old gut: no weather
    unknown, held = (judge_on_harp(LOG[0], {1: found_on(first, *days)} | still, LOG, HARP, today=date(2024, 5, 5))
                     for first in ((2, 0.0), (2, 0.0, 0.0)))
    assert unknown.state == "settling" and unknown.settled.early >= date(2024, 5, 6)
    assert unknown.reasons[0].startswith("none of its checks shows how far it falls, so this goes by what is usual: settled from about")
    assert held.state == "settled" and not any("tuned between" in line for line in held.reasons)


def test_a_forecast_that_is_over_is_none():
    """Checked once, on the day after it was put on: the latest day that is forecast then is the day from which it has had its time."""
    readings = as_left(1)
    late = judge_on_harp(LOG[0], readings, LOG, HARP).settled.late
    before = judge_on_harp(LOG[0], readings, LOG, HARP, today=late - timedelta(days=1))
    assert before.state == "settling" and before.settled.late == late
    found = judge_on_harp(LOG[0], readings, LOG, HARP, today=late)
    assert (found.state, found.settled, found.due_on) == ("unsure", None, late)
    assert found.reasons[0].endswith("; its pitch has not been checked since 2 May 2024") and "at the latest" not in found.reasons[0]
    assert found.next_step.startswith("check it once more")


def test_a_riser_that_nobody_has_checked_for_weeks_has_had_its_time():
    """Found higher each time in its first ten days; a week is long for gut (common practice). Asked a month later, what its last checks
    asked is not asked again, and the next check ends it."""
    own = {1: found_on((4, -12.0), (7, -6.0), (10, 0.0))}
    lately = judge_on_harp(LOG[0], own, LOG, HARP, today=date(2024, 5, 12))
    assert (lately.state, lately.due_on) == ("unsure", None) and lately.reasons[0].startswith("rises by 2.0 ± ")
    found = judge_on_harp(LOG[0], own, LOG, HARP, today=date(2024, 6, 19))
    assert (found.state, found.due_on) == ("unsure", date(2024, 5, 8)) and found.next_step.startswith("check it once more:")
    assert found.reasons[0] == ("by what is usual it should have settled by 8 May 2024; its pitch has not been checked since 10 "
                                "May 2024, for 40 days")
    again = {1: [*own[1], *found_on((31, -1.0))]}
    assert judge_on_harp(LOG[0], again, LOG, HARP, today=date(2024, 6, 19)).state == "settled"


def falling(cents_per_day):
    falls = {datetime(2024, 5, day, 12): heard(-cents_per_day * (day - 1), 0.3) for day in (1, 4, 7, 10)}
    return [PitchReading("3C", "Cb5", at, found_hz) for at, found_hz in falls.items()]


def test_checks_that_go_on_are_not_called_missing():
    """Falls by two cents a day, in weather that no neighbour tells of: by the law it had settled on 2 May, but each check says otherwise.

    Three days on, as far as a check speaks for what lies ahead (the usual tolerance), they stand; after that nobody has looked.
    """
    own = {1: falling(2.0)}
    assert judge_on_harp(LOG[0], own, LOG, HARP).settled.late <= date(2024, 5, 10)
    lately = judge_on_harp(LOG[0], own, LOG, HARP, today=date(2024, 5, 13))
    assert lately.state == "settling" and lately.due_on is None and "every day" in lately.next_step
    found = judge_on_harp(LOG[0], own, LOG, HARP, today=date(2024, 5, 14))
    assert (found.state, found.due_on) == ("unsure", date(2024, 5, 8))  # a week, however soon the law would have it
    assert found.reasons[0] == "as its checks foretold it should have settled by 8 May 2024, but no two checks running show it"


def test_what_fell_on_to_its_last_check_has_not_had_its_time():
    """Twelve cents in three days, three times running: no day passes by which it should have stopped."""
    own = {1: falling(4.0)}
    for today in (date(2024, 5, 10), date(2024, 5, 24)):
        found = judge_on_harp(LOG[0], own, LOG, HARP, today=today)
        assert (found.state, found.settled, found.due_on) == ("settling", None, None)
        assert found.reasons[0].startswith("still falls, and has slowed down too little for stretch alone")


def test_of_a_string_that_slipped_weeks_ago_it_is_said_when_it_was_last_checked():
    """3D, on since before the log, falls 3 cents a week beside 3F: so it is said for four weeks, and then that nobody has looked since."""
    readings = {number: [PitchReading(name, "Db5", datetime(2024, 5, 1, 12) + timedelta(weeks=week), heard(fall * week, 0.3))
                         for week in range(6)] for number, name, fall in ((2, "3D", -3.0), (4, "3F", 0.0), (8, "3B", 0.1))}
    log = [replace(one, fitted_on=None) for one in LOG]
    last = date(2024, 6, 5)
    now, later = (judge_on_harp(log[1], readings, log, HARP, today=last + timedelta(days=days)) for days in (28, 29))
    assert now.state == "slipping" and now.is_or_was_slipping and now.slipping_until is None
    assert (later.state, later.slipping_until, later.is_or_was_slipping) == ("unsure", last, True)
    assert "when it was last checked on 5 June 2024" in later.reasons[0] and "nobody has looked since" in later.reasons[0]
    assert later.next_step.startswith("check it twice, a day apart")


def test_what_is_not_a_forecast_stays():
    """Settled, or since before the log: asked a year later it is what its checks said."""
    old = {2: tuple(check(day) for day in (0, 30, 60))}
    assert judge_on_harp(LOG[1], old, LOG, HARP, today=date(2025, 5, 1)) == judge_on_harp(LOG[1], old, LOG, HARP)
