"""Plans that a careful person would make by hand.

Common practice: gut and nylon a week before at the latest, better two to three weeks; wires two days; a full set travels with the harp.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest

from toneprobe.condition import Condition
from toneprobe.condition.next_steps import (
    FELL_ALONE,
    between_notches_step,
    fell_step,
    other_string_step,
    sinking_step,
    slipping_step,
    unsteady_step,
    watch_step,
)
from toneprobe.errors import UsageError
from toneprobe.fittings import Fitting
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.planning import Situation, checked_together, make_plan
from toneprobe.planning.bag import bare_note, order_together
from toneprobe.planning.deadlines import own_settle_days, settle_time
from toneprobe.planning.reminders import write_reminders
from toneprobe.planning.situation import Task
from toneprobe.practice import Habits
from toneprobe.settling import USUAL_TOLERANCE, DateRange, Settling
from toneprobe.spares import Spare, list_orders

HARP = load_instrument("pedal-47")
TODAY = date(2024, 6, 1)
CONCERT = date(2024, 7, 1)


def fitting(string, fitted=None, removed=None, number=0, **fields):
    return Fitting(number, 1, string, fitted, removed, **fields)


def verdict(string, word, reason="rings half as long as fresh"):
    return Condition(string, "", word, None, None, 3, (reason,), "", {}, {})


def spare(string, **fields):
    material = next(s.material for s in HARP.strings if s.name == string)
    return Spare(string, **({"material": material, "bought_on": date(2024, 5, 1)} | fields))


BAG = tuple(spare(s.name) for s in HARP.strings)
LAST_TIMES = ("the last sweep was on 28 May 2024, 4 days before this page",  # counted on a calendar, as the next line
              "the last regulation was on 1 March 2024, the next is due on 1 March 2025")
ALL_ON = tuple(fitting(s.name, number=k + 1) for k, s in enumerate(HARP.strings))


def heard(day, names=None):
    return dict.fromkeys(names or [s.name for s in HARP.strings], day)


def situation(*, bad=(), today=TODAY, on=CONCERT, **fields):
    usual = dict(fittings=ALL_ON, spares=BAG, heard_on=heard(date(2024, 5, 28)), last_regulation_on=date(2024, 3, 1),
                 conditions={s.name: verdict(s.name, "sound") for s in HARP.strings} | {name: verdict(name, word) for name, word in bad})
    return Situation(HARP, today, on, **(usual | fields))


def tasks_of(plan, kind):
    return [task for task in plan.tasks if task.kind == kind]


def with_bag_but(*names, extra=()):
    return tuple(one for one in BAG if one.string not in names) + tuple(extra)


# --- nothing to do

def test_a_harp_in_order_needs_nothing():
    plan = make_plan(situation())
    assert plan.tasks == () and plan.cautions == () and plan.notes == LAST_TIMES and plan.days_left == 30


def test_a_day_that_is_over_is_refused():
    with pytest.raises(UsageError, match="is over"):
        make_plan(situation(on=date(2024, 5, 31)))


# --- new strings without a baseline

def test_new_strings_that_wait_for_their_baseline_are_swept_for_it_at_once():
    """3C and 2E have had their time; 6C, a wire, was heard on 30 May alone and wants a second day, a few days (3) on: 2 June. By hand."""
    lone = "so far only a sweep of 30 May 2024 heard it, so sweep it on another day too: a new wire starts too bright"
    log = [replace(one, fitted_on=date(2024, 5, 20)) if one.string in ("2E", "3C", "6C") else one for one in ALL_ON]
    plan = make_plan(situation(fittings=tuple(log), bare={"2E": "", "3C": "", "6C": lone},
                               heard_on=heard(date(2024, 5, 28)) | {"6C": date(2024, 5, 30)}))
    fresh, again = tasks_of(plan, "sweep")
    assert fresh.action.endswith("to 'toneprobe sweep' with --fresh-for 2E,3C") and fresh.do_by == TODAY
    assert again.strings == ("6C",) and again.do_by == date(2024, 6, 2) and lone in again.reason
    calendar = icalendar.Calendar.from_ical(write_reminders(plan, harp="Wren", now=STAMP))
    assert sum("--fresh-for" in str(one["summary"]) or "sweep 6C" in str(one["summary"]) for one in calendar.walk("VEVENT")) == 2
    first = make_plan(situation(heard_on={}, bare={"3C": ""}))
    assert not any("--fresh-for" in task.action for task in first.tasks)  # the first fresh sweep is of all


# --- strings to change

def test_last_sensible_days_by_material():
    plan = make_plan(situation(bad=[("3C", "dead"), ("6C", "false"), ("1E", "watch")]))
    days = {task.strings[0]: (task.kind, task.do_by) for task in plan.tasks if task.kind in ("change", "consider")}
    assert days == {"3C": ("change", date(2024, 6, 24)), "1E": ("consider", date(2024, 6, 23)), "6C": ("change", date(2024, 6, 29))}
    change = tasks_of(plan, "change")[0]
    assert change.best_by == date(2024, 6, 17) and not change.is_late  # two weeks before
    assert change.reason.startswith("dead: rings half as long as fresh; usually settled within 7 days")
    assert "best changed as a set" in tasks_of(plan, "change")[1].reason
    assert any("eye protection" in line for line in plan.cautions) and any("technician" in line for line in plan.cautions)


def test_a_string_kept_of_another_material_is_changed_for_the_spare_of_that_material():
    """Nylon is logged on 2E, where gut belongs, and a nylon 2E lies in the bag: it is the one to put on, said once. Ten days for an order
    before 30 June, when the bag is packed: 20 June."""
    log = [replace(one, material="nylon") if one.string == "2E" else one for one in ALL_ON]
    bag = with_bag_but("2E", extra=[spare("2E", material="nylon", lead_time_days=10), spare("2E", material="gut")])
    plan = make_plan(situation(bad=[("2E", "false")], fittings=tuple(log), spares=bag))
    change, = tasks_of(plan, "change")
    assert change.action == "change 2E (E♭6, nylon)" and change.do_by == date(2024, 6, 24) and not change.is_late
    stock, = tasks_of(plan, "stock")
    assert stock.strings == ("2E",) and stock.do_by == date(2024, 6, 20)
    told, = (note for note in plan.notes if "2E" in note)
    assert told.startswith("on 2E the log has nylon, where gut belongs") and told.endswith("toneprobe log correct 2E --material gut")


def test_every_change_stands_under_its_good_day_a_wire_too():
    """Doubtful strings are changed two to three weeks before, whatever they are made of (common practice): a wire settles in two days, so
    its last day is later. After 17 June only the last days are left, and are called that."""
    early, late = (make_plan(situation(bad=[("3C", "dead"), ("6C", "false")], today=day)) for day in (TODAY, date(2024, 6, 18)))
    assert [(task.starts_on, task.latest) for task in tasks_of(early, "change")] == [
        (date(2024, 6, 17), "Latest 24 June 2024."), (date(2024, 6, 17), "Latest 29 June 2024.")]
    assert [(task.starts_on, task.latest) for task in tasks_of(late, "change")] == [(date(2024, 6, 24), ""), (date(2024, 6, 29), "")]
    assert all(task.reason.endswith("best two to three weeks before, and this is the last day for it: sooner is better")
               for task in tasks_of(late, "change"))


def test_the_spare_that_goes_on_is_ordered_again_for_the_bag():
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[spare("3C", lead_time_days=10)])))
    stock, = tasks_of(plan, "stock")
    assert stock.strings == ("3C",) and stock.do_by == date(2024, 6, 20)  # 10 days before the bag is packed on 30 June
    assert [task.starts_on for task in plan.tasks] == sorted(task.starts_on for task in plan.tasks)


def test_the_spares_of_two_strings_that_go_on_are_told_of_as_two():
    stock, = tasks_of(make_plan(situation(bad=[("3C", "dead"), ("3D", "dead")])), "stock")
    assert stock.action == "order for the bag: 3D, 3C" and stock.reason.startswith("the spare of each is put on; ")


def test_a_spare_that_was_put_on_today_is_no_plan_any_more():
    """3C was changed today, 3D is to be changed: both want another spare, and only that of 3D still goes on."""
    bag = with_bag_but("3C", extra=[replace(spare("3C"), id=9, used_on=TODAY, fitting_id=99)])
    plan = make_plan(situation(bad=[("3D", "dead")], spares=bag))
    stock = {task.strings: task.reason.partition(";")[0] for task in tasks_of(plan, "stock")}
    assert stock == {("3C",): "no spare", ("3D",): "its spare is put on"}


def test_the_owner_s_own_strings_set_the_last_day():
    days = [date(2024, 1, 1), date(2024, 1, 31), date(2024, 3, 1), date(2024, 3, 31)]
    spans = enumerate(zip(days, days[1:], strict=False))
    own = tuple(fitting("4C", first, last, number=90 + k, material="gut") for k, (first, last) in spans)
    settled = {90: date(2024, 1, 11), 91: date(2024, 2, 9), 92: date(2024, 3, 5)}  # after 10, 9 and 4 days: counted by hand
    assert own_settle_days(own, settled, HARP) == {"gut": (10, 9, 4)}
    plan = make_plan(situation(bad=[("3C", "dead")], fittings=ALL_ON + own, settled_days=settled))
    change, = tasks_of(plan, "change")
    assert change.do_by == date(2024, 6, 21) and "the slowest of your last 3 takes 10 days to settle" in change.reason
    assert settle_time("gut", {"gut": (10, 9)}).days == 7  # two are too few
    assert settle_time("gut", {}, Habits(settle_days={"gut": (6.0, 9.5)})).days == 10
    assert settle_time(None, {}).days == 7
    unknown = replace(HARP, strings=tuple(replace(s, material=None) for s in HARP.strings))
    bare = [replace(one, material=None) for one in own]
    assert own_settle_days(bare, settled, unknown) == {}  # nobody knows of which material these tell


def test_where_the_owner_s_strings_take_longer_than_two_weeks_no_better_day_is_named():
    """Three guts of hers took 20 days: for 1 July 3C must be on by 11 June, and two weeks before, the 17th, would be too late."""
    own = tuple(fitting(name, date(2024, 1, 1), date(2024, 4, 1), number=90 + k) for k, name in enumerate(("3D", "3E", "4E")))
    settled = {one.id: date(2024, 1, 21) for one in own}
    change, = tasks_of(make_plan(situation(bad=[("3C", "dead")], fittings=ALL_ON + own, settled_days=settled)), "change")
    assert (change.do_by, change.best_by) == (date(2024, 6, 11), None)


def coming(string, ordered_on, **fields):
    return spare(string, place="ordered", bought_on=ordered_on, **fields)


def test_what_is_on_the_way_is_not_ordered_again_and_goes_on_once_it_is_here():
    """3C is dead and has no spare. One ordered on 30 May comes in 21 days, on 20 June, after the good day (17 June) and before the last
    (24 June): it goes on, and one is ordered for the bag. Two leave nothing to order (derived here)."""
    one = coming("3C", date(2024, 5, 30))
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[one])))
    assert tasks_of(plan, "order") == [] and plan.late == ()
    change, = tasks_of(plan, "change")
    assert (change.do_by, change.best_by) == (date(2024, 6, 24), None)
    assert "the new one is on the way, expected about 20 June 2024" in change.reason
    assert [task.strings for task in tasks_of(plan, "stock")] == [("3C",)]
    assert "on the way: 1 × 3C, ordered on 30 May 2024, expected about 20 June 2024" in plan.notes
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[one, one])))
    assert tasks_of(plan, "order") == tasks_of(plan, "stock") == [] and len(tasks_of(plan, "change")) == 1


def test_what_is_on_the_way_may_come_too_late():
    """Ordered on 30 May with 40 days it comes on 9 July: the dead string stays on, and of two nothing is ordered again."""
    two = [coming("3C", date(2024, 5, 30), lead_time_days=40)] * 2
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=two)))
    assert tasks_of(plan, "order") == tasks_of(plan, "stock") == []
    change, = tasks_of(plan, "change")
    assert change.is_late and "the one on the way arrives about 9 July 2024, but it must be on by 24 June 2024" in change.reason
    assert "on the way: 2 × 3C, ordered on 30 May 2024, expected about 9 July 2024 (may come too late for it)" in plan.notes


def test_what_is_overdue_comes_today_at_the_earliest():
    """Ordered on 20 May with 21 days it was expected on 10 June. Seen on 20 June, after the good day (17 June), it can go on by the last
    (24 June) alone; seen on 26 June it comes too late: changed afterwards, it is one of the two then lacking, and one more is ordered
    (derived here)."""
    bad = dict(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[coming("3C", date(2024, 5, 20))]))
    change, = tasks_of(make_plan(situation(today=date(2024, 6, 20), **bad)), "change")
    assert (change.starts_on, change.best_by, change.is_late) == (date(2024, 6, 24), None, False)
    assert "expected about 10 June 2024, overdue" in change.reason
    late = make_plan(situation(today=date(2024, 6, 26), **bad))
    assert tasks_of(late, "change")[0].is_late
    assert [task.action for task in tasks_of(late, "stock")] == ["order for the bag: 3C"]


def test_an_order_of_which_a_part_is_on_the_way_stays_one_entry_of_the_calendar():
    """Of two 3C that are lacking one is ordered: the other is asked for as before."""
    plans = [make_plan(situation(bad=[("3C", "dead")], on=date(2024, 6, 6), spares=with_bag_but("3C", extra=extra)))
             for extra in ((), (coming("3C", TODAY),))]
    first, second = (tasks_of(plan, "stock")[0] for plan in plans)
    assert (first.action, second.action) == ("order for the bag: 2 × 3C", "order for the bag: 3C")
    assert "one is on the way" in second.reason and first.purpose == second.purpose


def test_a_full_bag_on_the_way_leaves_nothing_to_do():
    plan = make_plan(situation(spares=with_bag_but("3C", extra=[coming("3C", date(2024, 5, 30))])))
    assert plan.tasks == ()


def test_no_spare_but_time_enough():
    bought_once = replace(spare("3C", lead_time_days=10), used_on=TODAY, fitting_id=99)
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[bought_once])))
    order, = tasks_of(plan, "order")
    assert order.do_by == date(2024, 6, 7) and "no spare" in order.reason  # 17 June, two weeks before, less 10 days
    change, = tasks_of(plan, "change")
    assert (change.do_by, change.best_by, plan.late) == (date(2024, 6, 24), date(2024, 6, 17), ())


@pytest.mark.parametrize("lead_days, order_by, best_by", [
    (15, date(2024, 6, 2), date(2024, 6, 17)), (16, date(2024, 6, 1), date(2024, 6, 17)),  # counted back on a calendar from 17 June
    (17, date(2024, 6, 7), None), (23, date(2024, 6, 1), None),  # two weeks before is too soon for it: counted from 24 June
])
@pytest.mark.parametrize("word", ["dead", "false"])
def test_what_is_to_be_put_on_comes_by_the_better_day_where_it_can(word, lead_days, order_by, best_by):
    bought_once = replace(spare("3C", lead_time_days=lead_days), used_on=TODAY, fitting_id=99)
    plan = make_plan(situation(bad=[("3C", word)], spares=with_bag_but("3C", extra=[bought_once])))
    order, change = tasks_of(plan, "order")[0], tasks_of(plan, "change")[0]
    assert (order.do_by, change.do_by, change.best_by) == (order_by, date(2024, 6, 24), best_by)  # gut: a week before at the latest
    assert order.do_by + timedelta(days=lead_days) <= (change.best_by or change.do_by)
    assert not change.is_late


def ordered(word, spares, today=TODAY):
    """How many of 3C are ordered in all, and the day of its own order."""
    plan = make_plan(situation(bad=[("3C", word)], spares=spares, today=today))
    actions = [task.action for kind in ("order", "stock") for task in tasks_of(plan, kind) if "3C" in task.strings]
    own = [task.do_by for task in tasks_of(plan, "order") if task.strings == ("3C",)]
    return sum(2 if "2 × 3C" in action else 1 for action in actions), own


@pytest.mark.parametrize("today, without_any, own", [
    (TODAY, 2, [date(2024, 6, 7)]),  # 17 June less 10 days
    (date(2024, 6, 8), 2, [date(2024, 6, 14)]),  # too late for 17 June: 24 June less 10 days
    (date(2024, 6, 18), 2, []),  # too late for 24 June: both in the bag's order
])
def test_a_dead_string_is_ordered_to_put_on_and_to_keep_a_watched_one_only_to_keep(today, without_any, own):
    """A full set travels with the harp, also once the dead string was changed. What is only suspected is not ordered for: of a watched
    string the bag lacks what it lacks of a sound one, one at most."""
    bought_once = replace(spare("3C", lead_time_days=10), used_on=TODAY, fitting_id=99)
    bare, single = with_bag_but("3C", extra=[bought_once]), (*BAG, bought_once)
    for word, spares, found in (("dead", bare, (without_any, own)), ("dead", single, (1, [])), ("dead", (*single, spare("3C")), (0, [])),
                                ("watch", bare, (1, [])), ("watch", single, (0, [])), ("watch", (*single, spare("3C")), (0, []))):
        assert ordered(word, spares, today) == found


def test_the_spare_of_a_watched_string_is_not_spent_and_stands_in():
    """3D, false, has no spare and none comes in time: that of 3E, E for D (common practice), is offered though 3E is watched."""
    slow = replace(spare("3D", lead_time_days=25), used_on=TODAY, fitting_id=99)
    plan = make_plan(situation(bad=[("3E", "watch"), ("3D", "false")], spares=with_bag_but("3D", extra=[slow])))
    assert tasks_of(plan, "change")[0].instead.startswith("put the spare 3E on as a stand-in")
    assert not [task for task in tasks_of(plan, "stock") if "3E" in task.strings]


# --- strings that are only watched

LITTLE = "Rings 22 % shorter than fresh (± 16). That is little more than its plucks differ by."


USUAL_STEP = watch_step()


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


@pytest.mark.parametrize("step", [USUAL_STEP, sinking_step()], ids=["usual", "sinks"])
def test_a_suspicion_that_asks_for_plucks_asks_so_in_the_plan(step):
    assert make_plan(watched("3C", step=step)).tasks[0].action.startswith("pluck 3C (C♭5, gut) again, three times")


@pytest.mark.parametrize(("fields", "words"), [
    (dict(today=date(2024, 6, 26)), "It is too late to change it for this day"),  # gut a week before at the latest
    (dict(spares=with_bag_but("3C", extra=[replace(spare("3C", lead_time_days=25), used_on=TODAY, fitting_id=99)])),
     "There is no spare: ordered today one arrives about 26 June 2024, and it would have to be on by 24 June 2024"),
])
def test_it_is_never_too_late_for_what_is_only_watched(fields, words):
    """Nor does its calendar entry say so, and no more is ordered than the one that the bag lacks."""
    plan = make_plan(watched("3C", **fields))
    task, = tasks_of(plan, "consider")
    assert plan.late == () and task.do_by == fields.get("today", TODAY) and task.reason.endswith(f"differ by. {words}")
    assert task.instead == "leave it on for this engagement; if the new plucks say so too, change it after the engagement"
    summaries = [str(entry["SUMMARY"]) for entry in entries_of(write_reminders(plan, harp="harp", now=STAMP))]
    assert f"harp: {task.action}" in summaries and not any("too late" in text for text in summaries)
    assert not any("×" in task.action for task in plan.tasks)


def test_in_the_last_week_no_wire_is_changed_on_a_suspicion():
    """A wire settles in two days, but so close to the day even a dead one is changed only of need (common practice)."""
    task, = tasks_of(make_plan(watched("6C", today=date(2024, 6, 26))), "consider")
    assert "too late to change it" in task.reason and task.instead.startswith("leave it on")


def test_the_spare_of_a_watched_string_is_there_by_the_day_on_which_it_would_be_changed():
    """3C by 17 June, ordered ten days before; 2C, which is sound, when the bag is packed on 30 June, ten days after the order: both go out
    on one day, the earlier. Without the spare on its way the page says to have one ready."""
    ten = [replace(spare(name, lead_time_days=10), used_on=TODAY, fitting_id=99) for name in ("3C", "2C")]
    plan = make_plan(watched("3C", spares=with_bag_but("3C", "2C", extra=ten)))
    orders = {task.strings: (task.do_by, task.reason.partition(";")[0]) for task in tasks_of(plan, "stock")}
    assert orders == {("3C",): (date(2024, 6, 7), "no spare, and it is on the watch list"), ("2C",): (date(2024, 6, 7), "no spare")}
    assert tasks_of(plan, "consider")[0].reason.endswith("have a spare ready, there is none")
    coming_ = make_plan(watched("3C", spares=with_bag_but("3C", extra=[coming("3C", date(2024, 5, 30))])))
    assert not tasks_of(coming_, "stock") and "the new one is on the way, expected about 20 June 2024" in coming_.tasks[0].reason


@pytest.mark.parametrize("step", [unsteady_step(), slipping_step(), between_notches_step(), other_string_step()],
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
    slow = [replace(spare("3C", lead_time_days=25), used_on=TODAY, fitting_id=99)]
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
    known = told(extra=[replace(spare("3C", lead_time_days=20), used_on=TODAY, fitting_id=99)])
    assert "an order takes 20 days" in known.reason
    for one in (known, told(unchecked=frozenset({"3C"})), told(today=date(2024, 6, 24)), told(today=date(2024, 6, 26), name="6C")):
        assert one.is_late and one.instead.startswith("leave it on")


def test_no_spare_serves_two_strings():
    def offers(bad, without):
        slow = [replace(spare(name, lead_time_days=25), used_on=TODAY, fitting_id=99) for name in without]
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


# --- strings still settling

def settling(string, state="settling", early=6, likely=8, late=12, month=6):
    days = None if early is None else DateRange(*(date(2024, month, day) for day in (early, likely, late)))
    return Settling(string, state, TODAY, 5, 6, Figure(-1.0, 0.3), Figure(-4.0, 0.5), USUAL_TOLERANCE, days, None, Figure(4.0, 0.5),
                    (), ("falls steadily and does not slow down",), "")


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


# --- spares past their best. Wires keep two years (common practice)

STALE = spare("6D", bought_on=date(2022, 1, 10))  # at its best until 10 January 2024: two years of 365 days


def test_a_better_one_than_a_spare_past_its_best_is_ordered_where_it_comes_in_time():
    plan = make_plan(situation(bad=[("6D", "dead")], spares=with_bag_but("6D", extra=[STALE])))
    order, = tasks_of(plan, "order")
    assert (order.strings, order.do_by) == (("6D",), date(2024, 6, 8))  # 29 June, two days before, less 21 days
    assert "only spare has been past its best since 10 January 2024: a better one can come in time" in order.reason
    change, = tasks_of(plan, "change")
    assert "past its best since 10 January 2024: put it on only if no better one comes" in change.reason and not change.is_late
    assert tasks_of(plan, "stock")[0].reason.startswith("the only spare is past its best")  # it stays in the bag


def test_a_spare_past_its_best_goes_on_where_no_better_one_comes_in_time():
    plan = make_plan(situation(bad=[("6D", "dead")], spares=with_bag_but("6D", extra=[STALE]), today=date(2024, 6, 20)))
    change, = tasks_of(plan, "change")
    assert "past its best since 10 January 2024, and no better one can come in time" in change.reason and not change.is_late
    assert not tasks_of(plan, "order") and tasks_of(plan, "stock")[0].reason.startswith("its spare is put on")


@pytest.mark.parametrize("today", [TODAY, date(2024, 6, 20), date(2024, 6, 28), date(2024, 6, 30)])
def test_as_many_are_ordered_for_a_day_as_for_the_bag_alone(today):
    """6D is dead, its only spare past its best: a good one to put on and a good one to keep, whether a better one comes in time, the old
    one goes on for want of it, or it is too late for the change."""
    bag = with_bag_but("6D", extra=[STALE])
    alone, = (order.n for order in list_orders(bag, HARP, today=today, needs={"6D": 1}) if order.string == "6D")
    plan = make_plan(situation(bad=[("6D", "dead")], spares=bag, today=today))
    n = sum(2 if "2 × 6D" in task.action else 1 for task in plan.tasks if task.kind in ("order", "stock") and "6D" in task.strings)
    assert (alone, n) == (2, 2)


def test_a_spare_that_will_be_past_its_best_when_it_goes_on_is_said_to_be():
    """Gut bought on 1 January 2024 is at its best for 365 days, until 31 December 2024; the last day for 1 March 2025 is 22 February."""
    own = spare("3C", bought_on=date(2024, 1, 1), lead_time_days=14)
    later = make_plan(situation(bad=[("3C", "dead")], on=date(2025, 3, 1), spares=with_bag_but("3C", extra=[own])))
    order, = tasks_of(later, "order")
    assert "its only spare passes its best on 31 December 2024: a better one can come in time" in order.reason
    assert "its spare passes its best on 31 December 2024: put it on by then" in tasks_of(later, "change")[0].reason
    soon = make_plan(situation(bad=[("3C", "dead")], on=date(2025, 1, 7), spares=with_bag_but("3C", extra=[own])))  # on by 31 December
    slow = replace(own, lead_time_days=300)  # ordered on 1 June 2024 it comes on 28 March 2025
    bare = make_plan(situation(bad=[("3C", "dead")], on=date(2025, 3, 1), spares=with_bag_but("3C", extra=[slow])))
    assert "put it on by then, no better one comes in time" in tasks_of(bare, "change")[0].reason
    again, = (task for task in tasks_of(bare, "stock") if "3C" in task.strings)
    assert again.action == "order for the bag: 3C"  # it is at its best today and goes on so: it need not be replaced on the harp
    assert tasks_of(soon, "order") == [] and "best" not in tasks_of(soon, "change")[0].reason


def test_of_two_spares_that_pass_their_best_neither_is_called_the_only_one():
    """Two guts bought on 1 January 2024 are both at their best until 31 December 2024: the 365th day after, it being a leap year."""
    two = with_bag_but("3C", extra=[spare("3C", bought_on=date(2024, 1, 1), lead_time_days=14, id=k) for k in (1, 2)])
    later = make_plan(situation(bad=[("3C", "dead")], on=date(2025, 3, 1), spares=two))
    order, = tasks_of(later, "order")
    assert "none of its 2 spares will be at its best when it goes on: a better one can come in time" in order.reason
    soon = make_plan(situation(bad=[("3C", "dead")], on=date(2025, 1, 7), spares=two))  # on by 31 December, the bag packed on 6 January
    again = next(task for task in tasks_of(soon, "stock") if "3C" in task.strings)
    assert again.reason.startswith("the other spare passes its best on 31 December 2024; ")


def test_a_spare_left_past_its_best_is_the_reason_for_its_order():
    """The better of two wires goes on; the other is past its best since 10 January 2024, as above."""
    plan = make_plan(situation(bad=[("6D", "dead")], spares=(*BAG, STALE)))
    assert tasks_of(plan, "stock")[0].reason.startswith("the other spare is past its best; ")


def test_after_the_last_sensible_day_a_better_one_is_ordered_for_afterwards():
    plan = make_plan(situation(bad=[("6D", "dead")], spares=with_bag_but("6D", extra=[STALE]), today=date(2024, 6, 30)))
    stock, = tasks_of(plan, "stock")
    assert stock.action == "order for the bag: 2 × 6D" and "the change is for after the engagement" in stock.reason
    assert stock.is_late and stock.instead.startswith("order them for afterwards")  # 2 × 6D


def test_an_empty_position_is_filled_with_what_there_is_and_a_better_one_ordered():
    off = tuple(replace(f, removed_on=TODAY, why_removed="broke") if f.string == "6D" else f for f in ALL_ON)
    plan = make_plan(situation(fittings=off, spares=with_bag_but("6D", extra=[STALE])))
    fill, = tasks_of(plan, "change")
    assert fill.do_by == TODAY and "past its best since 10 January 2024: it serves until a better one comes" in fill.reason
    assert tasks_of(plan, "order")[0].strings == ("6D",)


def test_what_is_to_be_changed_for_a_day_far_away_need_not_wait_for_it():
    """279 days ahead, as a harpist planned; 30 days ahead the days given are the ones that count."""
    plan = make_plan(situation(bad=[("3C", "dead"), ("6C", "watch")], on=TODAY + timedelta(days=279)))
    assert any(note.startswith("3C may as well be changed now: ") for note in plan.notes)  # what is watched is only considered
    bare = make_plan(situation(bad=[("3C", "dead")], on=TODAY + timedelta(days=279), spares=with_bag_but("3C"),
                               unchecked=frozenset({"3C"})))
    assert any(note.startswith("3C may as well be ordered and changed now (3C once plucked again): ") for note in bare.notes)
    assert not any("may as well" in note for note in make_plan(situation(bad=[("3C", "dead")])).notes)


@pytest.mark.parametrize("judged, heard_on_its_own, words", [
    (date(2024, 5, 28), date(2024, 5, 28), "dead: rings half as long as fresh"),  # by the last sweep: no day is needed
    (date(2024, 4, 20), date(2024, 5, 28), "dead as of 20 April 2024, heard since but not judged: rings half as long as fresh"),
    (date(2024, 4, 20), date(2024, 4, 20), "dead as of 20 April 2024, not heard since: rings half as long as fresh"),
])
def test_a_finding_that_is_not_the_last_sweep_s_says_its_day(judged, heard_on_its_own, words):
    """The last sweep was on 28 May, as of the harp's other strings."""
    days = heard(date(2024, 5, 28)) | {"3C": heard_on_its_own}
    plan = make_plan(situation(bad=[("3C", "dead")], heard_on=days, judged_on={"3C": judged}))
    assert tasks_of(plan, "change")[0].reason.startswith(f"{words}; ")


