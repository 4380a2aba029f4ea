"""Ready for a date: one page of what to do by which day, sorted, each with its reason."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import timedelta

from toneprobe.condition.next_steps import cautions_of
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings import kept_words, on_now, unknown_age_words
from toneprobe.phrases import as_strings
from toneprobe.planning.also_due import plan_check, plan_regulation, plan_settling, plan_sweep, record_together
from toneprobe.planning.bag import PACK, order_together, plan_bag
from toneprobe.planning.bare import FRESH, plan_bare
from toneprobe.planning.changes import Need, assign_spares, find_needs, plan_changes, wants_replacing
from toneprobe.planning.heard import last_sweep_words, unjudged, unjudged_notes
from toneprobe.planning.situation import KINDS, Plan, Situation, Task
from toneprobe.planning.watched import find_watched, have_ready_by, plan_fallen, plan_watched
from toneprobe.spares import coming_words

MANY_CHANGES = 7  # an octave; more at once keep the whole harp moving (common practice: one octave at a time)
LOOK_AT_YEAR = timedelta(days=3652)  # ahead, of an engagement: more likely a slip of the finger (set here: ten years)
TOO_FAR = timedelta(days=36525)  # ahead: no harp is planned for in a hundred years, and the calendar ends with the year 9999 (set here)
FAR_DAYS = 60  # a change that is planned later than that may as well be made now (set here)
ORDERS_TOGETHER = "orders that can go together stand on one day, the earliest of theirs"


def make_plan(situation: Situation) -> Plan:
    """The plan for an engagement. UsageError where its day is over, or a hundred years ahead."""
    if situation.on < situation.today:
        raise UsageError(f"{day_text(situation.on)} is over: give a day from {day_text(situation.today)} on")
    if situation.on - situation.today > TOO_FAR:
        raise UsageError(f"{day_text(situation.on)} is more than a hundred years ahead: look at the year")
    needs = find_needs(situation)
    supplies, left = assign_spares(needs, situation)
    changes = plan_changes(needs, supplies, situation)
    watched = find_watched(situation)
    late = {name for task in changes if task.kind == "change" and task.is_late for name in task.strings}
    late_needs = [need.spec.name for need in needs
                  if need.spec.name in late and (need.kind != "empty" or supplies[need.spec.name].spare is None)]
    sweep = plan_sweep(situation)
    bag, bag_notes = plan_bag(left, situation, late_needs, watched=have_ready_by(watched, situation),
                              to_replace=wants_replacing(needs, supplies, situation),
                              sweep_on=next((task.do_by for task in sweep if not task.is_late and task.purpose != FRESH), None))
    planned = (*changes, *plan_watched(watched, situation), *plan_fallen(situation), *plan_settling(situation, needs, late=late), *bag,
               *sweep, *plan_bare(situation, needs), *plan_regulation(situation, changes))
    due = order_together(planned, today=situation.today, unchecked=situation.unchecked)
    tasks = record_together((*plan_check(situation, due), *due))
    cautions = cautions_of(situation.instrument.word) if any(task.kind in ("change", "consider", "settling") for task in tasks) else ()
    together = [ORDERS_TOGETHER] if due != planned else []
    awaited = {name for name, supply in supplies.items() if supply.waits}
    coming = coming_words(situation.on_the_way, needed_by=max(situation.today, situation.on - PACK))
    notes = (*_notes(situation, needs), *([coming] if coming else []), *_may_be_now(situation, changes, awaited), *together, *bag_notes)
    return Plan(situation.on, situation.today, _sorted(tasks, situation), notes, cautions, unjudged(situation),
                {name: one.id for name, one in on_now(situation.fittings).items()})


def _sorted(tasks: tuple[Task, ...], situation: Situation) -> tuple[Task, ...]:
    """What it is too late for first, then by day, by kind, and from the top of the harp; last the orders that come only after it."""
    place = {spec.name: k for k, spec in enumerate(situation.instrument.strings)}
    return tuple(sorted(tasks, key=lambda task: (task.is_for_afterwards, not task.is_late, task.starts_on, KINDS.index(task.kind),
                                                 place.get(next(iter(task.strings), ""), 0))))


def _last_times(situation: Situation) -> list[str]:
    """How old the last sweep and the last regulation are; a task asks for new ones where these are too old."""
    swept, regulated = last_sweep_words(situation), situation.last_regulation_on
    lines = [swept] if swept else []
    if regulated is None:
        usual = ["no regulation is noted: a technician's visit once a year is usual"] if situation.instrument.is_harp else []
        return [*lines, *usual]
    due = regulated + timedelta(days=situation.habits.regulation_every_days)
    is_due = "was due" if due < situation.today else "is due"
    return [*lines, f"the last regulation was on {day_text(regulated)}, the next {is_due} on {day_text(due)}"]


def _may_be_now(situation: Situation, changes: Sequence[Task], awaited: Collection[str]) -> list[str]:
    """That what is to be changed for a day far away need not wait for it, but for strings that are still on the way."""
    far = situation.today + timedelta(days=FAR_DAYS)
    names = [name for task in changes if task.kind == "change" and not task.is_late and (task.best_by or task.do_by) > far
             for name in task.strings if name not in awaited]
    ordered = any(name in task.strings for task in changes if task.kind == "order" for name in names)
    unchecked = [name for name in names if name in situation.unchecked]
    first = f" ({', '.join(as_strings(unchecked))} once plucked again)" if unchecked else ""
    how = "ordered and changed" if ordered else "changed"
    return [f"{', '.join(as_strings(names))} may as well be {how} now{first}: the days given are those for the engagement, and no string "
            "gets better by waiting"] if names else []


def _notes(situation: Situation, needs: tuple[Need, ...]) -> tuple[str, ...]:
    stand_ins = [need.spec.name for need in needs if need.kind == "stand-in"]
    is_far = situation.on - situation.today > LOOK_AT_YEAR
    notes = [*([f"{day_text(situation.on)} is more than ten years ahead: look at the year"] if is_far else []), *_last_times(situation)]
    if stand_ins:
        notes.append(f"stand-ins still on: {', '.join(as_strings(stand_ins))}")
    if len(needs) > MANY_CHANGES:
        notes.append(f"{len(needs)} strings to change: one string at a time and no more than an octave a day, for the other strings move "
                     "until the new ones have settled")
    unknown = unknown_age_words(on_now(situation.fittings).values(), situation.fresh_on or {})
    kept = kept_words(situation.instrument, situation.strung)
    return (*notes, *unjudged_notes(situation), *([unknown] if unknown else []), *([kept] if kept else []))
