"""Strings that are only watched: heard again before they cost a spare, an order or a change."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from made_up_plan import (
    ALL_ON,
    BAG,
    CONCERT,
    HARP,
    LAST_TIMES,
    TODAY,
    coming,
    reminders_of,
    settling,
    situation,
    spare,
    tasks_of,
    took,
    verdict,
    with_bag_but,
)

from toneprobe.condition.next_steps import (
    BETWEEN_NOTCHES_STEP,
    OTHER_STRING_STEP,
    SINKING_STEP,
    WATCH_STEP,
    fell_step,
    slipping_step,
    unsteady_step,
)
from toneprobe.planning import make_plan

LITTLE = "Rings 22 % shorter than fresh (± 16). That is little more than its plucks differ by."
USUAL_STEP = WATCH_STEP


def watched(name, reason=LITTLE, step=USUAL_STEP, **fields):
    said = {name: replace(verdict(name, "watch", reason), next_step=step.text, step_kind=step.kind)}
    return situation(conditions={s.name: verdict(s.name, "sound") for s in HARP.strings} | said, **fields)


def test_a_watched_string_is_plucked_again_before_its_change_is_thought_of():
    """Derived here: the day before it would be changed, at best two weeks before 1 July and a week before at the latest."""
    task, = make_plan(watched("3C")).tasks
    assert (task.kind, task.best_by, task.do_by, task.is_late) == ("consider", date(2024, 6, 16), date(2024, 6, 23), False)
    assert task.action == "pluck 3C (C♭5, gut) again, three times, with the neighbours damped, and give it to 'toneprobe sweep'"
    assert task.reason == ("watch: rings 22 % shorter than fresh (± 16). That is little more than its plucks differ by. If the new plucks "
                           "say so too, change it by 24 June 2024: usually settled within 7 days")


@pytest.mark.parametrize("step", [USUAL_STEP, SINKING_STEP], ids=["usual", "sinks"])
def test_a_suspicion_that_asks_for_plucks_asks_so_in_the_plan(step):
    assert make_plan(watched("3C", step=step)).tasks[0].action.startswith("pluck 3C (C♭5, gut) again, three times")


@pytest.mark.parametrize(("fields", "words"), [
    (dict(today=date(2024, 6, 26)), "It is too late to change it for this day"),  # gut a week before at the latest
    (dict(spares=with_bag_but("3C", extra=[took("3C", 25)])),
     "There is no spare: ordered today one arrives about 26 June 2024, and it would have to be on by 24 June 2024"),
])
def test_it_is_never_too_late_for_what_is_only_watched(fields, words):
    """Nor does its calendar entry say so, and no more is ordered than the one that the bag lacks."""
    plan = make_plan(watched("3C", **fields))
    task, = tasks_of(plan, "consider")
    assert plan.late == () and task.do_by == fields.get("today", TODAY) and task.reason.endswith(f"differ by. {words}")
    assert task.instead == "leave it on for this engagement; if the new plucks say so too, change it after the engagement"
    summaries = [str(entry["SUMMARY"]) for entry in reminders_of(plan)]
    assert f"harp: {task.action}" in summaries and not any("too late" in text for text in summaries)
    assert not any("×" in task.action for task in plan.tasks)


def test_in_the_last_week_no_wire_is_changed_on_a_suspicion():
    """A wire settles in two days, but so close to the day even a dead one is changed only of need (common practice)."""
    task, = tasks_of(make_plan(watched("6C", today=date(2024, 6, 26))), "consider")
    assert "too late to change it" in task.reason and task.instead.startswith("leave it on")


def test_the_spare_of_a_watched_string_is_there_by_the_day_on_which_it_would_be_changed():
    """3C by 17 June, ordered ten days before; 2C, which is sound, when the bag is packed on 30 June, ten days after the order: both go out
    on one day, the earlier. Without the spare on its way the page says to have one ready."""
    ten = [took(name, 10) for name in ("3C", "2C")]
    plan = make_plan(watched("3C", spares=with_bag_but("3C", "2C", extra=ten)))
    orders = {task.strings: (task.do_by, task.reason.partition(";")[0]) for task in tasks_of(plan, "stock")}
    assert orders == {("3C",): (date(2024, 6, 7), "no spare, and it is on the watch list"), ("2C",): (date(2024, 6, 7), "no spare")}
    assert tasks_of(plan, "consider")[0].reason.endswith("have a spare ready, there is none")
    coming_ = make_plan(watched("3C", spares=with_bag_but("3C", extra=[coming("3C", date(2024, 5, 30))])))
    assert not tasks_of(coming_, "stock") and "the new one is on the way, expected about 20 June 2024" in coming_.tasks[0].reason


@pytest.mark.parametrize("step", [unsteady_step(), slipping_step(), BETWEEN_NOTCHES_STEP, OTHER_STRING_STEP],
                         ids=["wanders", "slips", "between notches", "another string"])
def test_a_watched_string_whose_own_step_is_another_is_not_for_changing(step):
    """What is held badly, or may not be the string of the log: the sweep says to look first, and so does the plan."""
    task, = make_plan(watched("3C", "Its pitch wanders.", step)).tasks
    assert task.action == "look at 3C (C♭5, gut) before anything else" and task.do_by == TODAY
    assert task.instead == step.text
    assert "change" not in task.reason


def test_a_sound_string_that_fell_alone_is_tuned_now_and_no_spare_is_asked_for():
    """Whether it holds is seen in the days before."""
    found = watched("3C", "Its pitch lies 79 cents below the others: tune it.", fell_step())
    found = replace(found, conditions={name: replace(one, verdict="sound") for name, one in found.conditions.items()})
    task, = make_plan(found).tasks
    assert (task.kind, task.do_by, task.strings, task.instead) == ("consider", TODAY, ("3C",), fell_step().text)
    assert task.action == "tune 3C (C♭5) and see whether it holds" and task.reason.startswith("its pitch fell alone")
    assert not make_plan(replace(found, fittings=tuple(one for one in found.fittings if one.string != "3C"))).tasks


def test_a_spare_at_hand_waits_for_no_order():
    """On 16 June nothing ordered comes by the 17th, but the spare is there."""
    change, = tasks_of(make_plan(situation(bad=[("3C", "dead")], today=date(2024, 6, 16))), "change")
    assert change.best_by == date(2024, 6, 17)


def test_no_spare_and_none_arrives_in_time():
    slow = [took("3C", 25)]
    dead, = tasks_of(make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=slow))), "change")
    assert dead.is_late and dead.do_by == TODAY and "arrives about 26 June 2024" in dead.reason and "on by 24 June 2024" in dead.reason
    assert dead.instead.startswith("leave it on")
    plan = make_plan(situation(bad=[("3C", "false")], spares=with_bag_but("3C", extra=slow)))
    assert tasks_of(plan, "change")[0].instead.startswith("put the spare 3D on as a stand-in by 24 June 2024")
    stock, = tasks_of(plan, "stock")
    assert "2 × 3C" in stock.action and stock.do_by == TODAY + timedelta(days=4)  # one for the bag by 30 June, one to put on afterwards


def test_a_change_that_an_order_of_assumed_length_rules_out_is_asked_of_the_shop():
    """Common practice: an order takes from a day to weeks. Nobody asks before a string that is to be checked first, on the last day, or in
    the last week; nor where the owner's orders tell how long they take."""
    def told(today=date(2024, 6, 10), name="3C", **fields):
        bag = with_bag_but(name, extra=fields.pop("extra", ()))
        task, = tasks_of(make_plan(situation(bad=[(name, "dead")], spares=bag, today=today, **fields)), "change")
        return task

    asked = told()
    assert asked.is_late and asked.reason.endswith("it must be on by 24 June 2024; an order is assumed to take 21 days")
    assert asked.instead.startswith("ask the shop whether it can come by then; if not, leave it on")
    known = told(extra=[took("3C", 20)])
    assert "an order takes 20 days" in known.reason
    for one in (known, told(unconfirmed=frozenset({"3C"})), told(today=date(2024, 6, 24)), told(today=date(2024, 6, 26), name="6C")):
        assert one.is_late and one.instead.startswith("leave it on")