# --- a check before money is spent

def test_what_one_sweep_alone_says_is_checked_before_it_is_ordered():
    """3C has no spare: it is ordered ten days before 17 June, two weeks before the engagement. 6C has one."""
    bought_once = replace(spare("3C", lead_time_days=10), used_on=TODAY, fitting_id=99)
    bad = situation(bad=[("3C", "dead"), ("6C", "false")], spares=with_bag_but("3C", extra=[bought_once]))
    check, = tasks_of(make_plan(replace(bad, unchecked=frozenset({"3C", "6C"}))), "check")
    assert (check.do_by, check.strings) == (date(2024, 6, 6), ("3C", "6C"))  # the day before
    assert check.reason.endswith("before you spend money") and ", three times each, with" in check.action
    plan = make_plan(replace(bad, unchecked=frozenset({"3C"})))
    assert [(task.kind, task.strings) for task in plan.tasks][:2] == [("check", ("3C",)), ("order", ("3C",))]
    assert ", three times, with" in plan.tasks[0].action
    assert tasks_of(make_plan(bad), "check") == []


def test_a_check_is_asked_for_where_it_is_too_late_for_the_change_but_an_order_stands():
    """On 30 June nothing can be changed for 1 July, but a check can be made that day: what is ordered for afterwards waits for it."""
    late = situation(bad=[("3C", "dead"), ("6C", "false")], spares=with_bag_but("3C"), today=date(2024, 6, 30),
                     unchecked=frozenset({"3C", "6C"}))
    plan = make_plan(late)
    check, = tasks_of(plan, "check")
    assert (check.do_by, check.strings, check.is_late) == (date(2024, 6, 30), ("3C", "6C"), False)
    assert all(task.is_late for task in tasks_of(plan, "change")) and tasks_of(plan, "stock")
    assert check.action.startswith("first pluck 3C, 6C again") and ". Order only then. " in check.reason  # both stand on that day
    full = make_plan(replace(late, spares=(*BAG, spare("3C"), spare("6C"))))  # one to put on afterwards, one to keep: no money is spent
    assert not tasks_of(full, "stock") and tasks_of(full, "check") == []


