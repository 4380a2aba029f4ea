"""The plan as calendar entries: iCalendar, RFC 5545, one all-day event for each task and one for the engagement.

An entry keeps its identifier as long as harp, kind and strings stay the same, so that a calendar which takes the file again moves its
entries instead of doubling them. Orders for the bag change with every spare that comes: they are known by their purpose and their place
among the orders of that purpose, counted from the last, for the first come first.

Engagements of one calendar month share what is done for all of them, as on a tour: the same string ordered or changed is one entry. Of two
entries with one identifier a calendar keeps that with the higher SEQUENCE, of equals that with the later DTSTAMP (RFC 5546, 2.1.5). The
earlier engagement has the higher one, for what it needs is needed first; of what is done daily the later one, whose days hold the
earlier's. Engagements of two months share nothing, for no fixed number lets the earlier come first while it lies ahead and the later
afterwards. Nor do they share what it is too late for: that speaks of one day alone.
"""

from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid5

from icalendar import Calendar
from icalendar import Event as Entry

from toneprobe.commands import for_harp
from toneprobe.days import day_text
from toneprobe.phrases import capital
from toneprobe.planning.situation import Plan, Task

PRODUCT = "-//toneprobe//ready//EN"
NAMESPACE = UUID("6d1f0a52-6b1d-4b0e-9a57-5f0d3a4f8c11")  # of this program's calendar entries
LONGEST_MONTH = 31  # days


def write_reminders(plan: Plan, *, harp: str, now: datetime, harp_option: str = "") -> bytes:
    """The plan as the bytes of an .ics file. `now`, with a time zone: the stamp of each entry; harp_option: names the harp in commands."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    stamp = now.astimezone(UTC)
    own_day, month = plan.on.isoformat(), f"{plan.on:%Y-%m}"
    sequence, daily_sequence = LONGEST_MONTH - plan.on.day, plan.on.day
    engagement = _identity(harp, own_day, "engagement")
    calendar.add_component(_entry(f"{harp}: engagement", for_harp(_on_the_day(plan), harp_option), plan.on, engagement, stamp, sequence))
    for task, parts in zip(plan.tasks, _identifying_parts(plan), strict=True):
        identity = _identity(harp, own_day if task.is_too_late else month, *parts)
        summary, description = (for_harp(text, harp_option) for text in (_summary(harp, task, plan.on), _description(plan, task)))
        entry = _entry(summary, description, task.starts_on, identity, stamp, daily_sequence if task.daily_from else sequence)
        if task.daily_from and task.daily_from < task.do_by:
            entry.add("rrule", {"freq": "daily", "until": task.do_by})  # a date as dtstart is one: RFC 5545, 3.3.10
        calendar.add_component(entry)
    return calendar.to_ical()


def _identifying_parts(plan: Plan) -> list[tuple[str, ...]]:
    """What identifies each task of a plan, however much of an order has come; a string changed since is another."""
    found = []
    for k, task in enumerate(plan.tasks):
        if task.kind in ("stock", "pack", "check"):  # their strings differ from plan to plan
            n_after = sum(other.kind == task.kind and other.purpose == task.purpose for other in plan.tasks[k + 1:])
            found.append((task.kind, task.purpose, str(n_after)))
        else:
            fittings = tuple(f"{name} {plan.fitting_of.get(name, '')}" for name in task.strings)
            found.append((task.kind, *fittings, *([task.purpose] if task.purpose else [])))
    return found


def _entry(summary: str, description: str, day: date, identity: str, stamp: datetime, sequence: int) -> Entry:
    entry = Entry()
    entry.add("uid", identity)
    entry.add("dtstamp", stamp)
    entry.add("sequence", sequence)
    entry.add("dtstart", day)
    entry.add("dtend", day + timedelta(days=1))  # exclusive
    entry.add("summary", summary)
    entry.add("description", description)
    entry.add("transp", "TRANSPARENT")  # does not make the day busy
    return entry


def _identity(harp: str, when: str, *parts: str) -> str:
    return f"{uuid5(NAMESPACE, '|'.join((harp, when, *parts)))}@toneprobe"


def _summary(harp: str, task: Task, on: date) -> str:
    """What it is too late for stands as a note, for a phone shows an entry as a thing to do; with the day, which it is deleted with."""
    if task.is_for_afterwards:
        return f"{harp}: {task.action}, for afterwards"
    return f"{harp}: note, too late to {task.action} for {day_text(on)}" if task.is_late else f"{harp}: {task.action}"


def _description(plan: Plan, task: Task) -> str:
    lines = [task.reason]
    lines += [task.latest] if task.latest else []
    lines += [f"{'Instead: ' if task.is_too_late else ''}{task.instead}"] if task.instead else []
    lines += ["Caution: " + " ".join(plan.cautions)] if task.kind in ("change", "consider") else []
    return "\n".join(map(capital, lines))


def _on_the_day(plan: Plan) -> str:
    n_before = len(plan.tasks) - len(plan.late) - len(plan.afterwards)
    counts = f"To do before: {n_before}. Too late for: {len(plan.late)}. Orders for afterwards: {len(plan.afterwards)}."
    return "\n".join((counts, *map(capital, plan.notes)))
