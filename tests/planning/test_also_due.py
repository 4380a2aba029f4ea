"""What else is due: strings that settle or wait for their baseline, the last sweep, the technician."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from made_up_plan import (
    ALL_ON,
    CONCERT,
    HARP,
    LAST_TIMES,
    STALE,
    TODAY,
    heard,
    reminders_of,
    settling,
    situation,
    spare,
    tasks_of,
    took,
    verdict,
    with_bag_but,
)

from toneprobe.condition.next_steps import FELL_ALONE
from toneprobe.planning import Situation, checked_together, make_plan
from toneprobe.practice import Habits


def test_new_strings_that_wait_for_their_baseline_are_swept_for_it_at_once():
    """3C and 2E have had their time; 6C, a wire, was heard on 30 May alone and wants a second day, a few days (3) on: 2 June. By hand."""
    lone = "so far only a sweep of 30 May 2024 heard it, so sweep it on another day too: a new wire starts too bright"
    log = [replace(one, fitted_on=date(2024, 5, 20)) if one.string in ("2E", "3C", "6C") else one for one in ALL_ON]
    plan = make_plan(situation(fittings=tuple(log), bare={"2E": "", "3C": "", "6C": lone},
                               heard_on=heard(date(2024, 5, 28)) | {"6C": date(2024, 5, 30)}))
    fresh, again = tasks_of(plan, "sweep")
    assert fresh.action.endswith("to 'toneprobe sweep' with --fresh-for 2E,3C") and fresh.do_by == TODAY
    assert again.strings == ("6C",) and again.do_by == date(2024, 6, 2) and lone in again.reason
    assert sum("--fresh-for" in str(one["SUMMARY"]) or "sweep 6C" in str(one["SUMMARY"]) for one in reminders_of(plan)) == 2
    first = make_plan(situation(heard_on={}, bare={"3C": ""}))
    assert not any("--fresh-for" in task.action for task in first.tasks)  # the first fresh sweep is of all


@pytest.mark.parametrize("on, words", [
    (date(2024, 7, 1), ": in time"), (date(2024, 6, 10), ": it may not have settled by the day"),
    (date(2024, 6, 7), ": it will not have settled by the day"),
])
def test_strings_still_settling(on, words):
    """Likely settled on 8 June, at the latest on the 12th. To bring a new string up again and again is what lets it settle (common
    practice), so that is never too late."""
    plan = make_plan(situation(on=on, settling={"3C": settling("3C")}))
    task, = tasks_of(plan, "settling")
    assert not task.is_late and task.reason.endswith(words) and "6 June 2024 at the earliest, 12 June 2024 at the latest" in task.reason
    assert task.do_by == min(date(2024, 6, 12), on) and task.daily_from == TODAY
    assert ("tune it up" in task.action, "tune it up as often as you can" in task.instead) == ((words != ": in time",) * 2)


def test_checks_alike_but_for_their_string_are_told_as_one_and_kept_one_by_one():
    """Counted by hand: five gut strings of one day are one block, a gut string of another day and a wire stand alone."""
    day = {"3E": 29, "3D": 29, "3C": 29, "3F": 29, "4C": 29, "4G": 30, "6D": 31}
    new = tuple(replace(f, fitted_on=date(2024, 5, day[f.string])) if f.string in day else f for f in ALL_ON)
    plan = make_plan(situation(fittings=new))
    assert sorted(task.strings for task in tasks_of(plan, "settling")) == sorted((name,) for name in day)  # JSON and the calendar
    told = checked_together(plan)
    assert [task.strings for task in tasks_of(told, "settling")] == [("3E", "3D", "3C", "3F", "4C"), ("4G",), ("6D",)]
    first, *single = tasks_of(told, "settling")
    assert first.action == "check each of 3E, 3D, 3C, 3F and 4C daily, before you tune it and after"
    assert first.reason.startswith("put on 29 May 2024 and not checked yet") and first.do_by == date(2024, 6, 5)  # gut: within 7 days
    assert single == tasks_of(plan, "settling")[5:]
    assert [task for task in told.tasks if not task.check] == [task for task in plan.tasks if not task.check]


def test_a_slipping_string_goes_to_the_technician():
    task, = tasks_of(make_plan(situation(settling={"3C": settling("3C", "slipping", None)})), "technician")
    assert task.do_by == date(2024, 6, 24) and "pin" in task.action


def test_settled_strings_need_nothing_and_unchecked_ones_are_reckoned_by_what_is_usual():
    new = tuple(replace(f, fitted_on=date(2024, 5, 30)) if f.string in ("3C", "6C") else f for f in ALL_ON)
    plan = make_plan(situation(fittings=new, settling={"3C": settling("3C", "settled")}))
    assert tasks_of(plan, "settling")[0].strings == ("6C",) and len(tasks_of(plan, "settling")) == 1
    assert tasks_of(plan, "settling")[0].do_by == date(2024, 6, 1)  # a wire: two days
    soon = make_plan(situation(fittings=new, on=date(2024, 6, 3)))
    gut = next(task for task in tasks_of(soon, "settling") if task.strings == ("3C",))
    assert not gut.is_late and "not checked yet" in gut.reason and "at every pause" in gut.instead  # a week: until 6 June
    assert gut.action == "check 3C daily and tune it up" and gut.reason.endswith("it will not have settled by the day")
    eve = next(task for task in tasks_of(make_plan(situation(fittings=new, on=TODAY)), "settling") if task.strings == ("3C",))
    assert eve.instead == "tune it at every pause and expect it to fall"  # on the day itself


@pytest.mark.parametrize(("fitted", "settled", "is_asked"), [
    (date(2023, 1, 1), {}, False),  # a year and a half old: nobody need check it daily
    (date(2024, 5, 24), {}, False),  # gut settles in 7 days at the most (common practice): done yesterday
    (date(2024, 5, 25), {}, True),  # today
    (date(2024, 5, 29), {}, True),
    (date(2024, 5, 29), {1: date(2024, 5, 31)}, False),  # it has settled
])
def test_only_a_string_that_may_still_settle_is_to_be_checked(fitted, settled, is_asked):
    on = tuple(replace(one, id=1, fitted_on=fitted) if one.string == "4G" else replace(one, id=one.id + 100) for one in ALL_ON)
    assert [task.strings for task in tasks_of(make_plan(situation(fittings=on, settled_days=settled)), "settling")] == [("4G",)] * is_asked


def test_a_string_called_by_a_number_is_said_to_be_a_string():
    """ "check 3 daily" would be read as a count. A guitar's strings; the third fell alone, the fourth is new and nobody checked it."""
    names = ("1", "2", "3", "4")
    guitar = replace(HARP, strings=tuple(replace(spec, name=name) for spec, name in zip(HARP.strings, names, strict=False)))
    log = tuple(replace(one, string=name, fitted_on=date(2024, 5, 30) if name == "4" else None)
                for one, name in zip(ALL_ON, names, strict=False))
    fell = replace(verdict("3", "sound"), step_kind=FELL_ALONE, next_step="Tune it.")
    plan = make_plan(Situation(guitar, TODAY, CONCERT, log, {"3": fell}, heard_on=heard(date(2024, 5, 28), names)))
    assert [task.action.split(" (")[0] for task in plan.tasks if task.kind in ("consider", "settling")] == [
        "tune string 3", "check string 4 daily, before you tune it and after"]