@pytest.mark.parametrize("today, check_on, own_on", [
    (TODAY, date(2024, 6, 2), date(2024, 6, 3)),  # the day of the others is still to come: the check goes before it
    (date(2024, 6, 3), date(2024, 6, 3), date(2024, 6, 7)),  # it is today: the own order waits for its last day
    (date(2024, 6, 7), date(2024, 6, 7), date(2024, 6, 7)),  # which is today as well
])
def test_the_check_comes_before_the_order_that_it_may_spare(today, check_on, own_on):
    """By themselves: 3C, on the way for 10 days, to be changed on 17 June, is ordered by 7 June; 4F, on the way for 14, by 3 June."""
    lead = [replace(spare(name, lead_time_days=days), used_on=date(2024, 5, 20), fitting_id=99) for name, days in (("3C", 10), ("4F", 14))]
    plan = make_plan(situation(bad=[("3C", "dead"), ("4F", "dead")], spares=with_bag_but("3C", "4F", extra=lead), today=today,
                               unchecked=frozenset({"3C"})))
    check, = tasks_of(plan, "check")
    orders = {task.strings: task.do_by for task in tasks_of(plan, "order")}
    assert (check.do_by, orders["3C",]) == (check_on, own_on)
    assert check.action.startswith("first ") is check.reason.endswith("Order only then") is (check_on == own_on)
    kinds = [task.kind for task in plan.tasks if "3C" in task.strings]
    assert kinds.index("check") < kinds.index("order")


