"""What to order, and by when: gaps in the set, strings about to be used, and spares about to pass their best.

An order is timed backwards by the lead time (`lead_times`) from the day on which it is wanted. What is on the way is not ordered again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING, Literal

from toneprobe.days import day_text
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.practice import USUAL_HABITS, Habits
from toneprobe.spares.full_set import SetCheck, check_full_set
from toneprobe.spares.lead_times import Lead, lead_of
from toneprobe.spares.spare import Spare, fits, on_the_way, shelf_age, unused

if TYPE_CHECKING:
    from toneprobe.lives import Demand

LOOK_AHEAD_DAYS = 90  # spares that pass their best later are not ordered for yet (set here)


@dataclass(frozen=True)
class Cause:
    """Why a string is ordered."""

    kind: Literal["missing", "other kind", "past its best", "passing its best", "put on"]  # "put on": nothing lacks but what will be
    n_put_on: int = 0  # besides the one to keep
    best_until: date | None = None  # of one that is passing its best
    n_past_best: int = 0  # of its own spares, wherever they lie
    n_on_the_way: int = 0  # ordered before, which do not suffice

    @property
    def is_age(self) -> bool:
        return self.kind in ("past its best", "passing its best")

    @property
    def on_the_way_words(self) -> str:
        """ ", one is on the way", the end of `words`; "" where nothing is."""
        return f", {'one is' if self.n_on_the_way == 1 else f'{self.n_on_the_way} are'} on the way" if self.n_on_the_way else ""

    def words(self, *, is_other: bool = False) -> str:
        """ "no spare, one to be put on, one to keep, one is on the way". is_other: another spare of the string is going onto the harp, and
        the cause is what is left."""
        spare = "the other spare" if is_other else "the spare"
        past = "all spares are past their best" if self.n_past_best > 1 and not is_other else (
            f"{spare if is_other else 'the only spare'} is past its best")
        lacking = {
            "missing": "no spare", "other kind": f"{spare} is of another material or gauge",
            "past its best": past,
            "passing its best": f"{spare} passes its best on {day_text(self.best_until)}" if self.best_until else "", "put on": "",
        }[self.kind]
        how_many = "one" if self.n_put_on == 1 else self.n_put_on
        wanted = f"{how_many} to be put on, one to keep" if self.n_put_on else ""
        return ", ".join(text for text in (lacking, wanted) if text) + self.on_the_way_words


@dataclass(frozen=True)
class Order:
    string: str
    note: str
    material: str | None
    gauge_mm: float | None
    n: int
    wanted_on: date
    order_by: date  # never before today: see is_late
    arrives_on: date  # if ordered on that day
    lead: Lead
    reason: str  # the cause in words
    cause: Cause

    @property
    def is_late(self) -> bool:
        """Ordered today it would arrive after the day on which it is wanted."""
        return self.arrives_on > self.wanted_on


@dataclass(frozen=True)
class Holding:
    """How many good spares of a register to hold: one each, or as many as will likely be needed, whichever is more."""

    material: str
    register: str
    n_strings: int
    n_good: int
    suggested: int
    expected: float | None  # ends within the days looked at; None where the log is too short to say
    ahead_days: float
    reason: str


def list_orders(
    spares: Iterable[Spare], instrument: Instrument, *, today: date, needs: Mapping[str, int] | None = None,
    wanted_on: date | None = None, habits: Habits = USUAL_HABITS, bought: Iterable[Spare] | None = None,
) -> tuple[Order, ...]:
    """Orders by the day on which they must go out, less what is on the way.

    `needs`: how many of each string will be put on soon, besides the one that stays in the bag. `wanted_on`: when the set must be full
    (None: as soon as may be); a spare past its best by then does not fill it. `bought`: those that tell the lead times, where `spares`
    are not as the book has them.
    """
    stock, full_on = tuple(spares), max(today, wanted_on or today)
    bought = stock if bought is None else tuple(bought)
    now, then = ({one.string: one for one in check_full_set(stock, instrument, today=day, habits=habits)} for day in (today, full_on))
    orders = []
    for spec in instrument.strings:
        check, lead, n_to_put_on = now[spec.name], lead_of(spec, bought, habits, today=today), (needs or {}).get(spec.name, 0)
        n_wanted = 1 + n_to_put_on
        n_short_then = n_wanted - then[spec.name].n_good
        n_coming = sum(fits(spare, spec) for spare in on_the_way(stock))
        if check.n_good < n_wanted:
            cause = Cause("put on" if check.gap in ("", "at home") else check.gap, n_to_put_on, None, check.n_past_best, n_coming)
            n, day = n_short_then - n_coming, wanted_on or today + timedelta(days=lead.days)
        else:
            enough_until = _enough_until([s for s in unused(stock) if fits(s, spec)], n_wanted, today=today, habits=habits)
            is_soon = enough_until <= today + timedelta(days=LOOK_AHEAD_DAYS)
            cause = Cause("passing its best", best_until=enough_until, n_past_best=check.n_past_best, n_on_the_way=n_coming)
            n, day = (max(1, n_short_then) if is_soon else n_short_then) - n_coming, enough_until if is_soon else full_on
        if n > 0:
            orders.append(_order(spec, n, day, today, lead, cause))
    return tuple(sorted(orders, key=lambda order: order.order_by))


def suggest_holding(demands: Sequence[Demand], checks: Sequence[SetCheck], groups: Mapping[str, tuple[str, str]]) -> tuple[Holding, ...]:
    """What to hold in each register, from the owner's own lives; `groups` gives material family and register of each position."""
    found = []
    for one in demands:
        own = [check for check in checks if groups.get(check.string) == (one.material, one.register)]
        reason = f"one of each; {one.reason}"
        if one.enough is not None:
            reason = f"about {one.expected:.1f} will be needed in {one.ahead_days:.0f} days, nine times in ten at most {one.enough}"
        suggested = max(len(own), one.n_strings, one.enough or 0)  # of a position with a stand-in too
        found.append(Holding(one.material, one.register, one.n_strings, sum(check.n_good for check in own), suggested, one.expected,
                             one.ahead_days, reason))
    return tuple(found)


def _order(spec: StringSpec, n: int, wanted_on: date, today: date, lead: Lead, cause: Cause) -> Order:
    order_by = lead.order_by(wanted_on, today)
    arrives_on = order_by + timedelta(days=lead.days)
    return Order(spec.name, spec.note, spec.material, spec.gauge_mm, n, wanted_on, order_by, arrives_on, lead, cause.words(), cause)


def _enough_until(right: Sequence[Spare], n_wanted: int, *, today: date, habits: Habits) -> date:
    """The last day on which as many as are wanted are at their best; today they are."""
    ends = sorted(age.best_until or date.max for age in (shelf_age(s, today=today, habits=habits) for s in right) if not age.is_past_best)
    return ends[len(ends) - n_wanted]