def test_of_the_day_itself_no_days_are_said_to_be_left():
    (task,) = tasks_of(make_plan(situation(bad=[("4A", "dead")], today=CONCERT)), "change")
    assert task.is_late and task.reason.endswith("usually settled within 7 days")


@pytest.mark.parametrize("days_left, words", [(2, "so put on today it has settled in time"), (6, "so put on by 29 June 2024 it has")])
def test_in_the_last_week_a_wire_is_changed_only_of_need(days_left, words):
    """A wire settles in a day or two, gut in five to seven days (common practice): of two dead strings the wire's new one would be
    settled on 1 July, the gut's would not. The wire's spare lies at home and is past its best since 10 January 2024."""
    today = CONCERT - timedelta(days=days_left)
    bag = with_bag_but("6D", extra=[replace(STALE, place="home")])
    gut, wire = sorted(tasks_of(make_plan(situation(bad=[("6D", "dead"), ("4A", "dead")], today=today, spares=bag)), "change"),
                       key=lambda task: task.strings)
    assert gut.is_late and f"usually settled within 7 days, and {days_left} days are left" in gut.reason
    assert not wire.is_late and f"usually settled within 2 days, {words}" in wire.reason
    assert wire.action.endswith("only if it cannot be played as it is") and "leave it on" in wire.instead
    assert "its spare, which lies at home, not in the bag, has been past its best since 10 January 2024" in wire.reason