def test_the_check_comes_before_the_order_of_a_spare_that_would_go_on():
    """3C has a spare, on the way for 21 days as is assumed; where it goes on, another is ordered for the bag of 30 June, by 9 June."""
    plan = make_plan(situation(bad=[("3C", "dead")], unchecked=frozenset({"3C"})))
    assert [(task.kind, task.do_by) for task in plan.tasks][:2] == [("check", date(2024, 6, 8)), ("stock", date(2024, 6, 9))]


@pytest.mark.parametrize(("bought", "n_ordered", "words"), [
    ((), 2, "; of 3C only one unless the check confirms it"),  # sound it would lack the one to keep, which is ordered all the same
    ((date(2024, 5, 1),), 1, "; 3C only if the check confirms it"),  # sound it would have one to keep
    ((date(2023, 8, 10), date(2023, 8, 10)), 1, ""),  # both pass their best on 9 August 2024 (gut: a year): one is ordered either way
    ((date(2023, 8, 10), date(2024, 5, 1)), 1, "; 3C only if the check confirms it"),  # sound, the other would be kept until May
])
def test_an_order_says_what_of_it_waits_for_the_check(bought, n_ordered, words):
    """On 30 June it is too late for 3C, which was found dead once: it is changed afterwards. Numbers derived here; nothing is plucked
    again for an order that its verdict decides nothing of."""
    spares = with_bag_but("3C", extra=[spare("3C", bought_on=day) for day in bought])
    plan = make_plan(situation(bad=[("3C", "dead")], spares=spares, today=date(2024, 6, 30), unchecked=frozenset({"3C"})))
    order = next(task for task in tasks_of(plan, "stock") if "3C" in task.strings)
    assert ("2 × 3C" in order.action) is (n_ordered == 2)
    assert order.reason.endswith(words) and ("check confirms" in order.reason) is bool(words)
    assert len(tasks_of(plan, "check")) == bool(words)
    assert words or "change" not in order.reason


