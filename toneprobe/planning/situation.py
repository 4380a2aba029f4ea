"""What a plan is made from, and what it is made of."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from toneprobe.condition import Condition
from toneprobe.days import day_text
from toneprobe.fittings import Fitting, as_strung, on_now
from toneprobe.instrument import Instrument
from toneprobe.planning.deadlines import SettleTime, own_settle_days, settle_time
from toneprobe.practice import LAST_WEEK_DAYS, USUAL_HABITS, Habits
from toneprobe.settling import Settling
from toneprobe.spares import Coming, Spare, coming_spares

# check: pluck again; consider: pluck one that is only watched again, before its change is considered; stock: order for the bag
KINDS = ("check", "order", "change", "consider", "settling", "technician", "sweep", "regulation", "stock", "pack")
ONLY_IF_CONFIRMED = "only if the check confirms it"  # of an order for a string that is plucked again before money is spent on it


@dataclass(frozen=True)
class Situation:
    """All that is known of one harp on the day of planning. Mappings are by string name."""

    instrument: Instrument
    today: date
    on: date  # the engagement
    fittings: tuple[Fitting, ...]  # the whole log of this harp
    conditions: Mapping[str, Condition] = field(default_factory=dict)  # latest verdicts, of the strings that are on
    recorded_fresh: frozenset[str] = frozenset()  # strings without a verdict because their last sweep is their fresh baseline
    settling: Mapping[str, Settling] = field(default_factory=dict)  # of strings that are on: put on lately, or old and slipping
    settled_days: Mapping[int, date] = field(default_factory=dict)  # by fitting id: the day on which it had settled
    spares: tuple[Spare, ...] = ()  # those on the way too
    heard_on: Mapping[str, date] = field(default_factory=dict)  # the day of the last sweep that heard it
    last_regulation_on: date | None = None
    habits: Habits = USUAL_HABITS
    unconfirmed: frozenset[str] = frozenset()  # strings found dead or false for the first time, by few plucks
    judged_on: Mapping[str, date] = field(default_factory=dict)  # the day of the sweep that each of the verdicts is from
    bare: Mapping[str, str] = field(default_factory=dict)  # new strings that wait for their fresh baseline: what each lacks yet, "" nothing
    fresh_on: Mapping[str, date] | None = None  # the day of its fresh baseline, of the strings on that have one; None: not looked up

    @cached_property
    def fitted(self) -> dict[str, Fitting]:
        """The string that is on each position."""
        return on_now(self.fittings)

    @cached_property
    def strung(self) -> Instrument:
        """The instrument with the materials that its owner keeps on it."""
        return as_strung(self.instrument, self.fittings)

    @cached_property
    def on_the_way(self) -> tuple[Coming, ...]:
        """What is ordered and has not come yet, the first expected first."""
        return coming_spares(self.spares, self.strung, today=self.today, habits=self.habits)

    @property
    def is_close(self) -> bool:
        """The last week: a wire too is changed only of need by then."""
        return (self.on - self.today).days < LAST_WEEK_DAYS

    def settle_time(self, material: str | None) -> SettleTime:
        """How long before the engagement a string of that material must be on."""
        on = self.fitted
        foretold = {on[string].id: one.settled.likely for string, one in self.settling.items()
                    if string in on and not on[string].is_stand_in and one.state == "settling" and one.n_intervals and one.settled}
        return settle_time(material, own_settle_days(self.fittings, {**foretold, **self.settled_days}, self.instrument), self.habits)


@dataclass(frozen=True)
class Task:
    """One thing to do, by one day, for one reason."""

    kind: str  # one of KINDS
    do_by: date  # the last sensible day, of orders that go together the earliest of theirs; today where that is over
    strings: tuple[str, ...]
    action: str  # "change 3C (gut)"
    reason: str
    best_by: date | None = None  # the day to do it; `do_by` is then the latest
    is_late: bool = False  # it can no longer be done in time
    instead: str = ""  # what to do then
    daily_from: date | None = None  # done each day from then until do_by
    purpose: str = ""  # of orders for the bag: what they make up for, as long as they are open the same; of a sweep: the fresh one
    is_recording: bool = False  # strings are plucked into a recording, which may be one for several such tasks
    to_change: tuple[str, ...] = ()  # strings for whose change alone it is done: were they sound, it would not be
    check: str = ""  # of a check of settling: the action without "check" and the string, the same words for each string
    awaits_overdue: bool = False  # what goes on is on the way, and should have come already

    @property
    def starts_on(self) -> date:
        """The day under which every screen and the calendar show it: the good day where there is one, else the last."""
        return self.daily_from or self.best_by or self.do_by

    @property
    def is_for_afterwards(self) -> bool:
        """An order for the bag that comes only after the engagement: nothing that is played on waits for it."""
        return self.is_late and self.kind == "stock"

    @property
    def is_too_late(self) -> bool:
        """It is too late for it before the engagement, and something else is to be done instead."""
        return self.is_late and self.kind != "stock"

    @property
    def is_order(self) -> bool:
        return self.kind in ("order", "stock")

    @property
    def latest(self) -> str:
        """ "Latest 28 January 2027.", "" where it is shown under its last day."""
        return f"Latest {day_text(self.do_by)}." if self.best_by else ""


@dataclass(frozen=True)
class Plan:
    """The way to an engagement: what it is too late for, then the rest sorted by date, last the orders that come only after it."""

    on: date
    today: date
    tasks: tuple[Task, ...]
    notes: tuple[str, ...]  # what no day can be given for
    cautions: tuple[str, ...]  # shown wherever a string is to be changed
    unjudged: tuple[str, ...] = ()  # strings that no sweep could judge
    fitting_of: Mapping[str, int] = field(default_factory=dict)  # by string, the number in the log of what is on

    @property
    def days_left(self) -> int:
        return (self.on - self.today).days

    @property
    def late(self) -> tuple[Task, ...]:
        """What can no longer be done in time for the engagement."""
        return tuple(task for task in self.tasks if task.is_too_late)

    @property
    def afterwards(self) -> tuple[Task, ...]:
        return tuple(task for task in self.tasks if task.is_for_afterwards)
