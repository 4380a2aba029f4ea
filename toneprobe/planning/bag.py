"""The bag before an engagement: what to order for it, what to pack, and which orders go together."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from itertools import groupby

from toneprobe.days import day_text
from toneprobe.instrument import find_string
from toneprobe.phrases import as_string, as_strings, one_after_another
from toneprobe.planning.situation import ONLY_IF_CONFIRMED, Situation, Task
from toneprobe.practice import material_family
from toneprobe.spares import Order, Spare, check_full_set, list_orders, stand_ins_for

PACK = timedelta(days=1)
TOGETHER = timedelta(days=31)  # orders no farther apart go out on one day: a month costs a spare little of its best (set here)
MOST_NAMED = 8  # an octave and one: more are not listed twice (set here)
GOES_ON, EACH_GOES_ON = "its spare is put on", "the spare of each is put on"


@dataclass(frozen=True)
class Bag:
    """The spares that are left once the strings to be changed have taken theirs, and what the bag must hold.

    A full set travels with the harp, and is packed the day before: what comes on the day itself comes too late.
    """

    situation: Situation
    spares: tuple[Spare, ...]  # all, those that go on before the engagement marked as used
    late_strings: Collection[str]  # strings that can be changed only after the engagement, whose spares stay in the bag until then
    to_replace: Collection[str]  # strings whose spare goes on past its best: one to put on in its place is ordered too
    watched: Mapping[str, date]  # by string on the watch list: the day by which its spare should be there
    sweep_on: date | None  # of a sweep whose finds can still be changed: from the bag, so it is filled by then where it can be

    @cached_property
    def packed_on(self) -> date:
        return max(self.situation.today, self.situation.on - PACK)

    @cached_property
    def orders(self) -> list[Order]:
        """All that will be missing, with the day on which it is to be there."""
        orders = list_orders(self.spares, self.situation.strung, today=self.situation.today, wanted_on=self.packed_on,
                             needs=dict.fromkeys((*self.late_strings, *self.to_replace), 1), habits=self.situation.habits,
                             bought=self.situation.spares)
        return [self._timed(order) for order in orders]

    def _timed(self, order: Order) -> Order:
        """With the day on which it must be there: after the engagement where only the string to be put on then is missing, or a day
        before packing."""
        situation = self.situation
        if order.string in self.late_strings and _is_the_last(order):
            return replace(_timed_for(order, situation.today, situation.on), wanted_on=situation.on + timedelta(days=1))
        day = min((day for day in (self.watched.get(order.string), self.sweep_on) if day is not None), default=None)
        return _timed_for(order, situation.today, day) if day and order.wanted_on == self.packed_on else order

    @cached_property
    def taken(self) -> frozenset[str]:
        """Strings whose spare goes on the harp before the engagement; one put on today is no plan any more."""
        return frozenset(left.string for left, one in zip(self.spares, self.situation.spares, strict=True)
                         if left.used_on is not None and one.used_on is None)

    @cached_property
    def n_if_sound(self) -> dict[str, int]:
        """By string, how many would be ordered were all sound: one for a spare that is missing or passes its best."""
        orders = list_orders(self.situation.spares, self.situation.strung, today=self.situation.today, wanted_on=self.packed_on,
                             habits=self.situation.habits)
        return {order.string: order.n for order in orders}

    @cached_property
    def to_change(self) -> frozenset[str]:
        """Strings to be changed, before the engagement or after it, of which more is ordered than if they were sound."""
        more = {order.string for order in self.orders if order.n > self.n_if_sound.get(order.string, 0)}
        return more & (self.taken | frozenset(self.late_strings))

    @property
    def afterwards(self) -> frozenset[str]:
        """Those of them that are changed only after it."""
        return self.to_change - self.taken

    @cached_property
    def stand_in_of(self) -> dict[str, str]:
        """By string that is ordered: the neighbour whose spare serves in need."""
        found = {}
        for order in self.orders:
            spec = find_string(self.situation.strung, order.string)
            offers = stand_ins_for(spec, self.spares, self.situation.strung, today=self.situation.on, habits=self.situation.habits)
            if offers:
                found[order.string] = offers[0].made_for
        return found

    def arrives_after_packing(self, order: Order) -> bool:
        """Wanted for the engagement, it comes after the bag was packed."""
        return order.wanted_on <= self.packed_on < order.arrives_on


def plan_bag(bag: Bag) -> tuple[tuple[Task, ...], tuple[str, ...]]:
    """Orders for what will be missing from the bag, those of one day and one lead time together, and what must be packed; and notes."""
    situation = bag.situation
    orders = [replace(order, reason=_why_words(order, bag)) for order in bag.orders]
    due = sorted((order for order in orders if order.order_by <= situation.on), key=_batch_key)
    tasks = [_order_task(list(batch), bag) for _, batch in groupby(due, key=_batch_key)]
    at_home = [check.string for check in check_full_set(bag.spares, situation.strung, today=bag.packed_on, habits=situation.habits)
               if check.gap == "at home"]
    if at_home:
        tasks.append(Task("pack", bag.packed_on, tuple(at_home), f"put into the bag: {_all_names(at_home)}", "these spares lie at home"))
    return tuple(tasks), _bag_notes(bag)


def order_together(tasks: Iterable[Task], *, today: date, unconfirmed: Collection[str]) -> tuple[Task, ...]:
    """The tasks, with orders whose last days lie within a month of one another on the earliest of them. Orders for strings to be plucked
    again first (`unconfirmed`) wait for that check where the others go out today, until the earliest last day of their own."""
    tasks = tuple(tasks)
    orders = {task for task in tasks if task.is_order and not task.is_late}
    day_of = days_together((task.do_by for task in orders), within=TOGETHER)
    waiting = {task for task in orders if day_of[task.do_by] == today and not set(unconfirmed).isdisjoint(task.to_change)}
    own_day_of = days_together((task.do_by for task in waiting if task.do_by != today), within=TOGETHER)

    def day(task: Task) -> date:
        return own_day_of.get(task.do_by, task.do_by) if task in waiting else day_of[task.do_by]

    return tuple(replace(task, do_by=day(task)) if task in orders else task for task in tasks)


def days_together(days: Iterable[date], *, within: timedelta) -> dict[date, date]:
    """By day, the first day of its group: a group holds what lies no farther than `within` from its first day."""
    first_of: dict[date, date] = {}
    first = None
    for day in sorted(set(days)):
        first = day if first is None or day - first > within else first
        first_of[day] = first
    return first_of


def _is_the_last(order: Order) -> bool:
    """Whether only one is missing of the two wanted, one to put on and one to keep."""
    return order.n == 1 and not order.cause.n_on_the_way


def _timed_for(order: Order, today: date, day: date) -> Order:
    """The order as it goes out to be there on that day."""
    order_by = order.lead.order_by(day, today)
    return replace(order, wanted_on=day, order_by=order_by, arrives_on=order_by + timedelta(days=order.lead.days))


def _why_words(order: Order, bag: Bag) -> str:
    if order.string in bag.to_replace:
        return f"{GOES_ON}, past its best: one to put on in its place, one to keep"
    if order.string in bag.taken:  # where there is another that must be replaced, it is that one
        return order.cause.words(is_other=True) if order.cause.is_age else GOES_ON
    if order.string in bag.watched:
        return f"{order.reason}, and it is on the watch list"
    return f"{order.reason}: the change is for after the engagement" if order.string in bag.afterwards else order.reason


def _purpose(order: Order, bag: Bag) -> str:
    """What an order makes up for, whatever strings of it have come or are on the way, and whether it or the change comes in time."""
    if order.string in bag.afterwards and _is_the_last(order):
        return GOES_ON
    if order.cause.is_age:
        return f"best until {order.cause.best_until}" if order.cause.best_until else "best"
    return order.reason.replace(order.cause.on_the_way_words, "")


def _batch_key(order: Order) -> tuple[date, bool, int, date, str]:
    """What orders share that go out as one."""
    return order.order_by, order.is_late, order.lead.days, order.lead.overdue_since or date.min, order.reason


def _order_task(orders: Sequence[Order], bag: Bag) -> Task:
    """One order for the bag: when it comes, what it means for the sweep, and what of it waits until strings were plucked again."""
    first = orders[0]
    to_change = tuple(order.string for order in orders if order.string in bag.to_change)
    why = first.reason.replace(GOES_ON, EACH_GOES_ON) if len(orders) > 1 else first.reason
    wanted = [order.string if order.n == 1 else f"{order.n} × {order.string}" for order in orders]
    when = sweep = instead = ""
    is_late = bag.arrives_after_packing(first)
    if first.wanted_on > bag.packed_on:
        when = "" if first.string in bag.afterwards else ": for after the engagement"
    elif is_late:
        too_late = "after the engagement" if first.arrives_on > bag.situation.on else "on the day of the engagement itself"
        when, instead = f", so it arrives about {day_text(first.arrives_on)}, {too_late}", _afterwards_words(orders, bag)
    if first.wanted_on == bag.sweep_on and not is_late:
        sweep = _sweep_words(orders, bag)
    return Task("stock", first.order_by, tuple(order.string for order in orders), f"order for the bag: {_all_names(wanted)}",
                f"{why}; {first.lead.words}{when}{sweep}{_confirmation_words(to_change, bag)}", is_late=is_late, instead=instead,
                purpose=_purpose(first, bag), to_change=to_change)


def _afterwards_words(orders: Sequence[Order], bag: Bag) -> str:
    """What to do with an order that comes too late, and whose spare serves until it comes."""
    helped: dict[str, list[str]] = {}
    for name in (order.string for order in orders if order.string in bag.stand_in_of):
        helped.setdefault(bag.stand_in_of[name], []).append(name)
    served = [f"the spare {as_string(spare)} serves for {_all_names(those)}" for spare, those in helped.items()]
    them = "them" if len(orders) > 1 or orders[0].n > 1 else "it"
    return f"order {them} for afterwards{'; should one break, ' if served else ''}{'; '.join(served)}"


def _confirmation_words(to_change: Iterable[str], bag: Bag) -> str:
    """What of an order waits until the strings that it is for were plucked again."""
    told = []
    for name in (name for name in to_change if name in bag.situation.unconfirmed):
        n, who = bag.n_if_sound.get(name, 0), as_string(name)
        told.append(f"; of {who} only {'one' if n == 1 else n} unless the check confirms it" if n else f"; {who} {ONLY_IF_CONFIRMED}")
    return "".join(told)


def _sweep_words(orders: Sequence[Order], bag: Bag) -> str:
    """Whether what the sweep finds can be changed from an order that is timed by the sweep."""
    first, situation = orders[0], bag.situation
    if not first.is_late:
        return ", so it is there for what the sweep finds"
    specs = [find_string(situation.strung, order.string) for order in orders]
    too_late = [spec for spec in specs if first.arrives_on > situation.settle_time(spec.material).last_day(situation.on)]
    arrives = f", so it arrives about {day_text(first.arrives_on)}"
    if not too_late:
        return f"{arrives}: change what the sweep finds as soon as it is there"
    which = "these"
    if len(too_late) < len(orders) and len(too_late) <= MOST_NAMED:
        which = one_after_another(as_strings(spec.name for spec in too_late))
    elif len(too_late) < len(orders):  # the order names each of them already: what they are made of, by which a last day is counted
        which = f"{one_after_another(list(dict.fromkeys(material_family(spec.material) or 'other' for spec in too_late)))} strings"
    return (f"{arrives}: too late for {which} if the sweep of this plan finds one dead or false, which then stays on until after the "
            "engagement")


def _bag_notes(bag: Bag) -> tuple[str, ...]:
    """What nothing serves for until it comes, and what needs no order before the engagement."""
    missed = dict.fromkeys(order.string for order in bag.orders if bag.arrives_after_packing(order))
    names = [spec.name for spec in bag.situation.instrument.strings if spec.name in missed and spec.name not in bag.stand_in_of]
    later = [f"{as_string(order.string)} (its spare passes its best on {day_text(order.wanted_on)})" for order in bag.orders
             if order.order_by > bag.situation.on]
    return (*([unserved_note(names, [name for name in missed if name in bag.stand_in_of])] if names else []),
            *([f"for after the engagement: order {_all_names(later)}"] if later else []))


def unserved_note(names: Sequence[str], served: Sequence[str]) -> str:
    """The strings stand in the orders that come too late: of many, only those that are served are named once more."""
    if len(names) <= MOST_NAMED:
        return f"should one of these break, no neighbour's spare serves: borrow one ({_all_names(names)})"
    if not served:
        return "should a string break whose order comes only afterwards, no neighbour's spare serves: borrow one"
    return (f"should a string break whose order comes only afterwards, a neighbour's spare serves for {_all_names(served)}: "
            "for any other borrow one")


def _all_names(names: Sequence[str]) -> str:
    """All of them, to be ticked off one by one: `phrases.listed` leaves out the end of a long list."""
    return ", ".join(as_strings(names))