def test_the_order_of_what_is_to_be_put_on_waits_for_the_check():
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C"), unchecked=frozenset({"3C"})))
    order, = tasks_of(plan, "order")
    assert order.reason.endswith("; only if the check confirms it")
    checked = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C")))
    assert "confirms" not in tasks_of(checked, "order")[0].reason


# --- orders

def test_orders_that_can_go_together_stand_on_the_earliest_day():
    """By themselves: 4F, better changed by 17 June, less 14 days; the other guts by 1 July less 14 days; the wires less 21."""
    lead = [replace(spare("3C", lead_time_days=14), used_on=date(2024, 5, 20), fitting_id=99)]
    bag = with_bag_but("4F", "3D", "6C", extra=lead)
    plan = make_plan(situation(bad=[("4F", "false")], spares=bag))
    orders = {task.strings: task.do_by for task in plan.tasks if task.kind in ("order", "stock")}
    assert orders == dict.fromkeys([("4F",), ("3D", "4F"), ("6C",)], date(2024, 6, 3))
    assert plan.notes[-1] == "orders that can go together stand on one day, the earliest of theirs"
    alone = make_plan(situation(spares=with_bag_but("6C", extra=lead)))
    assert alone.notes == LAST_TIMES  # nothing was moved


def test_an_order_that_can_wait_for_months_does_not_go_with_the_first():
    """A spare at its best until 20 June wants a new one by then; the engagement's own orders go out half a year later: 21 days before
    the sweep of 10 December, three weeks before it."""
    old = spare("3C", bought_on=date(2023, 6, 21), lead_time_days=10)  # gut keeps 365 days: until 20 June 2024, a leap year
    plan = make_plan(situation(spares=with_bag_but("3C", "6C", extra=[old]), on=date(2024, 12, 31)))
    assert {task.strings: task.do_by for task in tasks_of(plan, "stock")} == {("3C",): date(2024, 6, 10), ("6C",): date(2024, 11, 19)}


def test_no_order_stands_after_the_engagement():
    """At its best until 10 August 2024: its successor would be ordered by 31 July."""
    late = spare("3D", bought_on=date(2023, 8, 11), lead_time_days=10)
    plan = make_plan(situation(spares=with_bag_but("3D", extra=[late])))
    assert plan.tasks == ()
    assert plan.notes == (*LAST_TIMES, "for after the engagement: order 3D (its spare passes its best on 10 August 2024)")


def test_an_order_for_what_is_still_good_on_the_day_is_not_late():
    """At its best until 5 July 2024: a new one, 40 days on its way, comes on 11 July, but the old one serves on 1 July."""
    slow = spare("3D", bought_on=date(2023, 7, 6), lead_time_days=40)
    task, = make_plan(situation(spares=with_bag_but("3D", extra=[slow]))).tasks
    assert (task.kind, task.do_by, task.is_late) == ("stock", TODAY, False) and task.reason.endswith("for after the engagement")


def test_an_order_that_comes_before_the_engagement_is_not_late():
    """At its best until 5 June; a new one comes on 11 June."""
    slow = spare("3D", bought_on=date(2023, 6, 6), lead_time_days=10)
    task, = make_plan(situation(spares=with_bag_but("3D", extra=[slow]))).tasks
    assert (task.kind, task.do_by, task.is_late) == ("stock", TODAY, False) and "after the engagement" not in task.reason