def test_no_spare_serves_two_strings():
    def offers(bad, without):
        slow = [took(name, 25) for name in without]
        plan = make_plan(situation(bad=[(name, "false") for name in bad], spares=with_bag_but(*without, extra=slow)))
        return {task.strings[0]: task.instead for task in tasks_of(plan, "change")}

    assert "the spare 3D" not in offers(["3C", "3D"], ["3C"])["3C"]  # its own place takes it
    alone = [offers([name], ["3C", "3B"])[name] for name in ("3C", "3B")]
    assert all("put the spare 3D on as a stand-in" in instead for instead in alone)  # the next above that is there
    together = offers(["3C", "3B"], ["3C", "3B"])
    assert sum("put the spare 3D on" in instead for instead in together.values()) == 1


def test_too_late_is_said_plainly_with_what_to_do_instead():
    plan = make_plan(situation(bad=[("3C", "dead"), ("3D", "false"), ("6C", "dead")], today=date(2024, 6, 26)))
    by_string = {task.strings[0]: task for task in plan.tasks if task.kind == "change"}
    assert by_string["3C"].is_late and "too late since 25 June 2024" in by_string["3C"].reason
    assert by_string["3C"].instead.startswith("leave it on") and by_string["3C"].instead.endswith("change it after the engagement")
    last = make_plan(situation(bad=[("3C", "dead")], today=date(2024, 6, 24)))  # a week before: the last day in time
    assert not tasks_of(last, "change")[0].is_late
    assert "put the new one on today" in by_string["3D"].instead
    assert not by_string["6C"].is_late and by_string["6C"].do_by == date(2024, 6, 29)  # a wire still has time