def test_a_week_before_a_wire_is_changed_as_ever_and_a_spare_at_home_is_told():
    bag = with_bag_but("6D", extra=[spare("6D", place="home")])
    change, = tasks_of(make_plan(situation(bad=[("6D", "dead")], today=date(2024, 6, 24), spares=bag)), "change")
    assert change.action == "change 6D (D♭2, wire)" and "its spare lies at home, not in the bag" in change.reason and not change.instead


def test_missing_spares_are_ordered_together_and_late_ones_name_a_neighbour():
    bag = with_bag_but("3C", "3D", "7C", extra=[took("7C", 40)])
    plan = make_plan(situation(spares=bag))
    tasks = {task.strings: task for task in tasks_of(plan, "stock")}
    assert set(tasks) == {("3D", "3C"), ("7C",)}
    assert tasks["3D", "3C"].do_by == date(2024, 6, 9) and "assumed to take 21 days" in tasks["3D", "3C"].reason
    wire = tasks["7C",]
    assert wire.is_late and wire.do_by == TODAY and "about 11 July 2024, after the engagement" in wire.reason
    assert wire.instead == "order it for afterwards; should one break, the spare 7D serves for 7C"


@pytest.mark.parametrize("on, lead_days, order_by, words", [
    # The sweep is asked for on 10 April, three weeks before; counted back from it on a calendar.
    (date(2025, 5, 1), 42, date(2025, 2, 27), ", so it is there for what the sweep finds"),
    # 1 June is later than 10 June less 14 days: it comes on 15 June, and gut may be put on until 24 June.
    (CONCERT, 14, TODAY, ", so it arrives about 15 June 2024: change what the sweep finds as soon as it is there"),
    # It comes on 27 June, three days after the last one for gut, two days before that for wires.
    (CONCERT, 26, TODAY, ", so it arrives about 27 June 2024: too late for 3C if the sweep of this plan finds one dead or false, which "
                         "then stays on until after the engagement"),
])
def test_the_bag_is_filled_before_the_sweep_s_finds_are_to_be_changed(on, lead_days, order_by, words):
    """Common practice, as the task of the sweep says: what it finds is changed two to three weeks before."""
    old = situation(on=on, heard_on=heard(date(2024, 4, 20)), spares=with_bag_but("3C", "6D"), habits=Habits(lead_time_days=lead_days))
    plan = make_plan(old if on == CONCERT else replace(old, today=date(2024, 11, 26), spares=()))
    stock, = tasks_of(plan, "stock")
    assert (stock.do_by, stock.is_late) == (order_by, False) and stock.reason.endswith(words)
    assert stock.do_by <= tasks_of(plan, "sweep")[0].do_by


def test_an_order_of_many_strings_names_them_once():
    """Nine gut strings and two wires are missing and come on 27 June, too late for the gut alone: it is told by what it is made of."""
    missing = ("2E", "2D", "2C", "2B", "2A", "2G", "2F", "3E", "3D", "6D", "6C")
    plan = make_plan(situation(heard_on=heard(date(2024, 4, 20)), spares=with_bag_but(*missing), habits=Habits(lead_time_days=26)))
    stock, = tasks_of(plan, "stock")
    assert stock.strings == missing and "2E" not in stock.reason and ": too late for gut strings if the sweep of this plan" in stock.reason


@pytest.mark.parametrize("lead_days, is_late, words", [(29, False, ""), (30, True, "on the day of the engagement itself"),
                                                       (31, True, "after the engagement")])
def test_what_comes_on_the_day_itself_comes_too_late_for_the_bag(lead_days, is_late, words):
    """Ordered on 1 June for 1 July; the bag is packed on 30 June."""
    lead = [took("7C", lead_days)]
    stock, = tasks_of(make_plan(situation(spares=with_bag_but("7C", extra=lead))), "stock")
    assert (stock.is_late, stock.do_by) == (is_late, TODAY) and words in stock.reason


