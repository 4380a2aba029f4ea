"""The bag before an engagement: what to order for it, what to pack, and which orders go together."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import groupby

from toneprobe.days import day_text
from toneprobe.instrument import StringSpec, find_string
from toneprobe.phrases import as_string, as_strings, one_after_another
from toneprobe.planning.situation import ONLY_IF_CONFIRMED, Situation, Task
from toneprobe.practice import material_family
from toneprobe.spares import Order, Spare, check_full_set, list_orders, stand_ins_for

PACK = timedelta(days=1)
TOGETHER = timedelta(days=31)  # orders no farther apart go out on one day: a month costs a spare little of its best (set here)

MOST_NAMED = 8  # an octave and one: more are not listed twice (set here)

FOR_AFTERWARDS = "the change is for after the engagement"
GOES_ON, EACH_GOES_ON = "its spare is put on", "the spare of each is put on"


@dataclass(frozen=True)
class _Change:
    """Of which strings the orders are, in part, because they want changing."""

    taken: frozenset[str]  # whose spare goes on the harp before the engagement
    afterwards: frozenset[str]  # changed only after it
    more: frozenset[str]  # of which more is ordered than were they sound
    n_if_sound: Mapping[str, int]  # by string, how many would be ordered then

    @property
    def strings(self) -> frozenset[str]:
        return (self.taken | self.afterwards) & self.more


def plan_bag(
    spares: Sequence[Spare], situation: Situation, late_needs: Collection[str], *, sweep_on: date | None, watched: Mapping[str, date],
    to_replace: Collection[str],
) -> tuple[tuple[Task, ...], tuple[str, ...]]:
    """Orders for what will be missing from the bag, those of one day and one lead time together, and what must be packed; and notes.

    `spares`: all, those that the strings to be changed will take marked as used. `late_needs`: strings that can be changed only after
    the engagement, whose spares stay in the bag until then; `watched`: by string the day by which its spare should be there. A full set
    travels with the harp, and is packed the day before: what comes on the day itself comes too late. `sweep_on`: the day of a sweep whose
    finds can still be changed: they are changed from the bag, so it is filled by then where it can be. `to_replace`: strings whose spare
    goes on past its best, for want of a better one: one to put on in its place is ordered too, as where nobody plans for a day.
    """
    packed = _packed_on(situation)
    orders = list_orders(spares, situation.strung, today=situation.today, needs=dict.fromkeys((*late_needs, *to_replace), 1),
                         wanted_on=packed, habits=situation.habits, bought=situation.spares)
    orders = [_timed(order, situation, late_needs, _sooner(watched.get(order.string), sweep_on)) for order in orders]
    change = _change_of(orders, spares, situation, late_needs)
    orders = [replace(order, reason=_why(order, change, watched, to_replace)) for order in orders]
    serving = _serving(orders, spares, situation)
    due = sorted((order for order in orders if order.order_by <= situation.on), key=_batch)
    tasks = [_bag_task(list(batch), change, serving, situation, sweep_on) for _, batch in groupby(due, key=_batch)]
    at_home = [check.string for check in check_full_set(spares, situation.strung, today=packed, habits=situation.habits)
               if check.gap == "at home"]
    if at_home:
        tasks.append(Task("pack", packed, tuple(at_home), f"put into the bag: {_list(at_home)}",
                          "these spares lie at home"))
    return tuple(tasks), _bag_notes(orders, serving, situation, packed=packed)


def _packed_on(situation: Situation) -> date:
    return max(situation.today, situation.on - PACK)


def _timed(order: Order, situation: Situation, late_needs: Collection[str], day: date | None) -> Order:
    """With the day on which it is to be there. day: one before the bag is packed, where there is a reason for it."""
    if order.string in late_needs and _is_the_last(order):
        order = _for_afterwards(order, situation)
    return _by_then(order, situation.today, day) if day and order.wanted_on == _packed_on(situation) else order


def _change_of(orders: Iterable[Order], spares: Iterable[Spare], situation: Situation, late_needs: Iterable[str]) -> _Change:
    is_used = {spare for spare in situation.spares if spare.used_on is not None}  # one put on today is no plan any more
    taken = {spare.string for spare in spares if spare.used_on == situation.today and spare not in is_used}
    n_if_sound = _n_if_sound(situation, _packed_on(situation))
    more = {order.string for order in orders if order.n > n_if_sound.get(order.string, 0)}
    return _Change(frozenset(taken), (frozenset(late_needs) - taken) & more, frozenset(more), n_if_sound)


def _bag_task(batch: Sequence[Order], change: _Change, serving: Mapping[str, str], situation: Situation, sweep_on: date | None) -> Task:
    """The order of one batch, and in its reason what it means for the sweep and for strings to be plucked again first."""
    first = batch[0]
    task = _order_task(batch, serving, situation.on, packed=_packed_on(situation), purpose=_purpose(first, change.afterwards),
                       is_told=first.string in change.afterwards)
    to_change = tuple(order.string for order in batch if order.string in change.strings)
    sweep = _sweep_words(batch, situation, sweep_on) if sweep_on and not task.is_late else ""
    why = task.reason.replace(GOES_ON, EACH_GOES_ON) if len(batch) > 1 else task.reason
    return replace(task, to_change=to_change, reason=f"{why}{sweep}{_only_if_confirmed(to_change, change.n_if_sound, situation)}")


def _n_if_sound(situation: Situation, packed: date) -> dict[str, int]:
    """By string, how many would be ordered were it sound: of a spare that is missing or passes its best one, whatever is on the harp."""
    orders = list_orders(situation.spares, situation.strung, today=situation.today, wanted_on=packed, habits=situation.habits)
    return {order.string: order.n for order in orders}


def _only_if_confirmed(to_change: Iterable[str], n_if_sound: Mapping[str, int], situation: Situation) -> str:
    """What of an order waits until the strings that it is for were plucked again."""
    def told(name: str) -> str:
        n, who = n_if_sound.get(name, 0), as_string(name)
        return f"of {who} only {'one' if n == 1 else n} unless the check confirms it" if n else f"{who} {ONLY_IF_CONFIRMED}"

    return "".join(f"; {told(name)}" for name in to_change if name in situation.unchecked)


def order_together(tasks: Iterable[Task], *, today: date, unchecked: Collection[str]) -> tuple[Task, ...]:
    """The tasks, with orders whose last days lie within a month of one another on one day, the earliest of theirs.

    `unchecked`: strings to be plucked again before money is spent on them. Where the others go out today, their orders wait for the check,
    until the earliest last day of their own.
    """
    tasks = tuple(tasks)
    day_of = _days_together(task.do_by for task in tasks if _can_wait(task))
    waits = {task for task in tasks if _can_wait(task) and day_of[task.do_by] == today and not set(unchecked).isdisjoint(task.to_change)}
    own_day_of = _days_together(task.do_by for task in waits if task.do_by != today)

    def day(task: Task) -> date:
        return own_day_of.get(task.do_by, task.do_by) if task in waits else day_of[task.do_by]

    return tuple(replace(task, do_by=day(task)) if _can_wait(task) else task for task in tasks)


def _days_together(days: Iterable[date]) -> dict[date, date]:
    """By day, the day on which what is due then goes out."""
    day_of: dict[date, date] = {}
    first = None
    for day in sorted(set(days)):
        first = day if first is None or day - first > TOGETHER else first
        day_of[day] = first
    return day_of


def _can_wait(task: Task) -> bool:
    """An order that comes in time."""
    return task.kind in ("order", "stock") and not task.is_late


def _why(order: Order, change: _Change, watched: Collection[str], to_replace: Collection[str]) -> str:
    if order.string in to_replace:
        return f"{GOES_ON}, past its best: one to put on in its place, one to keep"
    if order.string in change.taken and order.cause.is_age:  # there is another, and it is that one which must be replaced
        return order.cause.words(is_other=True)
    if order.string in change.taken:
        return GOES_ON
    if order.string in watched:
        return f"{order.reason}, and it is on the watch list"
    return f"{order.reason}: {FOR_AFTERWARDS}" if order.string in change.afterwards else order.reason


def _is_the_last(order: Order) -> bool:
    """Whether of one to put on and one to keep only one is lacking, and the other lies there."""
    return order.n == 1 and not order.cause.n_on_the_way


def _for_afterwards(order: Order, situation: Situation) -> Order:
    """Of what is to be put on after the engagement alone: the one for the bag is there, and until then nothing is lacking."""
    return replace(_by_then(order, situation.today, situation.on), wanted_on=situation.on + timedelta(days=1))


def _sooner(*days: date | None) -> date | None:
    return min((day for day in days if day is not None), default=None)


def _by_then(order: Order, today: date, day: date) -> Order:
    """To fill the bag on the day of the sweep, or on that by which the spare should be there, or as soon after it as may be."""
    order_by = order.lead.order_by(day, today)
    return replace(order, wanted_on=day, order_by=order_by, arrives_on=order_by + timedelta(days=order.lead.days))


def _sweep_words(orders: Sequence[Order], situation: Situation, sweep_on: date) -> str:
    """Whether what the sweep finds can be changed from this order; "" for one that is not timed by the sweep."""
    first = orders[0]
    if first.wanted_on != sweep_on:
        return ""
    if not first.is_late:
        return ", so it is there for what the sweep finds"
    specs = [find_string(situation.strung, order.string) for order in orders]
    too_late = [spec for spec in specs if first.arrives_on > situation.settle_time(spec.material).last_day(situation.on)]
    arrives = f", so it arrives about {day_text(first.arrives_on)}"
    if not too_late:
        return f"{arrives}: change what the sweep finds as soon as it is there"
    which = "these" if len(too_late) == len(orders) else _in_short(too_late)
    return (f"{arrives}: too late for {which} if the sweep of this plan finds one dead or false, which then stays on until after the "
            "engagement")


def _in_short(specs: Sequence[StringSpec]) -> str:
    """Their names; of many what they are made of, by which a last day is counted: the order names each of them already."""
    if len(specs) <= MOST_NAMED:
        return one_after_another(as_strings(spec.name for spec in specs))
    families = dict.fromkeys(material_family(spec.material) or "other" for spec in specs)
    return f"{one_after_another(list(families))} strings"


def _purpose(order: Order, afterwards: Iterable[str]) -> str:
    """What an order makes up for, whatever strings of it have come or are on the way, and whether it or the change comes in time."""
    if order.string in afterwards and _is_the_last(order):
        return GOES_ON
    if order.cause.is_age:
        return f"best until {order.cause.best_until}" if order.cause.best_until else "best"
    return order.reason.replace(order.cause.besides, "")


def _batch(order: Order) -> tuple[date, bool, int, date, str]:
    return order.order_by, order.is_late, order.lead.days, order.lead.overdue_since or date.min, order.reason


def _order_task(orders: Sequence[Order], serving: Mapping[str, str], on: date, *, packed: date, purpose: str, is_told: bool) -> Task:
    """One order for the bag, with whose spare serves until it comes. A spare that is still good on the day waits for nothing.

    is_told: the reason says already that the change is for afterwards.
    """
    first, names = orders[0], tuple(order.string for order in orders)
    wanted = [order.string if order.n == 1 else f"{order.n} × {order.string}" for order in orders]
    action, reason = f"order for the bag: {_list(wanted)}", f"{first.reason}; {first.lead.words}"
    if first.wanted_on > packed:
        later = "" if is_told else ": for after the engagement"
        return Task("stock", first.order_by, names, action, f"{reason}{later}", purpose=purpose)
    if not _misses(first, packed):
        return Task("stock", first.order_by, names, action, reason, purpose=purpose)
    too_late = "after the engagement" if first.arrives_on > on else "on the day of the engagement itself"
    reason = f"{reason}, so it arrives about {day_text(first.arrives_on)}, {too_late}"
    helped: dict[str, list[str]] = {}
    for name in (name for name in names if name in serving):
        helped.setdefault(serving[name], []).append(name)
    served = [f"the spare {as_string(spare)} serves for {_list(those)}" for spare, those in helped.items()]
    them = "them" if len(orders) > 1 or first.n > 1 else "it"
    instead = f"order {them} for afterwards{'; should one break, ' if served else ''}{'; '.join(served)}"
    return Task("stock", first.order_by, names, action, reason, is_late=True, instead=instead, purpose=purpose)


def _misses(order: Order, packed: date) -> bool:
    """Wanted for the engagement, it comes after the bag was packed."""
    return order.wanted_on <= packed < order.arrives_on


def _serving(orders: Iterable[Order], spares: Sequence[Spare], situation: Situation) -> dict[str, str]:
    """By string that is ordered: the neighbour whose spare serves in need."""
    found = {}
    for order in orders:
        spec = find_string(situation.strung, order.string)
        offers = stand_ins_for(spec, spares, situation.strung, today=situation.on, habits=situation.habits)
        if offers:
            found[order.string] = offers[0].made_for
    return found


def _bag_notes(orders: Sequence[Order], serving: Mapping[str, str], situation: Situation, *, packed: date) -> tuple[str, ...]:
    """What nothing serves for until it comes, and what needs no order before the engagement."""
    bare = {order.string for order in orders if _misses(order, packed) and order.string not in serving}
    names = [spec.name for spec in situation.instrument.strings if spec.name in bare]
    later = [f"{as_string(order.string)} (its spare passes its best on {day_text(order.wanted_on)})" for order in orders
             if order.order_by > situation.on]
    served = [name for name in dict.fromkeys(order.string for order in orders if _misses(order, packed)) if name not in bare]
    return (*([bare_note(names, served)] if names else []),
            *([f"for after the engagement: order {_list(later)}"] if later else []))


def bare_note(names: Sequence[str], served: Sequence[str]) -> str:
    """The strings stand in the orders that come too late: of many, only those that are served are named once more."""
    if len(names) <= MOST_NAMED:
        return f"should one of these break, no neighbour's spare serves: borrow one ({_list(names)})"
    if not served:
        return "should a string break whose order comes only afterwards, no neighbour's spare serves: borrow one"
    return (f"should a string break whose order comes only afterwards, a neighbour's spare serves for {_list(served)}: "
            "for any other borrow one")


def _list(names: Sequence[str]) -> str:
    """All of them, to be ticked off one by one: `phrases.listed` leaves out the end of a long list."""
    return ", ".join(as_strings(names))
