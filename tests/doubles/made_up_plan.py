"""What a plan is made from: a harp in order, its bag, its log and its verdicts, of which a test changes what it asks about."""

from datetime import UTC, date, datetime, timedelta

import icalendar

from toneprobe.condition import Condition
from toneprobe.fittings import Fitting
from toneprobe.instrument import load_instrument
from toneprobe.measure.figure import Figure
from toneprobe.planning import Situation
from toneprobe.planning.reminders import write_reminders
from toneprobe.settling import USUAL_TOLERANCE, DateRange, Settling
from toneprobe.spares import Spare

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


def took(string, days):
    """A spare that is on the harp, and took so many days to come: what its owner knows of an order."""
    return spare(string, lead_time_days=days, used_on=TODAY, fitting_id=99)


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


def coming(string, ordered_on, **fields):
    return spare(string, place="ordered", bought_on=ordered_on, **fields)


def settling(string, state="settling", early=6, likely=8, late=12, month=6):
    days = None if early is None else DateRange(*(date(2024, month, day) for day in (early, likely, late)))
    return Settling(string, state, TODAY, 5, 6, Figure(-1.0, 0.3), Figure(-4.0, 0.5), USUAL_TOLERANCE, days, None, Figure(4.0, 0.5),
                    (), ("falls steadily and does not slow down",), "")


STALE = spare("6D", bought_on=date(2022, 1, 10))  # at its best until 10 January 2024: two years of 365 days
STAMP = datetime(2024, 6, 1, 9, 30, tzinfo=UTC)


def entries_of(text):
    return [entry for entry in icalendar.Calendar.from_ical(text).walk("VEVENT")]


def reminders_of(plan, *, harp="harp", minutes=0):
    """Its entries in the calendar, as they are read back."""
    return entries_of(write_reminders(plan, harp=harp, now=STAMP + timedelta(minutes=minutes)))
