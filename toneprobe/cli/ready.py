"""`toneprobe ready`: one page for an engagement, what to do by which day."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.days_to_come import tell_days_to_come, tell_sweeps_to_come
from toneprobe.cli.options import BookOption, HarpOption, JsonOption, any_day, day_of, open_harp
from toneprobe.cli.screen import HARP_OPTION, hand_out
from toneprobe.cli.table import print_cautions, print_heading, print_paragraph
from toneprobe.days import day_by_name, day_text, planner_day, weekday_text
from toneprobe.errors import UsageError
from toneprobe.exchange.writing import write_octets
from toneprobe.phrases import count_of
from toneprobe.report.words import sentence

if TYPE_CHECKING:
    from datetime import date as Day

    from rich.console import Console

    from toneprobe.planning import Plan, Task


def ready(
    on: Annotated[str, typer.Option("--on", metavar="DATE", help="The day of the engagement; tomorrow, Friday: the next one.")],
    ics: Annotated[str | None, typer.Option("--ics", metavar="FILE", help="Write the dates for a calendar.")] = None,
    date: Annotated[str | None, typer.Option("--date", metavar="DATE", help="Plan as of this day; else today.")] = None,
    json: JsonOption = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """What to do by when, to be ready for a date.

    Take the calendar of --ics again after each change: its entries move and are not doubled. Delete those whose order has come or whose
    day is over. On a tour take one calendar for each engagement: what those of one calendar month ask for is entered once, on the day that
    the earliest of them needs. What those of the next month ask for too is entered again: delete the later. If an engagement is moved,
    delete its entry on the old day and the notes that name that day, then take the calendar for the new one.
    """
    from toneprobe.planning import checked_together, make_plan
    from toneprobe.upkeep.engagement import situation_of

    opened, chosen = open_harp(book, harp)
    today = day_of(date)
    situation = situation_of(opened, chosen, today=today, on=_day_of_engagement(on, after=today))
    plan = make_plan(situation)
    console = hand_out(json, "plan", chosen.name, on=plan.on, today=plan.today, tasks=plan.tasks, notes=plan.notes,
                       cautions=plan.cautions, unjudged=plan.unjudged, on_the_way=situation.on_the_way)
    _print_plan(console, checked_together(plan), harp=chosen.name)
    tell_days_to_come(opened, chosen.id, console, string=None)
    tell_sweeps_to_come(opened, chosen.id, console)
    if ics:
        _write_calendar(plan, harp=chosen.name, target=ics)
        console.print(f"\nWritten: {ics}", soft_wrap=True)


def _day_of_engagement(text: str, *, after: Day) -> Day:
    day = day_by_name(text, after=after)
    if day is None and text.strip().isalpha():
        raise UsageError(f"{text!r} names no day: write it as 2026-05-03 for 3 May 2026, 'Friday' for the next one, or 'tomorrow'")
    return day or any_day(text)


def _print_plan(console: Console, plan: Plan, *, harp: str) -> None:
    left = f"{count_of(plan.days_left, 'day')} left from {day_text(plan.today)}" if plan.days_left else "this is the day"
    print_heading(console, f"{harp}, ready for {weekday_text(plan.on)}: {left}")
    print_paragraph(console, plan_counts(plan))
    for task in plan.tasks:
        _print_task(console, task)
    _print_notes(console, plan)


def plan_counts(plan: Plan) -> str:
    """How much there is to do, how much of it too late, and apart from it what is ordered for the spare set alone."""
    known = f", as far as is known: {count_of(len(plan.unjudged), 'string')} without a verdict" if plan.unjudged else ""
    n, n_late, n_after = len(plan.tasks) - len(plan.afterwards), len(plan.late), len(plan.afterwards)
    if not n:
        told = f"Nothing to do{known}." if known else "Nothing to do: all is in order."
    elif n == n_late == 1:
        told = "1 thing to do, and it is too late for it: see what to do instead."
    elif n_late:
        told = f"{count_of(n, 'thing')} to do; for {n_late} of them it is too late, see what to do instead."
    else:
        comes = " if what is overdue comes soon" if any(task.awaits_overdue for task in plan.tasks) else ""
        told = f"{count_of(n, 'thing')} to do, all in time{comes}{known}."
    if not n_after:
        return told
    orders = "1 order for the bag comes" if n_after == 1 else f"{n_after} orders for the bag come"
    return f"{told} {orders} only after it."


def _print_notes(console: Console, plan: Plan) -> None:
    if plan.notes:
        console.print()
    for note in plan.notes:
        print_paragraph(console, f"Note: {sentence(note)}")
    if plan.cautions:
        print_cautions(console, plan.cautions)


def _print_task(console: Console, task: Task) -> None:
    console.print()
    when = "AFTERWARDS  " if task.is_for_afterwards else "TOO LATE  " if task.is_late else f"{planner_day(task.starts_on)}  "
    indent = len(when)
    print_paragraph(console, when + sentence(task.action).removesuffix("."), hang=indent)
    print_paragraph(console, f"{sentence(task.reason)} {task.latest}".rstrip(), indent=indent)
    if task.instead:
        print_paragraph(console, f"{'Instead: ' if task.is_too_late else ''}{sentence(task.instead)}", indent=indent)


def _write_calendar(plan: Plan, *, harp: str, target: str) -> None:
    from datetime import UTC, datetime

    from toneprobe.planning.reminders import write_reminders

    write_octets(write_reminders(plan, harp=harp, now=datetime.now(UTC), harp_option=HARP_OPTION.get()), target)