def test_what_no_neighbour_serves_for_stands_in_one_note():
    plan = make_plan(situation(spares=(spare("3D"), spare("2E")), today=date(2024, 6, 25)))
    note, = (note for note in plan.notes if "borrow" in note)
    served = note.partition("a neighbour's spare serves for ")[2].partition(":")[0]
    assert note.count("borrow") == 1 and set(served.split(", ")) == {"2D", "2C", "3C", "3B"}  # E for D, and the two next below
    stock = tasks_of(plan, "stock")
    assert all(task.is_late and task.instead.startswith("order them for afterwards") for task in stock)
    assert not any("nothing" in task.instead or "borrow" in task.instead for task in stock)
    assert sum("should one break, the spare 2E serves for 2D, 2C; the spare 3D serves for 3C, 3B" in task.instead for task in stock) == 1


@pytest.mark.parametrize("days, words", [(1, "takes 1 day"), (2, "takes 2 days")])
def test_one_day_is_one_day(days, words):
    once = replace(spare("3C", lead_time_days=days), used_on=TODAY, fitting_id=99)
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C", extra=[once])))
    assert tasks_of(plan, "order")[0].reason.endswith(words) and tasks_of(plan, "stock")[0].reason.endswith(words)
    yesterday = make_plan(situation(heard_on=heard(date(2024, 5, 31)), on=date(2024, 12, 1)))
    assert "1 day ago" in tasks_of(yesterday, "sweep")[0].reason
    assert settle_time("gut", {}, Habits(settle_days={"gut": (1.0, float(days))})).source == f"usually settled within {words[6:]}"


def test_a_long_list_of_strings_is_not_repeated_in_the_note():
    """Of 47 strings none has a spare, so no neighbour's serves; of a few each is named."""
    bare = make_plan(situation(spares=(), today=date(2024, 6, 25)))
    assert "should a string break whose order comes only afterwards, no neighbour's spare serves: borrow one" in bare.notes
    few = make_plan(situation(spares=with_bag_but(*["0G", "0F", "1E", "1D", "1C"]), today=date(2024, 6, 25)))
    assert not any("a string break whose" in note for note in few.notes)


@pytest.mark.parametrize(("n", "is_named"), [(8, True), (9, False)])
def test_an_octave_and_one_are_named_in_the_note(n, is_named):
    names = [spec.name for spec in HARP.strings[:n]]
    told = f"should one of these break, no neighbour's spare serves: borrow one ({', '.join(names)})"
    assert (bare_note(names, ()) == told) is is_named


def test_what_it_is_too_late_for_comes_first():
    """On 26 June 3C can no longer be changed for 1 July, 6C until the 29th; the bag's order of today is in time."""
    lead = [replace(spare("4F", lead_time_days=2), used_on=date(2024, 5, 20), fitting_id=99)]
    plan = make_plan(situation(bad=[("3C", "dead"), ("6C", "dead")], today=date(2024, 6, 26), spares=with_bag_but("4F", extra=lead)))
    late = [task in plan.late for task in plan.tasks]
    assert late == sorted(late, reverse=True) and 0 < sum(late) < len(late)
    days = [task.starts_on for task in plan.tasks if not task.is_late]
    assert days == sorted(days)


def test_an_order_that_comes_after_the_day_is_counted_apart_and_stands_last():
    """On 29 June nothing can come by the 30th, when the bag is packed: 1E and 2B are missing, 3C is dead and stays on. Of these only the
    change of 3C is too late for the day; a string for the bag is none that is played on. The 3C to put on then is ordered in time."""
    plan = make_plan(situation(bad=[("3C", "dead")], today=date(2024, 6, 29), spares=with_bag_but("1E", "2B"),
                               heard_on=heard(date(2024, 6, 24))))
    assert [task.strings for task in plan.late] == [("3C",)]
    assert plan.afterwards and plan.tasks[-len(plan.afterwards):] == plan.afterwards
    assert {name for task in plan.afterwards for name in task.strings} == {"1E", "2B"}
    entries = entries_of(write_reminders(plan, harp="harp", now=STAMP))
    assert entries[0]["DESCRIPTION"].startswith("To do before: 1. Too late for: 1. Orders for afterwards: 1.")
    summaries = [str(e["SUMMARY"]) for e in entries[1:]]
    assert "harp: note, too late to change 3C (C♭5, gut) for 1 July 2024" in summaries  # an entry is shown as a thing to do
    assert "harp: order for the bag: 1E, 2B, for afterwards" in summaries
    assert all(line[0].isupper() for e in entries for line in str(e["DESCRIPTION"]).split("\n"))


# --- bag, sweep, technician

def test_missing_spares_are_ordered_together_and_late_ones_name_a_neighbour():
    bag = with_bag_but("3C", "3D", "7C", extra=[replace(spare("7C", lead_time_days=40), used_on=TODAY, fitting_id=99)])
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
    lead = [replace(spare("7C", lead_time_days=lead_days), used_on=TODAY, fitting_id=99)]
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
    entries = entries_of(write_reminders(plan, harp="harp", now=STAMP))
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
    fresh = make_plan(situation(conditions=unrated, fresh=frozenset(unrated)))
    assert fresh.unjudged == () and fresh.notes == LAST_TIMES


def test_regulation_that_falls_due():
    due = make_plan(situation(last_regulation_on=date(2023, 6, 10)))
    assert (due.tasks[0].kind, due.tasks[0].do_by) == ("regulation", date(2024, 6, 9))  # 365 days after, 2024 being a leap year
    late = make_plan(situation(last_regulation_on=date(2023, 1, 1), today=date(2024, 6, 28)))
    assert tasks_of(late, "regulation")[0].is_late
    assert make_plan(situation(last_regulation_on=None)).notes == (
        LAST_TIMES[0], "no regulation is noted: a technician's visit once a year is usual")


# --- last days, counted on a calendar

@pytest.mark.parametrize("today, goes_on", [(date(2024, 6, 23), True), (date(2024, 6, 24), True), (date(2024, 6, 25), False)])
def test_on_the_last_sensible_day_the_spare_still_goes_on(today, goes_on):
    """Gut a week before the first of July at the latest: on 24 June its spare goes on, so that the bag wants another one."""
    plan = make_plan(situation(bad=[("3C", "dead")], today=today))
    change, = tasks_of(plan, "change")
    again = [task for task in plan.tasks if "3C" in task.strings and task.kind != "change"]
    assert change.is_late is not goes_on
    assert any(task.reason.startswith("its spare is put on") for task in again) is goes_on


def test_a_string_that_settled_on_the_day_it_went_on_is_still_put_on_a_day_before():
    """The owner's own wires held from the first hour on; a change on the day itself would be too late."""
    time = settle_time("wire", {"wire": 9 * (0,)})
    assert time.n_own == 9 and time.last_day(CONCERT) == date(2024, 6, 30)


@pytest.mark.parametrize("own, days, n_own", [((3, 4, 5), 7, 0), (8 * (5,), 7, 0), (9 * (5,), 5, 9), ((3, 4, 8), 8, 3)])
def test_few_strings_that_settled_fast_leave_the_usual_week(own, days, n_own):
    """The next one is slower than the slowest of n with a chance of 1/(n + 1), for any of n + 1 may be the slowest: of three one in four
    would not have settled in time, of nine one in ten (derived here)."""
    time = settle_time("gut", {"gut": own})
    assert (time.days, time.n_own) == (days, n_own)


@pytest.mark.parametrize("fields, do_by", [({}, date(2024, 6, 17)), ({"n_intervals": 0}, date(2024, 6, 22)),
                                           ({"state": "slipping", "settled": None}, date(2024, 6, 22))])
def test_a_string_that_takes_longer_counts_before_it_has_settled(fields, do_by):
    """Three guts settled in 7, 8 and 9 days, 2E was put on on 25 May and is likely to have settled by 8 June, in 14: 3C must be on 14 days
    before 1 July. Where its checks tell nothing of its stretch, or that it slips, only the three count (derived here)."""
    own = tuple(fitting(name, date(2024, 1, 1), date(2024, 4, 1), number=90 + k) for k, name in enumerate(("3D", "3E", "4E")))
    settled = {one.id: date(2024, 1, 8 + k) for k, one in enumerate(own)}
    log = tuple(replace(one, fitted_on=date(2024, 5, 25)) if one.string == "2E" else one for one in ALL_ON)
    plan = make_plan(situation(bad=[("3C", "dead")], fittings=log + own, settled_days=settled,
                               settling={"2E": replace(settling("2E"), **fields)}))
    assert [task.do_by for task in tasks_of(plan, "change")] == [do_by]


