"""Orders and spares for an engagement, what waits for a check, and what can go together.

Common practice: gut and nylon a week before at the latest, better two to three weeks; wires two days; a full set travels with the harp.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from made_up_plan import ALL_ON, BAG, HARP, LAST_TIMES, STALE, TODAY, heard, reminders_of, situation, spare, tasks_of, took, with_bag_but

from toneprobe.planning import make_plan
from toneprobe.planning.bag import unserved_note
from toneprobe.planning.deadlines import settle_time
from toneprobe.practice import Habits
from toneprobe.spares import list_orders


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
                               unconfirmed=frozenset({"3C"})))
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


def test_what_one_sweep_alone_says_is_checked_before_it_is_ordered():
    """3C has no spare: it is ordered ten days before 17 June, two weeks before the engagement. 6C has one."""
    bought_once = took("3C", 10)
    bad = situation(bad=[("3C", "dead"), ("6C", "false")], spares=with_bag_but("3C", extra=[bought_once]))
    check, = tasks_of(make_plan(replace(bad, unconfirmed=frozenset({"3C", "6C"}))), "check")
    assert (check.do_by, check.strings) == (date(2024, 6, 6), ("3C", "6C"))  # the day before
    assert check.reason.endswith("before you spend money") and ", three times each, with" in check.action
    plan = make_plan(replace(bad, unconfirmed=frozenset({"3C"})))
    assert [(task.kind, task.strings) for task in plan.tasks][:2] == [("check", ("3C",)), ("order", ("3C",))]
    assert ", three times, with" in plan.tasks[0].action
    assert tasks_of(make_plan(bad), "check") == []


def test_a_check_is_asked_for_where_it_is_too_late_for_the_change_but_an_order_stands():
    """On 30 June nothing can be changed for 1 July, but a check can be made that day: what is ordered for afterwards waits for it."""
    late = situation(bad=[("3C", "dead"), ("6C", "false")], spares=with_bag_but("3C"), today=date(2024, 6, 30),
                     unconfirmed=frozenset({"3C", "6C"}))
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
    lead = [took(name, days) for name, days in (("3C", 10), ("4F", 14))]
    plan = make_plan(situation(bad=[("3C", "dead"), ("4F", "dead")], spares=with_bag_but("3C", "4F", extra=lead), today=today,
                               unconfirmed=frozenset({"3C"})))
    check, = tasks_of(plan, "check")
    orders = {task.strings: task.do_by for task in tasks_of(plan, "order")}
    assert (check.do_by, orders["3C",]) == (check_on, own_on)
    assert check.action.startswith("first ") is check.reason.endswith("Order only then") is (check_on == own_on)
    kinds = [task.kind for task in plan.tasks if "3C" in task.strings]
    assert kinds.index("check") < kinds.index("order")


def test_the_check_comes_before_the_order_of_a_spare_that_would_go_on():
    """3C has a spare, on the way for 21 days as is assumed; where it goes on, another is ordered for the bag of 30 June, by 9 June."""
    plan = make_plan(situation(bad=[("3C", "dead")], unconfirmed=frozenset({"3C"})))
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
    plan = make_plan(situation(bad=[("3C", "dead")], spares=spares, today=date(2024, 6, 30), unconfirmed=frozenset({"3C"})))
    order = next(task for task in tasks_of(plan, "stock") if "3C" in task.strings)
    assert ("2 × 3C" in order.action) is (n_ordered == 2)
    assert order.reason.endswith(words) and ("check confirms" in order.reason) is bool(words)
    assert len(tasks_of(plan, "check")) == bool(words)
    assert words or "change" not in order.reason


def test_the_order_of_what_is_to_be_put_on_waits_for_the_check():
    plan = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C"), unconfirmed=frozenset({"3C"})))
    order, = tasks_of(plan, "order")
    assert order.reason.endswith("; only if the check confirms it")
    checked = make_plan(situation(bad=[("3C", "dead")], spares=with_bag_but("3C")))
    assert "confirms" not in tasks_of(checked, "order")[0].reason


def test_orders_that_can_go_together_stand_on_the_earliest_day():
    """By themselves: 4F, better changed by 17 June, less 14 days; the other guts by 1 July less 14 days; the wires less 21."""
    lead = [took("3C", 14)]
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


@pytest.mark.parametrize(("bought_on", "lead_days", "is_for_after"), [
    (date(2023, 7, 6), 40, True),  # at its best until 5 July 2024: a new one comes on 11 July, but the old one serves on 1 July
    (date(2023, 6, 6), 10, False),  # at its best until 5 June: a new one comes on 11 June
])
def test_an_order_by_which_a_good_one_is_there_on_the_day_is_not_late(bought_on, lead_days, is_for_after):
    slow = spare("3D", bought_on=bought_on, lead_time_days=lead_days)
    task, = make_plan(situation(spares=with_bag_but("3D", extra=[slow]))).tasks
    assert (task.kind, task.do_by, task.is_late) == ("stock", TODAY, False)
    assert task.reason.endswith("for after the engagement") == ("after the engagement" in task.reason) == is_for_after


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
    once = took("3C", days)
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
    assert (unserved_note(names, ()) == told) is is_named


def test_what_it_is_too_late_for_comes_first():
    """On 26 June 3C can no longer be changed for 1 July, 6C until the 29th; the bag's order of today is in time."""
    lead = [took("4F", 2)]
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
    entries = reminders_of(plan)
    assert entries[0]["DESCRIPTION"].startswith("To do before: 1. Too late for: 1. Orders for afterwards: 1.")
    summaries = [str(e["SUMMARY"]) for e in entries[1:]]
    assert "harp: note, too late to change 3C (C♭5, gut) for 1 July 2024" in summaries  # an entry is shown as a thing to do
    assert "harp: order for the bag: 1E, 2B, for afterwards" in summaries
    assert all(line[0].isupper() for e in entries for line in str(e["DESCRIPTION"]).split("\n"))
