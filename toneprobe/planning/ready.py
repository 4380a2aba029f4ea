"""Ready for a date: one page of what to do by which day, sorted, each with its reason."""

from collections.abc import Collection, Sequence
from datetime import timedelta

from toneprobe.condition.next_steps import cautions_of
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings import kept_words, unknown_age_words
from toneprobe.phrases import as_strings
from toneprobe.planning.also_due import plan_check, plan_regulation, plan_settling, plan_sweep, record_together
from toneprobe.planning.bag import Bag, order_together, plan_bag
from toneprobe.planning.bare import FRESH, plan_bare
from toneprobe.planning.changes import Need, find_needs, find_supplies, plan_changes, wants_replacing
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
    supplies, spares_left = find_supplies(needs, situation)
    changes, watched, sweep = plan_changes(supplies, situation), find_watched(situation), plan_sweep(situation)
    late = {name for task in changes if task.kind == "change" and task.is_late for name in task.strings}
    late_strings = [one.need.name for one in supplies if one.need.name in late and (one.need.kind != "empty" or one.spare is None)]
    sweep_on = next((task.do_by for task in sweep if not task.is_late and task.purpose != FRESH), None)
    bag = Bag(situation, spares_left, late_strings, wants_replacing(supplies), have_ready_by(watched, situation), sweep_on)
    orders, bag_notes = plan_bag(bag)
    planned = (*changes, *plan_watched(watched, situation), *plan_fallen(situation), *plan_settling(situation, needs, late=late), *orders,
               *sweep, *plan_bare(situation, needs), *plan_regulation(situation, changes))
    due = order_together(planned, today=situation.today, unconfirmed=situation.unconfirmed)
    tasks = record_together((*plan_check(situation, due), *due))
    cautions = cautions_of(situation.instrument.word) if any(task.kind in ("change", "consider", "settling") for task in tasks) else ()
    awaited = {one.need.name for one in supplies if one.awaits_coming}
    notes = (*_notes(situation, needs), coming_words(situation.on_the_way, needed_by=bag.packed_on),
             _may_be_now(situation, changes, awaited), ORDERS_TOGETHER if due != planned else "", *bag_notes)
    place = {spec.name: k for k, spec in enumerate(situation.instrument.strings)}
    in_order = sorted(tasks, key=lambda task: (task.is_for_afterwards, not task.is_late, task.starts_on, KINDS.index(task.kind),
                                               place.get(next(iter(task.strings), ""), 0)))
    return Plan(situation.on, situation.today, tuple(in_order), tuple(filter(None, notes)), cautions, unjudged(situation),
                {name: one.id for name, one in situation.fitted.items()})


def _last_regulation(situation: Situation) -> str:
    """When it was and when the next is due; where that is before the engagement, `plan_regulation` makes a task of it."""
    regulated = situation.last_regulation_on
    if regulated is None:
        return "no regulation is noted: a technician's visit once a year is usual" if situation.instrument.is_harp else ""
    due = regulated + timedelta(days=situation.habits.regulation_every_days)
    return (f"the last regulation was on {day_text(regulated)}, the next {'was due' if due < situation.today else 'is due'} on "
            f"{day_text(due)}")


def _may_be_now(situation: Situation, changes: Sequence[Task], awaited: Collection[str]) -> str:
    """That what is to be changed for a day far away need not wait for it; "" where there is nothing of the kind. awaited: strings still on
    the way, which must wait."""
    far = situation.today + timedelta(days=FAR_DAYS)
    names = [name for task in changes if task.kind == "change" and not task.is_late and (task.best_by or task.do_by) > far
             for name in task.strings if name not in awaited]
    if not names:
        return ""
    ordered = any(name in task.strings for task in changes if task.kind == "order" for name in names)
    unconfirmed = [name for name in names if name in situation.unconfirmed]
    first = f" ({', '.join(as_strings(unconfirmed))} once plucked again)" if unconfirmed else ""
    how = "ordered and changed" if ordered else "changed"
    return (f"{', '.join(as_strings(names))} may as well be {how} now{first}: the days given are those for the engagement, and no string "
            "gets better by waiting")


def _notes(situation: Situation, needs: Sequence[Need]) -> tuple[str, ...]:
    """What no day can be given for, "" for what is not to be said."""
    stand_ins = [need.name for need in needs if need.kind == "stand-in"]
    return (
        f"{day_text(situation.on)} is more than ten years ahead: look at the year" if situation.on - situation.today > LOOK_AT_YEAR else "",
        last_sweep_words(situation), _last_regulation(situation),
        f"stand-ins still on: {', '.join(as_strings(stand_ins))}" if stand_ins else "",
        f"{len(needs)} strings to change: one string at a time and no more than an octave a day, for the other strings move until the new "
        "ones have settled" if len(needs) > MANY_CHANGES else "",
        *unjudged_notes(situation), unknown_age_words(situation.fitted.values(), situation.fresh_on or {}),
        kept_words(situation.instrument, situation.strung))
