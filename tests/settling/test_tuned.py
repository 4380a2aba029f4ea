"""A string that was tuned between two checks without a reading as left, and what is said of the last move. All values derived here."""

import math
from datetime import date, datetime, timedelta

import pytest
from sounds.heard_pitch import heard

from toneprobe.settling import PitchReading, judge_settling, usual_prior
from toneprobe.settling.intervals import gather
from toneprobe.settling.readings import retunings

NOON = datetime(2026, 6, 10, 12)
PUT_ON = NOON.date()
GUT = usual_prior("gut", cents_per_day=1.0)


def check(day, found=None, left=None, name="3D", note="D5"):
    figures = [None if cents is None else heard(cents, 0.35) for cents in (found, left)]
    return PitchReading(name, note, NOON + timedelta(days=day), *figures)


def still(days):
    return {name: [check(day, 0.0, name=name) for day in days] for name in ("3C", "3E", "3F")}


def judged(*checks, fitted_on=PUT_ON):
    return judge_settling(checks, fitted_on=fitted_on, neighbours=still([(one.at - NOON) / timedelta(days=1) for one in checks]), prior=GUT)


def evidence(*checks, fitted_on=PUT_ON):
    return gather(checks, fitted_on, still([(one.at - NOON) / timedelta(days=1) for one in checks]), GUT)


# --- tuned without a reading as left

def test_a_rise_by_the_pin_is_no_creep():
    """180 cents flat, tuned as the program asks, found 45 flat a day later: what it fell since is not known."""
    alone, found = judged(check(0, -180.0)), judged(check(0, -180.0), check(0.92, -45.0, left=0.0))
    said = " ".join(found.reasons)
    assert "found 135 cents higher on 11 June 2026 at 10:04 than on 10 June 2026 at 12:00: it was tuned in between" in said
    assert "rises" not in said and "rose" not in said and "e+" not in said
    assert (found.state, found.n_intervals, found.rate_cents_per_day.known) == ("settling", 0, False)
    assert found.settled.early > PUT_ON  # before, all three were the day it went on
    assert found.settled.likely >= alone.settled.likely  # of its creep nothing new is known, and a tuning starts it again


def test_the_rise_starts_the_stretch_again():
    told = evidence(check(0, -180.0), check(1, -45.0, left=0.0))
    assert [(round(day, 2), round(cents)) for day, cents in told.steps] == [(0.0, 135), (1.0, 45)]
    quiet = [gather(checks, PUT_ON, still((0, 1)), GUT).until(0).quiet_from_days(3.0, 3.0)[1]
             for checks in ([check(0, -180.0), check(1, -45.0)], [check(0, -180.0)])]
    assert quiet[0] > quiet[1]


def test_it_is_settled_only_by_two_intervals_after_the_tuning():
    before = [check(0, left=0.0), *(check(day, -3.0 * math.log1p(day / 0.01)) for day in (1, 2, 3, 4, 5, 6))]
    pulled = [check(7, 8.0), check(8, 7.9), check(9, 7.8)]  # from −19.7 to 8 without a reading as left
    assert judged(*before).state == "settled"
    assert judged(*before, *pulled[:1]).state == judged(*before, *pulled[:2]).state == "settling"
    assert "since it was last tuned up" in judged(*before, *pulled[:1]).reasons[0]
    settled = judged(*before, *pulled)
    assert settled.state == "settled" and not any("tuned in between" in line for line in settled.reasons)
    assert settled.jumped_on == ()


def test_tuned_every_day_and_never_read_as_left_is_not_settled():
    """Found 40, 30, 20 and 10 cents flat: four falls that nobody measured. Read as a rise they would be a string at rest."""
    found = judged(*(check(day, cents) for day, cents in ((1, -40.0), (2, -30.0), (3, -20.0), (4, -10.0))))
    assert found.state == "settling" and found.settled.early == PUT_ON + timedelta(days=4) and found.n_intervals == 0


@pytest.mark.parametrize(("cents", "left", "is_tuned"), [
    (-36.0, None, True), (-37.0, -37.0, False), (-20.0, -37.0, True), (-38.0, None, False), (-50.0, None, False),
])
def test_how_far_it_must_rise(cents, left, is_tuned):
    """From 42 cents flat, or from 37 where it was tuned: a new string's rise of 5 cents, where it was read as left one of 15."""
    assert bool(evidence(check(0, -42.0, left=left), check(1, cents)).tuned) is is_tuned


def test_an_old_string_s_small_rise_is_kept_and_a_large_one_is_the_pin():
    days = (0, 30, 60, 90)
    slow = judged(*(check(day, 0.4 * day) for day in days), fitted_on=None)
    assert any("rises against its neighbours" in line for line in slow.reasons)
    brought_up = judged(check(0, -60.0), check(30, 0.0), check(60, 0.1), check(90, 0.0), fitted_on=None)
    assert brought_up.state == "settled" and not any("rises" in line for line in brought_up.reasons)


def test_an_old_string_that_was_brought_up_is_still_an_old_one():
    found = judged(check(0, -60.0), check(30, 0.0), fitted_on=date(2025, 6, 1))
    assert (found.state, found.settled) == ("unsure", None) and "too few to tell" in found.reasons[0]