def test_of_the_owner_s_own_strings_only_the_last_twelve_count():
    """Two guts of long ago took 30 days, the twelve since then 5 or 6: nobody need wait for a month."""
    time = settle_time("gut", {"gut": (30, 30, 6, *(5,) * 11)})
    assert (time.days, time.n_own) == (6, 12)
    assert settle_time("gut", {"gut": (30, 6, *(5,) * 10)}).days == 30  # one of the last twelve


@pytest.mark.parametrize("best_until, is_task", [(date(2024, 7, 11), True), (date(2024, 7, 12), False)])
def test_what_must_be_ordered_on_the_day_of_the_engagement_is_a_thing_to_do(best_until, is_task):
    """An order takes ten days: for 11 July it goes out on 1 July, the plan's last day; for 12 July after it, which a note tells."""
    old = spare("3D", bought_on=best_until - timedelta(days=365), lead_time_days=10)
    plan = make_plan(situation(spares=with_bag_but("3D", extra=[old])))
    assert [(task.strings, task.do_by) for task in plan.tasks] == ([(("3D",), CONCERT)] if is_task else [])
    assert any("3D" in note for note in plan.notes) is not is_task


@pytest.mark.parametrize("second, do_by", [(date(2024, 7, 2), date(2024, 6, 1)), (date(2024, 7, 3), date(2024, 7, 3))])
def test_orders_a_month_apart_go_together(second, do_by):
    """1 June to 2 July are 31 days; a third order that lies a month after the second, but not after the first, goes by itself."""
    orders = [Task("order", day, (name,), "", "") for name, day in (("3C", date(2024, 6, 1)), ("3D", second), ("3E", date(2024, 7, 31)))]
    together = [task.do_by for task in order_together(orders, today=date(2024, 5, 1), unchecked=())]
    assert together[:2] == [date(2024, 6, 1), do_by]
    assert together[2] == (date(2024, 7, 31) if second == date(2024, 7, 2) else date(2024, 7, 3))


def test_what_is_to_be_recorded_within_a_week_is_recorded_once():
    """4F, watched, is plucked again on 16 June, before the day on which it would best be changed; the sweep that is due on the 10th, three
    weeks before, lies six days earlier and serves for it too. 3C, found dead once, is checked today, with the orders: nine days before,
    which is a recording of its own."""
    plan = make_plan(situation(bad=[("3C", "dead"), ("4F", "watch")], unchecked=frozenset({"3C"}), heard_on=heard(date(2024, 5, 9))))
    recorded = {task.kind: (task.starts_on, task.latest, "One recording, three plucks a string, serves" in task.reason)
                for task in plan.tasks if task.is_recording}
    assert recorded == {"check": (TODAY, "", False), "sweep": (date(2024, 6, 10), "", True),
                        "consider": (date(2024, 6, 10), "Latest 23 June 2024.", True)}
    alone = make_plan(situation(heard_on=heard(date(2024, 5, 9))))
    assert [task.reason for task in alone.tasks if "One recording" in task.reason] == []


def test_a_regulation_waits_for_the_strings_that_are_changed_before_it():
    """Long due. 3C is best changed on 17 June, two weeks before, and has settled a week later, on the 24th, the last day for a regulation;
    of 6C the spare comes only on the 27th, after it. Without a string to change it is due today."""
    due = dict(last_regulation_on=date(2023, 5, 5))
    alone, = tasks_of(make_plan(situation(**due)), "regulation")
    assert alone.do_by == TODAY and alone.reason.endswith("change doubtful strings before it")
    slow = with_bag_but("6C", extra=[spare("6C", lead_time_days=26, used_on=date(2024, 5, 20), fitting_id=9)])
    plan = make_plan(situation(bad=[("3C", "dead"), ("6C", "dead")], spares=slow, **due))
    starts = {task.strings: task.starts_on for task in tasks_of(plan, "change")}
    assert starts == {("3C",): date(2024, 6, 17), ("6C",): date(2024, 6, 29)}
    visit, = tasks_of(plan, "regulation")
    assert visit.do_by == date(2024, 6, 24)
    assert visit.reason.endswith("change doubtful strings before it, but for 6C, to be changed only after it")
    assert "the last regulation was on 5 May 2023, the next was due on 4 May 2024" in plan.notes  # 365 days, 2024 being a leap year
    off = tuple(replace(f, removed_on=TODAY, why_removed="broke") if f.string == "3C" else f for f in ALL_ON)
    put_on, = tasks_of(make_plan(situation(fittings=off, **due)), "regulation")
    assert put_on.do_by == date(2024, 6, 8)  # put on today, it has settled a week later


@pytest.mark.parametrize("last, days", [(date(2023, 7, 2), [date(2024, 6, 24)]), (date(2023, 7, 3), [])])
def test_a_regulation_due_on_the_very_day_comes_a_week_before(last, days):
    """A year of 365 days, 2024 being a leap year: from 2 July 2023 it is due on 1 July 2024."""
    assert [task.do_by for task in tasks_of(make_plan(situation(last_regulation_on=last)), "regulation")] == days


@pytest.mark.parametrize("kind, fields", [
    ("sweep", {"heard_on": heard(date(2024, 4, 20))}), ("regulation", {"last_regulation_on": date(2023, 1, 1)})])
def test_a_week_before_is_no_week_too_late(kind, fields):
    """On 24 June gut can still be changed for 1 July, so what a sweep finds can be put right, and a technician can come."""
    on_the_day, after = (tasks_of(make_plan(situation(today=date(2024, 6, day), **fields)), kind)[0] for day in (24, 25))
    assert (on_the_day.is_late, on_the_day.instead) == (False, "")
    assert after.is_late and after.instead


@pytest.mark.parametrize("n_heard, is_swept", [(37, False), (38, True)])
def test_four_strings_of_five_make_a_sweep_of_the_harp(n_heard, is_swept):
    """Four fifths of 47 are 37.6: 37 are less, 38 are enough."""
    names = [spec.name for spec in HARP.strings][:n_heard]
    sweeps = tasks_of(make_plan(situation(heard_on=heard(date(2024, 5, 28), names))), "sweep")
    assert (sweeps == []) is is_swept
    assert is_swept or sweeps[0].reason.startswith("only 37 of 47 strings have ever been heard")


# --- calendar

STAMP = datetime(2024, 6, 1, 9, 30, tzinfo=UTC)


def entries_of(text):
    return [entry for entry in icalendar.Calendar.from_ical(text).walk("VEVENT")]


def test_reminders_are_read_back_by_the_standard():
    plan = make_plan(situation(bad=[("3C", "dead")]))
    text = write_reminders(plan, harp="concert harp, München; first", now=STAMP)
    assert text.startswith(b"BEGIN:VCALENDAR\r\n") and text.rstrip().endswith(b"END:VCALENDAR")
    assert max(len(line) for line in text.split(b"\r\n")) <= 75  # octets, RFC 5545 3.1
    calendar = icalendar.Calendar.from_ical(text)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]  # RFC 5545 3.6: both required
    entries = entries_of(text)
    assert len(entries) == 1 + len(plan.tasks)
    change = next(e for e in entries if "change 3C" in e["SUMMARY"])
    assert change["SUMMARY"].startswith("concert harp, München; first: ")
    assert change["DTSTART"].dt == date(2024, 6, 17) and change["DTEND"].dt == date(2024, 6, 18)  # all day, end exclusive
    assert "Latest 24 June 2024." in change["DESCRIPTION"] and "RRULE" not in change  # two weeks before, and a week before at the latest
    assert change["DTSTAMP"].dt == STAMP and "eye protection" in change["DESCRIPTION"]
    assert entries[0]["DTSTART"].dt == CONCERT