def test_spares_at_home_are_packed_the_day_before():
    plan = make_plan(situation(spares=with_bag_but("3C", "3D", extra=[spare("3C", place="home"), spare("3D", place="home")])))
    task, = plan.tasks
    assert (task.kind, task.do_by, task.strings) == ("pack", date(2024, 6, 30), ("3D", "3C"))


def test_a_sweep_is_asked_for_while_there_is_time_to_act():
    old = make_plan(situation(heard_on=heard(date(2024, 4, 20))))
    assert (old.tasks[0].kind, old.tasks[0].do_by) == ("sweep", date(2024, 6, 10)) and "42 days ago" in old.tasks[0].reason
    late = make_plan(situation(heard_on=heard(date(2024, 4, 20)), today=date(2024, 6, 28)))
    sweep, = tasks_of(late, "sweep")
    assert sweep.is_late and sweep.do_by == date(2024, 6, 28) and "no longer" in sweep.instead


@pytest.mark.parametrize("on, days", [
    (CONCERT, [TODAY]),  # a fresh sweep of today is young enough for a concert in 30 days
    (date(2024, 7, 23), [TODAY]),  # on 2 July, three weeks before, it is 31 days old, a month: none is asked for
    (date(2024, 7, 24), [TODAY, date(2024, 7, 3)]),  # a day more
    (date(2024, 6, 3), [TODAY]),
])
def test_a_book_without_a_sweep_wants_a_fresh_one_first(on, days):
    """What is worn is told against a fresh sweep alone, so the first of all finds nothing: it is made at once, and is never too late.
    Derived here: a sweep is made each 31 days, and what it finds is changed from three weeks before on (common practice)."""
    plan = make_plan(situation(heard_on={}, conditions={}, on=on, spares=()))
    sweeps = tasks_of(plan, "sweep")
    assert [task.do_by for task in sweeps] == days and not any(task.is_late for task in sweeps)
    first = sweeps[0]
    assert "with --fresh" in first.action and first.reason.startswith("no sweep is in the book: ") and "finds" not in first.reason
    finds = ["what it finds is best changed two to three weeks before" in task.reason for task in sweeps]
    assert finds == [day != TODAY for day in days]  # one of today finds nothing, and what a later one finds it says
    assert any(task.reason.endswith("for what the sweep finds") for task in tasks_of(plan, "stock")) is (len(days) == 2)
    assert any("no verdicts yet" in note for note in plan.notes)
    entries = reminders_of(plan)
    assert len({str(entry["UID"]) for entry in entries}) == len(entries)


def test_a_harp_without_a_baseline_is_asked_for_no_sweep_that_can_find_nothing():
    """Bought second-hand and swept 42 days ago: no baseline, no score (rule 4 of the design), so nothing is timed by what a sweep finds.
    A baseline is of strings that are new and settled; the README lets old ones be a reference, but no plan asks."""
    unrated = {spec.name: verdict(spec.name, "unrated") for spec in HARP.strings}
    bare = situation(heard_on=heard(date(2024, 4, 20)), conditions=unrated, fresh_on={}, spares=())
    plan = make_plan(bare)
    assert tasks_of(plan, "sweep") == [] and tasks_of(plan, "stock") and not any("sweep" in task.reason for task in plan.tasks)
    note = plan.notes[-1]
    assert note.startswith("without one, another sweep can find nothing; once new strings have settled") and "an old string gets" in note
    some = make_plan(replace(bare, fresh_on={"3C": date(2024, 4, 20)}))
    assert tasks_of(some, "sweep") and not some.notes[-1].startswith("without one")


def test_a_sweep_of_the_day_itself_is_of_that_day():
    plan = make_plan(situation(heard_on=heard(TODAY), on=date(2024, 12, 1)))
    assert plan.notes[0] == "the last sweep was on 1 June 2024, the day of this page"
    assert tasks_of(plan, "sweep")[0].reason.startswith("the last one was on 1 June 2024, today; ")


