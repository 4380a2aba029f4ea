"""Everything else before an engagement: strings still settling, the bag, the last sweep, the technician."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby

from toneprobe.days import day_text
from toneprobe.fittings import Fitted, on_now
from toneprobe.instrument import find_string
from toneprobe.planning.changes import TUNE_OFTEN, Need
from toneprobe.planning.deadlines import own_settle_days, settle_time
from toneprobe.planning.situation import Situation, Task
from toneprobe.practice import PLAN_AHEAD_DAYS
from toneprobe.settling import Settling
from toneprobe.spares import Order, Spare, check_full_set, list_orders, stand_ins_for

WEEK = timedelta(days=7)  # before the engagement, so that what is found can still be put right
PACK = timedelta(days=1)


def plan_settling(situation: Situation, needs: Iterable[Need]) -> tuple[Task, ...]:
    """Strings put on lately: whether they will have settled."""
    changing = {need.spec.name for need in needs if need.kind != "watch"}
    tasks = []
    for name, fitting in on_now(situation.fittings).items():
        found = situation.settling.get(name)
        if name in changing:
            continue
        if found is not None and found.state != "settled":
            tasks.append(_settling_task(name, found, situation))
        elif found is None and (task := _unchecked_task(name, fitting, situation)) is not None:
            tasks.append(task)
    return tuple(tasks)


def plan_bag(spares: Sequence[Spare], situation: Situation, late_needs: Iterable[str]) -> tuple[Task, ...]:
    """Orders for what will be missing from the bag, those of one day and one lead time together, and what must be packed.

    `spares`: all, those that the strings to be changed will take marked as used. `late_needs`: strings without a spare that can be
    changed only after the engagement. A full set travels with the harp.
    """
    orders = list_orders(spares, situation.instrument, today=situation.today, needs={name: 1 for name in late_needs},
                         wanted_on=situation.on, habits=situation.habits)
    taken = {spare.string for spare in spares if spare.used_on == situation.today}
    orders = [replace(order, reason="its spare goes on the harp") if order.string in taken else order for order in orders]
    tasks = [_order_task(list(group), spares, situation) for _, group in groupby(sorted(orders, key=_batch), key=_batch)]
    at_home = [check.string for check in check_full_set(spares, situation.instrument, today=situation.today, habits=situation.habits)
               if check.gap == "at home"]
    if at_home:
        tasks.append(Task("pack", max(situation.today, situation.on - PACK), tuple(at_home), f"put into the bag: {_list(at_home)}",
                          "these spares lie at home"))
    return tuple(tasks)


def plan_sweep(situation: Situation) -> tuple[Task, ...]:
    """A sweep recent enough to act on."""
    last, today = situation.last_sweep_on, situation.today
    fresh_enough = situation.on - timedelta(days=PLAN_AHEAD_DAYS[0] + situation.habits.sweep_every_days)
    if last is not None and last >= fresh_enough and (today - last).days <= situation.habits.sweep_every_days:
        return ()
    by = situation.on - timedelta(days=PLAN_AHEAD_DAYS[0])
    reason = "no sweep is in the book" if last is None else f"the last one was on {day_text(last)}, {(today - last).days} days ago"
    late = today > situation.on - WEEK
    instead = "sweep today all the same, to know which strings to nurse; gut and nylon can no longer be changed in time" if late else ""
    return (Task("sweep", max(today, by), (), "record a sweep", f"{reason}; what it finds should be changed three weeks to two before",
                 is_late=late, instead=instead),)


def plan_regulation(situation: Situation) -> tuple[Task, ...]:
    """The technician's visit, where it falls due before the engagement."""
    last = situation.last_regulation_on
    if last is None:
        return ()
    due = last + timedelta(days=situation.habits.regulation_every_days)
    if due > situation.on:
        return ()
    by = min(max(situation.today, due), max(situation.today, situation.on - WEEK))
    late = situation.today > situation.on - WEEK
    instead = "leave it until after the engagement unless a pedal, lever or disc fails" if late else ""
    reason = f"the last one was on {day_text(last)}; change doubtful strings before it"
    return (Task("regulation", by, (), "have the harp regulated", reason, is_late=late, instead=instead),)


def _settling_task(name: str, found: Settling, situation: Situation) -> Task:
    if found.state == "slipping":
        by, action = max(situation.today, situation.on - WEEK), f"have knot and pin of {name} looked at"
        return Task("technician", by, (name,), action, found.reasons[0], instead=f"until then {TUNE_OFTEN}")
    if found.settled is None:
        return Task("settling", situation.today, (name,), f"check {name} again", found.reasons[0])
    days = found.settled
    when = f"settled about {day_text(days.likely)}, {day_text(days.early)} at the earliest, {day_text(days.late)} at the latest"
    by = min(max(situation.today, days.late), situation.on)
    if days.late <= situation.on:
        return Task("settling", by, (name,), f"check {name} daily until it has settled", f"{when}: in time")
    chance = "may not be in time" if days.likely <= situation.on else "not in time"
    return Task("settling", by, (name,), f"check {name} daily", f"{when}: {chance}", is_late=days.likely > situation.on, instead=TUNE_OFTEN)


def _unchecked_task(name: str, fitting: Fitted, situation: Situation) -> Task | None:
    """A string put on lately whose pitch nobody has checked."""
    if fitting.fitted_on is None or fitting.is_stand_in or fitting.id in situation.settled_days:
        return None
    material = fitting.material or find_string(situation.instrument, name).material
    own_days = own_settle_days(situation.fittings, situation.settled_days, situation.instrument)
    time = settle_time(material, own_days, situation.habits)
    done = fitting.fitted_on + timedelta(days=time.days)
    if done < situation.today:
        return None
    late = done > situation.on
    reason = f"put on {day_text(fitting.fitted_on)} and not checked yet; {time.source}, so about {day_text(done)}"
    return Task("settling", min(done, situation.on), (name,), f"check {name} daily, as found before as left", reason, is_late=late,
                instead=TUNE_OFTEN if late else "")


def _batch(order: Order) -> tuple[date, bool, int, str]:
    return order.order_by, order.is_late, order.lead.days, order.reason


def _order_task(orders: Sequence[Order], spares: Sequence[Spare], situation: Situation) -> Task:
    first, names = orders[0], tuple(order.string for order in orders)
    lead = f"{'assumed to take' if first.lead.is_assumed else 'takes'} {first.lead.days} days"
    wanted = [order.string if order.n == 1 else f"{order.n} × {order.string}" for order in orders]
    action = f"order for the bag: {_list(wanted)}"
    if not first.is_late:
        return Task("stock", first.order_by, names, action, f"{first.reason}; {lead}")
    reason = f"{first.reason}; {lead}, so it arrives about {day_text(first.arrives_on)}, too late"
    return Task("stock", first.order_by, names, action, reason, is_late=True, instead=_serve(orders, spares, situation))


def _serve(orders: Sequence[Order], spares: Sequence[Spare], situation: Situation) -> str:
    """Which neighbours' spares serve in need for what does not arrive."""
    lines = []
    for order in orders:
        spec = find_string(situation.instrument, order.string)
        offers = stand_ins_for(spec, spares, situation.instrument, today=situation.today, habits=situation.habits)
        lines.append(f"{order.string} by the spare {offers[0].made_for}" if offers else f"nothing for {order.string}: borrow one")
    return "should one break: " + ", ".join(lines)


def _list(names: Sequence[str]) -> str:
    return ", ".join(names)