def test_a_daily_check_repeats_from_today_until_its_last_day():
    """Settled by 12 June at the latest: from 1 June twelve days, counted by hand."""
    plan = make_plan(situation(settling={"3C": settling("3C")}))
    entry = next(e for e in entries_of(write_reminders(plan, harp="harp", now=STAMP)) if "check 3C" in e["SUMMARY"])
    assert entry["DTSTART"].dt == TODAY and entry["DTEND"].dt == TODAY + timedelta(days=1)
    assert entry["RRULE"]["FREQ"] == ["DAILY"] and entry["RRULE"]["UNTIL"] == [date(2024, 6, 12)]
    assert b"UNTIL=20240612\r\n" in write_reminders(plan, harp="harp", now=STAMP)  # a date, for DTSTART is one: RFC 5545, 3.3.10


def test_an_order_keeps_its_identity_when_a_part_of_it_has_come():
    """Five spares are missing, then 2C has come: the same entry, without it."""
    stocks = []
    for missing in (("2C", "2B", "3C", "3D", "3E"), ("2B", "3C", "3D", "3E")):
        plan = make_plan(situation(bad=[("4C", "dead")], spares=with_bag_but(*missing)))
        entries = entries_of(write_reminders(plan, harp="harp", now=STAMP))
        assert len({str(e["UID"]) for e in entries}) == len(entries)
        stocks.append({str(e["UID"]): str(e["SUMMARY"]) for e in entries if "for the bag" in e["SUMMARY"]})
    before, after = stocks
    assert before.keys() == after.keys() and len(before) == 2  # what is missing, and the 4C that goes on the harp
    assert any("2C" in told for told in before.values()) and not any("2C" in told for told in after.values())


def test_reminders_keep_their_identity_when_the_day_moves():
    """Changed two weeks before the engagement, on 17 June, at best; where that is over on the last day, 24 June."""
    first, later = (make_plan(situation(bad=[("3C", "dead")], today=day)) for day in (TODAY, date(2024, 6, 20)))
    uids = [{str(e["UID"]): e["DTSTART"].dt for e in entries_of(write_reminders(plan, harp="harp", now=STAMP))} for plan in (first, later)]
    assert len(uids[0]) == 1 + len(first.tasks)
    assert uids[0].keys() == uids[1].keys()  # the engagement, the change, the order for the bag
    assert date(2024, 6, 17) in uids[0].values() and date(2024, 6, 24) in uids[1].values()
    other = {str(e["UID"]) for e in entries_of(write_reminders(first, harp="other", now=STAMP))}
    assert not other & uids[0].keys()


def calendar_after(*plans, whole=False):
    """By summary, the first days (whole: the entries) of what stands in a calendar that took these plans, one minute after the other, by
    RFC 5546, 2.1.5: of one UID the higher SEQUENCE stays, of equals the later DTSTAMP."""
    kept = {}
    for k, plan in enumerate(plans):
        for entry in entries_of(write_reminders(plan, harp="harp", now=STAMP + timedelta(minutes=k))):
            old = kept.get(str(entry["UID"]))
            if old is None or (entry["SEQUENCE"], entry["DTSTAMP"].dt) >= (old["SEQUENCE"], old["DTSTAMP"].dt):
                kept[str(entry["UID"])] = entry
    return list(kept.values()) if whole else sorted((str(entry["SUMMARY"]), entry["DTSTART"].dt) for entry in kept.values())


def test_two_engagements_of_a_tour_have_each_errand_once_on_the_earlier_day():
    """8 and 11 July, both files taken, in either order, then the second anew: what both ask for stands once, as the first asks for it; and
    each engagement has its own entry."""
    bad = dict(bad=[("3C", "dead"), ("4F", "watch")], spares=with_bag_but("3C", "2C"))
    one, two = (make_plan(situation(on=day, **bad)) for day in (date(2024, 7, 8), date(2024, 7, 11)))
    assert {task.kind for task in one.tasks} == {task.kind for task in two.tasks} == {"order", "change", "consider", "stock"}
    alone = calendar_after(one)
    assert ("harp: engagement", date(2024, 7, 8)) in alone
    for taken in ((one, two), (two, one), (one, two, two)):
        assert calendar_after(*taken) == sorted([*alone, ("harp: engagement", date(2024, 7, 11))])


def test_a_tour_over_the_end_of_a_month_has_each_errand_for_either_month():
    """30 July and 2 August, as README says: nothing of one stands in for the other's."""
    bad = dict(bad=[("3C", "dead")], spares=with_bag_but("3C", "2C"))
    one, two = (make_plan(situation(on=day, **bad)) for day in (date(2024, 7, 30), date(2024, 8, 2)))
    for taken in ((one, two), (two, one)):
        assert calendar_after(*taken) == sorted([*calendar_after(one), *calendar_after(two)])


def test_what_speaks_of_one_engagement_alone_hides_nothing_of_the_next():
    """On 5 July it is too late for gut before the 8th, not before the 14th: both are told. Months apart each has all of its own."""
    bad = dict(bad=[("3C", "dead")], today=date(2024, 7, 5), heard_on=heard(date(2024, 7, 4)))
    near, next_, far = (make_plan(situation(on=day, **bad)) for day in (date(2024, 7, 8), date(2024, 7, 14), date(2024, 9, 14)))
    told = [text for text, _ in calendar_after(near, next_) if "3C (" in text]
    assert [text.removeprefix("harp: ").split(" 3C")[0] for text in told] == ["change", "note, too late to change"]
    both = calendar_after(next_, far)
    assert sorted([*calendar_after(next_), *calendar_after(far)]) == both


def test_a_daily_check_until_the_day_itself_is_not_cut_short_by_an_earlier_one():
    """It will not have settled by either day: it is checked until the second, whichever plan came last, and that once."""
    never = {"3C": settling("3C", early=1, likely=5, late=9, month=8)}
    plans = [make_plan(situation(on=day, settling=never)) for day in (date(2024, 7, 8), date(2024, 7, 11))]
    ends = {entry["RRULE"]["UNTIL"][0] for plan in plans for entry in entries_of(write_reminders(plan, harp="harp", now=STAMP))
            if "RRULE" in entry}
    assert ends == {date(2024, 7, 8), date(2024, 7, 11)}
    for taken in (plans, plans[::-1], [plans[1], *plans]):
        checks = [entry for entry in calendar_after(*taken, whole=True) if "check 3C" in entry["SUMMARY"]]
        assert [entry["RRULE"]["UNTIL"] for entry in checks] == [[date(2024, 7, 11)]]


def test_a_daily_check_of_a_string_that_settles_before_the_later_day_alone_stands_once():
    """Settled by 10 July at the latest: in time for the 11th, not for the 8th. It is checked until then, and once a day."""
    until = {"3C": settling("3C", early=5, likely=9, late=10, month=7)}
    plans = [make_plan(situation(on=day, settling=until)) for day in (date(2024, 7, 8), date(2024, 7, 11))]
    for taken in (plans, plans[::-1]):
        checks = [entry for entry in calendar_after(*taken, whole=True) if "check 3C" in entry["SUMMARY"]]
        assert [entry["RRULE"]["UNTIL"] for entry in checks] == [[date(2024, 7, 10)]]


def test_the_string_that_is_on_now_has_entries_of_its_own():
    first = make_plan(situation(bad=[("3C", "dead")]))
    since = make_plan(situation(bad=[("3C", "dead")], fittings=tuple(replace(one, id=99) if one.string == "3C" else one for one in ALL_ON)))
    change = [next(str(e["UID"]) for e in entries_of(write_reminders(plan, harp="harp", now=STAMP)) if "change 3C" in e["SUMMARY"])
              for plan in (first, since)]
    assert change[0] != change[1]
