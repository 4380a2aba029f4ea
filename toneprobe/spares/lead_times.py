"""How long an order takes: the median of past orders, those long overdue included. When it must go out, the longest of them decides: with
the median every second order would come too late.

What was ordered on one day from one supplier and came on one day is one order, however many strings it was. An overdue order has taken at
least as long as it has been open, and counts with that; one that is not overdue does not count yet. A string's own orders go before those
of its material, and those before the owner's usual time, which is then called assumed. While an order of the very string is overdue, all
that is known is that it takes longer. A spare taken off the list without going onto the harp does not count: that is how a row typed
wrongly is taken back.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from statistics import median

from toneprobe.days import day_text
from toneprobe.instrument import StringSpec
from toneprobe.phrases import count_of
from toneprobe.practice import ORDERED, USUAL_HABITS, Habits, material_family
from toneprobe.spares.spare import Spare, on_the_way

ASK_THE_SHOP = "overdue: ask the shop"


@dataclass(frozen=True)
class Lead:
    """How long an order takes, and from whom."""

    days: int
    is_assumed: bool
    supplier: str | None  # None also where the figure rests on several
    spare_id: int | None = field(default=None, compare=False)  # where it was noted; of several the last bought
    n_orders: int = 1  # that `days` is the middle of
    span_days: tuple[int, int] | None = None  # the shortest and the longest of several
    overdue_since: date | None = None  # the day of the oldest order among them that is overdue
    is_least: bool = False  # all that is known is that it takes no less

    def order_by(self, wanted_on: date, today: date) -> date:
        """The last day on which an order goes out that is to be there on a day; today where that is over."""
        longest = self.span_days[1] if self.span_days else self.days
        return max(today, wanted_on - timedelta(days=longest))

    @property
    def words(self) -> str:
        """ "an order takes 14 days from the shop (noted with spare 7)", "an order is assumed to take 21 days", "an order takes about 23
        days, the middle of 4 that took 8 to 38 days, and 38 are allowed for it (one of 14 December 2025 is overdue: ask the shop)"."""
        seller = f" from {self.supplier}" if self.supplier else ""
        if self.is_assumed:
            return f"an order is assumed to take {count_of(self.days, 'day')}{seller}"
        is_middle = self.span_days is not None and self.span_days[0] < self.span_days[1]
        about, more = "about " if is_middle else "", " or more" if self.is_least else ""
        middle = ""
        if is_middle:
            shortest, longest = self.span_days
            middle = f", the middle of {self.n_orders} that took {shortest} to {longest} days, and {longest} are allowed for it"
        noted = f"{'the last ' if is_middle else ''}noted with spare {self.spare_id}" if self.spare_id is not None else ""
        overdue = f"one of {day_text(self.overdue_since)} is {ASK_THE_SHOP}" if self.overdue_since else ""
        source = "; ".join(text for text in (noted, overdue) if text)
        return f"an order takes {about}{count_of(self.days, 'day')}{more}{seller}{middle}{f' ({source})' if source else ''}"


@dataclass(frozen=True)
class _PastOrder:
    """What one order took, or has taken so far."""

    days: int
    supplier: str | None
    spare_id: int | None
    bought_on: date | None  # of an overdue one: the day of the order
    is_overdue: bool = False


def lead_of(spec: StringSpec, spares: Iterable[Spare], habits: Habits = USUAL_HABITS, *, today: date | None = None) -> Lead:
    """The lead time of one string; what is on the harp counts too, it was bought once. `today` None leaves overdue orders out, for the
    day on which an order was expected."""
    known = tuple(spares)
    family = material_family(spec.material)

    def own_and_kin(found: Iterable[Spare]) -> tuple[list[Spare], list[Spare]]:
        """Those of this string, and those of its material."""
        return ([one for one in found if one.string == spec.name],
                [one for one in found if family is not None and material_family(one.material) == family])

    own, kin = own_and_kin(lead_times_noted(known))
    usual = _median_lead(_past_orders(own or kin)) or Lead(habits.lead_time_days, True, None)
    if today is None:
        return usual
    own_overdue, kin_overdue = own_and_kin([one for one in on_the_way(known) if one.bought_on is not None
                                            and (today - one.bought_on).days > max(one.lead_time_days or 0, usual.days)])
    if own_overdue:
        first = min(own_overdue, key=lambda one: one.bought_on)
        return Lead((today - first.bought_on).days, False, first.supplier, overdue_since=first.bought_on, is_least=True)
    if own or not kin_overdue:
        return usual
    still_open = {(one.supplier, one.bought_on): _PastOrder((today - one.bought_on).days, one.supplier, None, one.bought_on, True)
                  for one in kin_overdue}
    return _median_lead([*_past_orders(kin), *still_open.values()])


def lead_times_noted(spares: Iterable[Spare]) -> tuple[Spare, ...]:
    """The spares, longest lead time first, whose own goes before the owner's usual one."""
    told = (spare for spare in spares if spare.lead_time_days is not None and (spare.used_on is None or spare.fitting_id is not None)
            and spare.place != ORDERED)  # how long what has not come takes is not known
    return tuple(sorted(told, key=lambda spare: (spare.lead_time_days, spare.bought_on or date.min), reverse=True))


def _past_orders(spares: Sequence[Spare]) -> list[_PastOrder]:
    """The orders that these spares came with: those of one supplier, ordered on one day, that took equally long, are one. It has the
    number of the last of its spares."""
    return list({
        (one.supplier, one.bought_on and one.bought_on - timedelta(days=one.lead_time_days), one.lead_time_days):
        _PastOrder(one.lead_time_days, one.supplier, one.id, one.bought_on) for one in spares}.values())


def _median_lead(orders: Sequence[_PastOrder]) -> Lead | None:
    """The median of their days, half a day rounded up; None of none."""
    if not orders:
        return None
    days, suppliers = [one.days for one in orders], {one.supplier for one in orders}
    came = [one for one in orders if not one.is_overdue]
    last = max(came, key=lambda one: one.bought_on or date.min, default=None)
    overdue_since = min((one.bought_on for one in orders if one.is_overdue), default=None)
    return Lead(math.ceil(median(days)), False, suppliers.pop() if len(suppliers) == 1 else None, last and last.spare_id, len(orders),
                (min(days), max(days)) if len(orders) > 1 else None, overdue_since)