def test_a_change_that_is_too_late_spends_no_spare():
    """Left on until 2 July, the strings keep their spares in the bag: the set is full, and only what is put on then is to be ordered.

    Derived here: of 10 days on the way and ordered on 26 June, it comes on 6 July, which is no matter before the engagement.
    """
    noted = [replace(spare(name), lead_time_days=10) for name in ("3C", "3D")]
    late = situation(bad=[("3C", "dead"), ("3D", "false")], today=date(2024, 6, 26), spares=with_bag_but("3C", "3D", extra=noted))
    plan = make_plan(late)
    assert all(task.is_late for task in tasks_of(plan, "change"))
    stock, = tasks_of(plan, "stock")
    assert (stock.strings, stock.is_late, stock.instead) == (("3D", "3C"), False, "")
    assert "the change is for after the engagement" in stock.reason and "is put on" not in stock.reason
    two = make_plan(replace(late, spares=(*BAG, spare("3C"), spare("3D"))))
    assert not tasks_of(two, "stock")  # one to keep, one to put on afterwards


def test_what_is_put_on_after_the_engagement_is_wanted_after_it_on_its_very_day_too():
    """On the day itself the bag has its 3C, which stays there; the one ordered to follow it is for afterwards, so nothing is late."""
    plan = make_plan(situation(bad=[("3C", "dead")], today=CONCERT, spares=with_bag_but("3C", extra=[spare("3C", lead_time_days=10)])))
    stock, = tasks_of(plan, "stock")
    assert (stock.strings, stock.is_late, stock.instead) == (("3C",), False, "")


def test_the_spare_of_a_string_left_on_stands_in_and_that_of_a_false_one_does_not():
    """3D broke and has no spare; E serves for D (common practice). A false 3E that can't be borne takes its spare itself."""
    off = tuple(replace(f, removed_on=date(2024, 6, 26), why_removed="broke") if f.string == "3D" else f for f in ALL_ON)

    def told(word):
        plan = make_plan(situation(bad=[("3E", word)], fittings=off, today=date(2024, 6, 26), spares=with_bag_but("3D")))
        return next(task.instead for task in tasks_of(plan, "change") if task.strings == ("3D",))

    assert "put the spare 3E on today" in told("dead") and "put the spare 3E on" not in told("false")


def test_a_stand_in_is_shown_until_it_is_replaced():
    on = tuple(replace(f, is_stand_in=True, fitted_on=date(2024, 5, 20)) if f.string == "4G" else f for f in ALL_ON)
    plan = make_plan(situation(fittings=on))
    assert plan.notes == (*LAST_TIMES, "stand-ins still on: 4G")
    change, = tasks_of(plan, "change")
    assert change.strings == ("4G",) and change.do_by == date(2024, 6, 24)
    late = make_plan(situation(fittings=on, today=date(2024, 6, 30)))
    assert "leave the stand-in on" in tasks_of(late, "change")[0].instead


@pytest.mark.parametrize("today, checked, do_by", [
    (date(2024, 6, 25), False, date(2024, 6, 27)),  # gut put on on 20 June: a week (common practice)
    (date(2024, 6, 25), True, date(2024, 6, 30)),  # by its checks
    (date(2024, 6, 24), False, None),  # the last day for the right string
])
def test_a_stand_in_that_stays_on_is_checked_as_a_new_string(today, checked, do_by):
    on = tuple(replace(f, is_stand_in=True, fitted_on=date(2024, 6, 20), material="gut") if f.string == "4G" else f for f in ALL_ON)
    found = {"4G": settling("4G", early=26, likely=27, late=30)} if checked else {}
    tasks = tasks_of(make_plan(situation(fittings=on, today=today, settling=found)), "settling")
    assert [(task.strings, task.do_by, task.daily_from) for task in tasks] == ([(("4G",), do_by, today)] if do_by else [])


