"""Ready for a date: one page of what to do by which day, sorted, each with its reason."""

from __future__ import annotations

from datetime import date, timedelta

from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.planning.changes import Need, assign_spares, find_needs, plan_changes
from toneprobe.planning.situation import KINDS, Plan, Situation, Task
from toneprobe.planning.upkeep import plan_bag, plan_regulation, plan_settling, plan_sweep
from toneprobe.practice import CAUTIONS

MANY_CHANGES = 7  # an octave; more at once keep the whole harp moving (common practice: one octave at a time)


def make_plan(situation: Situation) -> Plan:
    """The plan for an engagement. UsageError where its day is over."""
    if situation.on < situation.today:
        raise UsageError(f"{situation.on} is over: give a day from {situation.today} on")
    needs = find_needs(situation)
    supplies, left = assign_spares(needs, situation)
    changes = plan_changes(needs, supplies, situation)
    late_needs = [task.strings[0] for task in changes if task.kind == "change" and task.is_late and supplies[task.strings[0]].spare is None]
    tasks = (
        *changes, *plan_settling(situation, needs), *plan_bag(left, situation, late_needs), *plan_sweep(situation),
        *plan_regulation(situation),
    )
    cautions = CAUTIONS if any(task.kind in ("change", "consider", "settling") for task in tasks) else ()
    return Plan(situation.on, situation.today, _sorted(tasks, situation), _notes(situation, needs), cautions)


def _sorted(tasks: tuple[Task, ...], situation: Situation) -> tuple[Task, ...]:
    """By day, then by kind, then from the top of the harp."""
    place = {spec.name: k for k, spec in enumerate(situation.instrument.strings)}
    return tuple(sorted(tasks, key=lambda task: (task.do_by, KINDS.index(task.kind), place.get(task.strings[0], 0) if task.strings else 0)))


def _last_times(situation: Situation) -> list[str]:
    """How old the last sweep and the last regulation are; a task asks for new ones where these are too old."""
    swept, regulated = situation.last_sweep_on, situation.last_regulation_on
    lines = [] if swept is None else [f"the last sweep was on {day_text(swept)}, {_days(swept, situation.today)} before this page"]
    if regulated is None:
        return [*lines, "no regulation is noted: a technician's visit once a year is usual"]
    due = regulated + timedelta(days=situation.habits.regulation_every_days)
    return [*lines, f"the last regulation was on {day_text(regulated)}, the next is due on {day_text(due)}"]


def _days(first: date, last: date) -> str:
    n_days = (last - first).days
    return f"{n_days} day{'' if n_days == 1 else 's'}"


def _notes(situation: Situation, needs: tuple[Need, ...]) -> tuple[str, ...]:
    changing = [need.spec.name for need in needs if need.kind != "watch"]
    stand_ins = [need.spec.name for need in needs if need.kind == "stand-in"]
    notes = [*_last_times(situation)]
    if stand_ins:
        notes.append(f"stand-ins still on: {', '.join(stand_ins)}")
    if len(changing) > MANY_CHANGES:
        notes.append(f"{len(changing)} strings to change: one octave a day, the rest of the harp moves until the new ones have settled")
    if not situation.conditions:
        notes.append("no verdicts yet: strings that are dead or false are not known")
    return tuple(notes)
