"""Strings to change before an engagement, as a careful person would plan it: the last sensible days are counted on a calendar.

Common practice: gut and nylon a week before at the latest, better two to three weeks; wires two days; a full set travels with the harp.
"""

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
    fitting,
    heard,
    settling,
    situation,
    spare,
    tasks_of,
    took,
    with_bag_but,
)

from toneprobe.errors import UsageError
from toneprobe.planning import make_plan
from toneprobe.planning.bag import order_together
from toneprobe.planning.deadlines import own_settle_days, settle_time
from toneprobe.planning.situation import Task
from toneprobe.practice import Habits


def test_a_harp_in_order_needs_nothing():
    plan = make_plan(situation())
    assert plan.tasks == () and plan.cautions == () and plan.notes == LAST_TIMES and plan.days_left == 30


def test_a_day_that_is_over_is_refused():
    with pytest.raises(UsageError, match="is over"):
        make_plan(situation(on=date(2024, 5, 31)))


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
    assert "expected about 10 June 2024, overdue" in change.reason and change.awaits_overdue
    late = make_plan(situation(today=date(2024, 6, 26), **bad))
    assert tasks_of(late, "change")[0].is_late and not tasks_of(late, "change")[0].awaits_overdue
    assert [task.action for task in tasks_of(late, "stock")] == ["order for the bag: 3C"]
    change, = tasks_of(make_plan(situation(today=date(2024, 6, 10), **bad)), "change")
    assert "expected about 10 June 2024" in change.reason and not change.awaits_overdue


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


@pytest.mark.parametrize("lead_days, order_by, best_by", [
    (10, date(2024, 6, 7), date(2024, 6, 17)), (15, date(2024, 6, 2), date(2024, 6, 17)),  # counted back on a calendar from 17 June
    (16, date(2024, 6, 1), date(2024, 6, 17)),
    (17, date(2024, 6, 7), None), (23, date(2024, 6, 1), None),  # two weeks before is too soon for it: counted from 24 June
])
@pytest.mark.parametrize("word", ["dead", "false"])
def test_what_is_to_be_put_on_comes_by_the_better_day_where_it_can(word, lead_days, order_by, best_by):
    bought_once = took("3C", lead_days)
    plan = make_plan(situation(bad=[("3C", word)], spares=with_bag_but("3C", extra=[bought_once])))
    order, change = tasks_of(plan, "order")[0], tasks_of(plan, "change")[0]
    assert (order.do_by, change.do_by, change.best_by) == (order_by, date(2024, 6, 24), best_by)  # gut: a week before at the latest
    assert order.do_by + timedelta(days=lead_days) <= (change.best_by or change.do_by)
    assert plan.late == () and "no spare" in order.reason


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
    bought_once = took("3C", 10)
    bare, single = with_bag_but("3C", extra=[bought_once]), (*BAG, bought_once)
    for word, spares, found in (("dead", bare, (without_any, own)), ("dead", single, (1, [])), ("dead", (*single, spare("3C")), (0, [])),
                                ("watch", bare, (1, [])), ("watch", single, (0, [])), ("watch", (*single, spare("3C")), (0, []))):
        assert ordered(word, spares, today) == found


def test_the_spare_of_a_watched_string_is_not_spent_and_stands_in():
    """3D, false, has no spare and none comes in time: that of 3E, E for D (common practice), is offered though 3E is watched."""
    slow = took("3D", 25)
    plan = make_plan(situation(bad=[("3E", "watch"), ("3D", "false")], spares=with_bag_but("3D", extra=[slow])))
    assert tasks_of(plan, "change")[0].instead.startswith("put the spare 3E on as a stand-in")
    assert not [task for task in tasks_of(plan, "stock") if "3E" in task.strings]


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
    together = [task.do_by for task in order_together(orders, today=date(2024, 5, 1), unconfirmed=())]
    assert together[:2] == [date(2024, 6, 1), do_by]
    assert together[2] == (date(2024, 7, 31) if second == date(2024, 7, 2) else date(2024, 7, 3))


def test_what_is_to_be_recorded_within_a_week_is_recorded_once():
    """4F, watched, is plucked again on 16 June, before the day on which it would best be changed; the sweep that is due on the 10th, three
    weeks before, lies six days earlier and serves for it too. 3C, found dead once, is checked today, with the orders: nine days before,
    which is a recording of its own."""
    plan = make_plan(situation(bad=[("3C", "dead"), ("4F", "watch")], unconfirmed=frozenset({"3C"}), heard_on=heard(date(2024, 5, 9))))
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