@pytest.mark.parametrize("today, words", [
    (date(2024, 6, 17), "what it finds is best changed two to three weeks before"),  # two weeks before
    (date(2024, 6, 22), "of what it finds, nylon and gut can still be changed until 24 June 2024, wire until 29 June 2024"),
    (date(2024, 6, 26), "nylon and gut can no longer be changed in time, wire can still be changed until 29 June 2024"),
    (date(2024, 6, 30), "nylon, gut and wire can no longer be changed in time"),
])
def test_with_few_days_left_the_sweep_says_what_can_still_be_changed(today, words):
    """Gut and nylon a week before at the latest, wires two days (common practice)."""
    sweep, = tasks_of(make_plan(situation(heard_on=heard(date(2024, 4, 20)), today=today)), "sweep")
    assert (sweep.instead if sweep.is_late else sweep.reason).endswith(words)
    assert "three weeks" in sweep.reason or today > date(2024, 6, 17)


def test_a_few_strings_plucked_again_are_no_sweep_of_the_harp():
    """40 days after the sweep of 22 April four of the 47 were plucked again: 43 keep their day, counted by hand."""
    plan = make_plan(situation(heard_on=heard(date(2024, 4, 22)) | heard(date(2024, 5, 30), ("4E", "4D", "4C", "4B"))))
    sweep, = tasks_of(plan, "sweep")
    assert sweep.do_by == date(2024, 6, 10)
    assert sweep.reason.startswith("only 4 of 47 strings have been heard since 22 April 2024, 40 days ago; ")
    assert plan.notes[0] == ("the last sweep was on 30 May 2024, 2 days before this page, and heard 4 of 47 strings: "
                             "43 were last heard on 22 April 2024")


def test_what_was_heard_of_the_string_before_it_tells_nothing_of_a_new_one():
    """3C was swept in April and changed in May; four other strings were plucked after that. Derived here: nobody has heard it."""
    days = heard(date(2024, 4, 22)) | heard(date(2024, 5, 30), ("4E", "4D", "4C", "4B"))
    new = tuple(replace(one, fitted_on=date(2024, 5, 20)) if one.string == "3C" and one.removed_on is None else one for one in ALL_ON)
    note = make_plan(situation(heard_on=days, fittings=new)).notes[0]
    assert note.endswith("heard 4 of 47 strings: 42 were last heard on 22 April 2024, 3C never")


def test_a_harp_swept_in_two_halves_was_swept():
    names = [spec.name for spec in HARP.strings]
    halves = heard(date(2024, 5, 27), names[:30]) | heard(date(2024, 5, 28), names[30:])
    assert tasks_of(make_plan(situation(heard_on=halves)), "sweep") == []
    never = heard(date(2024, 5, 28), names[3:])
    assert make_plan(situation(heard_on=never)).notes[0].endswith("heard 44 of 47 strings: 0G, 0F and 1E were never heard")
    half, = tasks_of(make_plan(situation(heard_on=heard(date(2024, 5, 28), names[:30]))), "sweep")
    assert half.reason.startswith("only 30 of 47 strings have ever been heard; ")


def test_a_plan_says_of_how_many_strings_nothing_is_known():
    """Of 47 swept strings none has a fresh baseline; then 44 are sound; then the last sweep is the baseline of all."""
    unrated = {name: verdict(name, "unrated") for name in heard(TODAY)}
    plan = make_plan(situation(conditions=unrated))
    assert len(plan.unjudged) == 47
    assert plan.notes[len(LAST_TIMES)] == "no verdict on 47 of 47 strings, whether dead or false is not known: without a fresh baseline"
    assert "--fresh" in plan.notes[-1]
    some = make_plan(situation(bad=[("3C", "unheard"), ("4C", "unsure"), ("3D", "settling")]))
    assert some.unjudged == ("3C", "4C")  # a string that settles is no open question
    assert some.notes[-1] == "no verdict on 3C and 4C, whether dead or false is not known: 3C not heard, 4C not heard well enough"
    fresh = make_plan(situation(conditions=unrated, recorded_fresh=frozenset(unrated)))
    assert fresh.unjudged == () and fresh.notes == LAST_TIMES


def test_regulation_that_falls_due():
    due = make_plan(situation(last_regulation_on=date(2023, 6, 10)))
    assert (due.tasks[0].kind, due.tasks[0].do_by) == ("regulation", date(2024, 6, 9))  # 365 days after, 2024 being a leap year
    late = make_plan(situation(last_regulation_on=date(2023, 1, 1), today=date(2024, 6, 28)))
    assert tasks_of(late, "regulation")[0].is_late
    assert make_plan(situation(last_regulation_on=None)).notes == (
        LAST_TIMES[0], "no regulation is noted: a technician's visit once a year is usual")