def test_an_empty_position_is_filled_today():
    off = tuple(replace(f, removed_on=TODAY, why_removed="broke") if f.string == "2A" else f for f in ALL_ON)
    fill, = tasks_of(make_plan(situation(fittings=off)), "change")
    assert fill.do_by == TODAY and fill.action.startswith("put on 2A") and not fill.is_late
    eve = date(2024, 6, 30)
    late, = tasks_of(make_plan(situation(fittings=off, today=eve)), "change")
    assert late.is_late and late.instead.startswith("put it on all the same")
    nothing = make_plan(situation(fittings=off, today=eve, spares=with_bag_but("2A")))
    assert tasks_of(nothing, "change")[0].instead.startswith("put the spare 2B on today as a stand-in")
    bare = make_plan(situation(fittings=off, today=eve, spares=()))
    assert "ask a colleague" in tasks_of(bare, "change")[0].instead


def test_the_spare_put_on_an_empty_place_in_the_last_days_is_made_up_for_by_one():
    """Late as it is, it goes on all the same: the bag then lacks one 2A, not that and another to put on afterwards."""
    off = tuple(replace(f, removed_on=TODAY, why_removed="broke") if f.string == "2A" else f for f in ALL_ON)
    stock, = tasks_of(make_plan(situation(fittings=off, today=date(2024, 6, 30))), "stock")
    assert stock.action == "order for the bag: 2A" and stock.reason.startswith("its spare is put on; ")


def test_the_spare_for_an_empty_place_need_be_good_today_alone():
    """Gut bought on 11 June 2023 is at its best for 365 days, until 10 June 2024: put on today, on 1 June, it is as good as any, though on
    the 24th, the last sensible day of a change, it would be past that."""
    off = tuple(replace(f, removed_on=TODAY, why_removed="broke") if f.string == "3C" else f for f in ALL_ON)
    own = spare("3C", bought_on=date(2023, 6, 11))
    plan = make_plan(situation(fittings=off, spares=with_bag_but("3C", extra=[own])))
    fill, = tasks_of(plan, "change")
    assert fill.action.startswith("put on 3C") and "best" not in fill.reason and tasks_of(plan, "order") == []
    dead = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[own])))  # one that is changed later is not
    assert "only spare passes its best on 10 June 2024" in tasks_of(dead, "order")[0].reason


def test_a_string_whose_own_spare_is_there_takes_no_stand_in_from_another():
    """3C and 3B broke. 3C has its own spare; 3D, two above 3B, can stand in there (set here: up to two above)."""
    off = tuple(replace(f, removed_on=date(2024, 6, 26), why_removed="broke") if f.string in ("3C", "3B") else f for f in ALL_ON)
    plan = make_plan(situation(fittings=off, spares=(spare("3C"), spare("3D")), today=date(2024, 6, 26)))
    assert "put the spare 3D on today" in next(task.instead for task in tasks_of(plan, "change") if task.strings == ("3B",))


def test_the_most_pressing_need_gets_the_only_spare_that_serves():
    bag = with_bag_but("3A", "3B", "3C", "3D")
    off = tuple(replace(f, removed_on=TODAY, why_removed="broke") if f.string == "3A" else f for f in ALL_ON)
    plan = make_plan(situation(bad=[("3G", "watch")], fittings=off, spares=(*bag, spare("3A"))))
    assert next(t for t in tasks_of(plan, "change") if t.strings == ("3A",)).do_by == TODAY
    assert "3A" in {name for task in tasks_of(plan, "stock") for name in task.strings}


def test_many_changes_at_once_are_a_matter_of_their_own():
    bad = [(s.name, "dead") for s in HARP.strings[10:18]]
    assert any(note.startswith("8 strings to change") for note in make_plan(situation(bad=bad)).notes)
    octave = make_plan(situation(bad=bad[:7]))  # seven letters: one octave at a time is common practice, so no more is said of it
    assert octave.notes == LAST_TIMES and len(tasks_of(octave, "change")) == 7
