"""The plan as calendar entries: iCalendar, RFC 5545, one all-day event for each task and one for the engagement.

An entry keeps its identifier as long as harp, engagement, kind and strings stay the same, so that a calendar which takes the file again
moves its entries and does not double them.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from uuid import UUID, uuid5

from icalendar import Calendar
from icalendar import Event as Entry

from toneprobe.days import day_text
from toneprobe.planning.situation import Plan, Task

PRODUCT = "-//toneprobe//ready//EN"
NAMESPACE = UUID("6d1f0a52-6b1d-4b0e-9a57-5f0d3a4f8c11")  # of this program's calendar entries


def write_reminders(plan: Plan, *, harp: str, now: datetime) -> bytes:
    """The plan as the bytes of an .ics file. `now` with a time zone is the stamp of each entry."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    stamp = now.astimezone(UTC)
    calendar.add_component(_entry(f"{harp}: engagement", _on_the_day(plan), plan.on, _identity(harp, plan.on, "engagement"), stamp))
    for task in plan.tasks:
        identity = _identity(harp, plan.on, task.kind, *task.strings)
        calendar.add_component(_entry(_summary(harp, task), _description(plan, task), task.do_by, identity, stamp))
    return calendar.to_ical()


def _entry(summary: str, description: str, day: date, identity: str, stamp: datetime) -> Entry:
    entry = Entry()
    entry.add("uid", identity)
    entry.add("dtstamp", stamp)
    entry.add("dtstart", day)
    entry.add("dtend", day + timedelta(days=1))  # exclusive
    entry.add("summary", summary)
    entry.add("description", description)
    entry.add("transp", "TRANSPARENT")  # does not make the day busy
    return entry


def _identity(harp: str, on: date, *parts: str) -> str:
    return f"{uuid5(NAMESPACE, '|'.join((harp, on.isoformat(), *parts)))}@toneprobe"


def _summary(harp: str, task: Task) -> str:
    return f"{harp}: {task.action}" + (" (too late)" if task.is_late else "")


def _description(plan: Plan, task: Task) -> str:
    lines = [task.reason]
    lines += [f"Better by {day_text(task.best_by)}."] if task.best_by else []
    lines += [f"Instead: {task.instead}"] if task.instead else []
    lines += ["Caution: " + " ".join(plan.cautions)] if task.kind in ("change", "consider") else []
    return "\n".join(lines)


def _on_the_day(plan: Plan) -> str:
    return "\n".join((f"To do before: {len(plan.tasks)}. Too late for: {len(plan.late)}.", *plan.notes))