def test_without_neighbours_weather_is_no_tuning():
    """A damp day may lift a string by ten cents; four times the 4 cents that weather may do, from memory, are 16."""
    checks = check(0, -10.0), check(1, 0.0)
    assert gather(checks, PUT_ON, {}, GUT).tuned == ()
    assert len(gather((check(0, -30.0), check(1, 0.0)), PUT_ON, {}, GUT).tuned) == 1


def test_a_reading_as_left_alone_tells_of_the_tuning_before_it():
    """Found 180 flat at noon, left in tune five minutes later, found 20 flat the next day: it fell 20, and was tuned up by 180."""
    checks = [check(0, -180.0), check(0.0035, left=0.0), check(1, -20.0)]
    assert [round(cents) for _, cents in retunings(checks)] == [180]
    found = judged(*checks)
    assert "it fell by 20.0 ± 0.6 cents against its neighbours" in " ".join(found.reasons)
    assert found.n_intervals == 1
    assert retunings([check(0, left=0.0)]) == ()  # just put on: nothing to count from


# --- what is said of the last move

def told(*checks, neighbours=None, fitted_on=PUT_ON):
    found = judge_settling(checks, fitted_on=fitted_on, neighbours=neighbours or {}, prior=GUT)
    return next(line for line in found.reasons if line.startswith("between")), found


def test_the_last_move_is_said_as_it_was():
    """Left at 0.0 and found at −8.5, while the neighbours rose by 1.26 and 0.88: 8.5 + 1.07 = 9.57.

    The day before it fell 19.9 + 0.77 = 20.67 from 0.77, the neighbours 0.39 down and 0.50 up: 20.7."""
    neighbours = {"3E": [check(1, -0.2, name="3E"), check(2, -0.59, name="3E"), check(3, 0.67, name="3E")],
                  "3C": [check(1, -0.1, name="3C"), check(2, 0.40, name="3C"), check(3, 1.28, name="3C")]}
    line, found = told(check(1, -45.0, 0.77), check(2, -19.9, 0.0), check(3, -8.5, 1.15), neighbours=neighbours)
    assert line.startswith("between the last checks it fell by 9.6 ± ")
    assert line.endswith("cents against its neighbours, from 12 June 2026, as left, to 13 June 2026, as found")
    assert -16.5 < found.rate_cents_per_day.value < -15.1  # the key's own: two intervals, (20.7 + 9.6)/2 or, weighed, a little more


def test_over_several_days_the_rate_is_said_and_the_move_that_it_comes_from():
    line, _ = told(check(0, left=0.0), check(1, -20.0, left=0.0), check(5, -10.0), neighbours=still((0, 1, 5)))
    assert line.startswith("between the last checks it fell by 2.5 cents a day against its neighbours: by 10.0 ± ")
    assert line.endswith("from 11 June 2026, as left, to 15 June 2026, as found")
    line, _ = told(check(0, 0.0), check(60, -1.2), check(120, -2.0), neighbours=still((0, 60, 120)), fitted_on=None)
    assert line.startswith("between the last checks it fell by less than 0.1 cents a day against its neighbours: by 0.8 ± ")


def test_where_the_pin_was_not_touched_it_was_as_found_both_times():
    line, _ = told(check(0, 0.0), check(1, -8.0), neighbours=still((0, 1)))
    assert line.endswith("from 10 June 2026 to 11 June 2026, as found both times")


def test_hours_apart_the_times_are_said_and_without_neighbours_they_are_not_named():
    line, _ = told(check(0, left=0.0), check(0.25, -30.0), neighbours=None)
    assert "against" not in line and "a day" not in line
    assert line.endswith("from 10 June 2026 at 12:00, as left, to 10 June 2026 at 18:00, as found")


def test_where_the_last_two_checks_cannot_be_compared_it_says_which():
    line, _ = told(check(0, left=0.0), check(1, -20.0), check(2, -25.0, note="Db5"))
    assert line.startswith("between earlier checks it fell by 20.0")


def test_a_move_that_fits_no_stretch_is_said_too():
    """Falls of A·ln t with A = 3 for a week, and then 25 cents in a day: 25 + 3·ln(8/7) = 25.4."""
    days = range(1, 8)
    falls = [check(day, -3.0 * math.log(day)) for day in days]
    _, found = told(*falls, check(8, -25.0 - 3.0 * math.log(8)), neighbours=still((*days, 8)))
    assert found.state == "unsure" and found.reasons[0] == (
        "between 17 June 2026 and 18 June 2026 it fell by 25 cents at once: a knot or the pin may have slipped; look at both")
    assert found.reasons[1].startswith("between the last checks it fell by 25.4 ± 0.6 cents against its neighbours")


@pytest.mark.parametrize("cents", [0.004, 150.0, 1500.0])
def test_never_in_powers_of_ten(cents):
    for checks in ((check(0, 0.0), check(1, -cents)), (check(0, 0.0), check(1, cents)), (check(0, 0.0), check(30, -cents))):
        for fitted_on in (PUT_ON, None, date(2026, 1, 1)):
            assert not any("e+" in line or "e-" in line for line in judged(*checks, fitted_on=fitted_on).reasons)
