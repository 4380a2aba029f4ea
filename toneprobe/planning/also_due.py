"""What else is due before an engagement: strings still settling, the last sweep, the technician."""

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import date, timedelta

from toneprobe.days import day_text
from toneprobe.fittings import Fitting, first_day_text, material_of
from toneprobe.instrument import find_string
from toneprobe.phrases import as_string, as_strings, one_after_another
from toneprobe.planning.bag import TOGETHER, days_together
from toneprobe.planning.bare import FRESH
from toneprobe.planning.changes import TUNE_OFTEN, Need
from toneprobe.planning.heard import finds_nothing, harp_heard_on, strings_on, why_sweep
from toneprobe.planning.situation import Plan, Situation, Task
from toneprobe.practice import BEST_BEFORE, LAST_WEEK_DAYS, PLAN_AHEAD_DAYS, material_family
from toneprobe.settling import Settling, when_settled

WEEK = timedelta(days=LAST_WEEK_DAYS)  # before the engagement, so that what is found can still be put right
FINDS_CHANGED = f"what it finds is best changed {BEST_BEFORE}"
ONE_RECORDING = "One recording, three plucks a string, serves for all that is to be plucked that day"


def plan_settling(situation: Situation, needs: Iterable[Need], *, late: Collection[str]) -> tuple[Task, ...]:
    """Strings put on lately: whether they will have settled. A stand-in that it is too `late` to change stays on, and creeps as a new
    string does."""
    changing = {need.spec.name for need in needs if need.kind != "stand-in" or need.spec.name not in late}
    tasks = []
    for name, fitting in situation.fitted.items():
        found = situation.settling.get(name)
        if name not in changing and (found is None or found.state != "settled"):
            tasks.append(_settling_task(name, found, situation) if found else _unchecked_task(name, fitting, situation))
    return tuple(task for task in tasks if task is not None)


def plan_sweep(situation: Situation) -> tuple[Task, ...]:
    """A sweep of the harp recent enough to act on: one of a few strings says nothing of the others. Of a harp never swept the fresh one
    first, against which that is measured. Of one swept but without any baseline none: it would find nothing, and where strings may be
    old a fresh one is not due."""
    if not situation.heard_on:
        fresh = Task("sweep", situation.today, (), "record a fresh sweep now, and give it to 'toneprobe sweep' with --fresh",
                     f"{why_sweep(situation)}: what strings have lost shows only against a fresh sweep, made when they were new and "
                     "settled", purpose=FRESH)
        swept = replace(situation, heard_on=dict.fromkeys(strings_on(situation), situation.today))
        reason = f"it tells what has changed since the fresh one; {FINDS_CHANGED}"
        return (fresh, *(replace(task, reason=reason) for task in plan_sweep(swept)))
    if finds_nothing(situation):
        return ()
    last, today = harp_heard_on(situation), situation.today
    fresh_enough = situation.on - timedelta(days=PLAN_AHEAD_DAYS[0] + situation.habits.sweep_every_days)
    if last is not None and last >= fresh_enough and (today - last).days <= situation.habits.sweep_every_days:
        return ()
    by, late = situation.on - timedelta(days=PLAN_AHEAD_DAYS[0]), today > situation.on - WEEK
    reason, instead = f"{why_sweep(situation)}; {FINDS_CHANGED}", ""
    if late:
        reason, instead = why_sweep(situation), f"sweep today all the same, to know which strings to nurse; {_still_changeable(situation)}"
    elif today > situation.on - timedelta(days=PLAN_AHEAD_DAYS[1]):
        reason = f"{why_sweep(situation)}; of what it finds, {_still_changeable(situation)}"
    return (Task("sweep", max(today, by), (), "record a sweep", reason, is_late=late, instead=instead, is_recording=True),)


def _still_changeable(situation: Situation) -> str:
    """ "nylon and gut can still be changed until 24 June 2024, wire until 29 June 2024": what is possible once the good days are over."""
    until: dict[date, list[str]] = {}
    for family, material in {material_family(spec.material) or "the rest": spec.material for spec in situation.strung.strings}.items():
        until.setdefault(situation.settle_time(material).last_day(situation.on), []).append(family)
    over = [family for day in sorted(until) if day < situation.today for family in until[day]]
    can = [f"{one_after_another(until[day])}{'' if k else ' can still be changed'} until {day_text(day)}"
           for k, day in enumerate(day for day in sorted(until) if day >= situation.today)]
    return ", ".join([*([f"{one_after_another(over)} can no longer be changed in time"] if over else []), *can])


def plan_check(situation: Situation, tasks: Iterable[Task]) -> tuple[Task, ...]:
    """The check of strings found dead or false for the first time: they are plucked again the day before the first of them is ordered or
    changed, or ordered for afterwards; today where orders go out today with which theirs could go."""
    tasks = tuple(tasks)
    unconfirmed_in = {task: situation.unconfirmed.intersection(
        task.strings if task.kind == "change" and not task.is_late else task.to_change) for task in tasks}
    waiting = [task for task, found in unconfirmed_in.items() if found]
    if not waiting:
        return ()
    names = tuple(spec.name for spec in situation.instrument.strings if any(spec.name in unconfirmed_in[task] for task in waiting))
    due = min(task.starts_on for task in waiting)
    orders_go_today = any(task.is_order and task.do_by == situation.today for task in tasks)
    is_today = orders_go_today and due - situation.today <= TOGETHER
    by = situation.today if is_today else max(situation.today, due - timedelta(days=1))
    times = "three times each" if len(names) > 1 else "three times"
    again = f"pluck {', '.join(as_strings(names))} again, {times}, with the neighbours damped, and give it to 'toneprobe sweep'"
    what_waits = "Order" if any(task.is_order for task in waiting if task.starts_on == due) else "Change"
    only_then = "" if by < due else f". {what_waits} only then"
    return (Task("check", by, names, f"first {again}" if only_then else again,
                 f"one sweep alone says so, of few plucks: check it before you spend money{only_then}", is_recording=True),)


def record_together(tasks: Iterable[Task]) -> tuple[Task, ...]:
    """The tasks, with what is to be recorded within a week on the first of its days: one recording serves for all of it."""
    tasks = tuple(tasks)
    recordings = {task for task in tasks if task.is_recording}
    day_of = days_together((task.starts_on for task in recordings), within=WEEK)
    n_on = Counter(day_of[task.starts_on] for task in recordings)

    def with_others(task: Task) -> Task:
        day = day_of[task.starts_on]
        moved = replace(task, best_by=day) if day < task.starts_on else task
        return replace(moved, reason=f"{task.reason}{'' if task.reason.endswith('.') else '.'} {ONE_RECORDING}")

    return tuple(with_others(task) if task in recordings and n_on[day_of[task.starts_on]] > 1 else task for task in tasks)


def plan_regulation(situation: Situation, changes: Iterable[Task]) -> tuple[Task, ...]:
    """The technician's visit, where it falls due before the engagement: a week after the last change before it, for discs cannot be set
    by a string that still falls, and a week before the engagement at the latest."""
    last = situation.last_regulation_on
    if last is None:
        return ()
    due = last + timedelta(days=situation.habits.regulation_every_days)
    if due > situation.on:
        return ()
    last_day = max(situation.today, situation.on - WEEK)
    to_change = [task for task in changes if task.kind == "change" and not task.is_late]
    changed = [task.starts_on + WEEK for task in to_change if task.starts_on < last_day]
    by = min(max(situation.today, due, *changed), last_day)
    late = situation.today > situation.on - WEEK
    fails = " unless a pedal, lever or disc fails" if situation.instrument.has_mechanism else ""
    instead = f"leave it until after the engagement{fails}" if late else ""
    after = [] if late else [name for task in to_change if task.starts_on >= by for name in task.strings]
    but = f", but for {one_after_another(as_strings(after))}, to be changed only after it" if after else ""
    reason = f"the last one was on {day_text(last)}; change doubtful strings before it{but}"
    return (Task("regulation", by, (), f"have the {situation.instrument.word} regulated", reason, is_late=late, instead=instead),)


def _settling_task(name: str, found: Settling, situation: Situation) -> Task:
    if found.state == "slipping":
        by, action = max(situation.today, situation.on - WEEK), f"have knot and pin of {as_string(name)} looked at"
        return Task("technician", by, (name,), action, found.reasons[0], instead=f"until then {TUNE_OFTEN}")
    if found.settled is None:
        return _check_task(name, "once more" if found.due_on else "again", situation.today, found.reasons[0])
    days = found.settled
    when = when_settled(days, situation.today)
    by = min(max(situation.today, days.late), situation.on)
    if days.late <= situation.on:
        return _check_task(name, "daily until it has settled", by, f"{when}: in time", daily_from=situation.today)
    chance = "it may not have settled by the day" if days.likely <= situation.on else "it will not have settled by the day"
    return _tune_up_task(name, f"{when}: {chance}", situation)


def _unchecked_task(name: str, fitting: Fitting, situation: Situation) -> Task | None:
    """A string put on lately whose pitch nobody has checked."""
    if fitting.fitted_on is None or fitting.id in situation.settled_days:
        return None
    time = situation.settle_time(material_of(fitting, find_string(situation.instrument, name)))
    done = fitting.fitted_on + timedelta(days=time.days)
    if done < situation.today:
        return None
    reason = f"put on {first_day_text(fitting)} and not checked yet; {time.source}, so about {day_text(done)}"
    if done > situation.on:
        return _tune_up_task(name, f"{reason}: it will not have settled by the day", situation)
    return _check_task(name, "daily, before you tune it and after", done, reason, daily_from=situation.today)


def _tune_up_task(name: str, reason: str, situation: Situation) -> Task:
    """Of a string that may still fall on the day. It is never too late for that: each time it is brought up leaves it less to fall."""
    often = "tune it up as often as you can until then, which is what lets it settle; on the day " if situation.today < situation.on else ""
    return _check_task(name, "daily and tune it up", situation.on, reason, daily_from=situation.today,
                       instead=f"{often}{TUNE_OFTEN}")


def _check_task(name: str, check: str, by: date, reason: str, *, daily_from: date | None = None, instead: str = "") -> Task:
    return Task("settling", by, (name,), f"check {as_string(name)} {check}", reason, instead=instead, daily_from=daily_from, check=check)


def checked_together(plan: Plan) -> Plan:
    """The plan as a page shows it: checks alike but for their string as one, where the first of them stood. In JSON and in the calendar
    each string keeps a task of its own, which moves or goes with that string alone."""
    alike: dict[Task | int, list[Task]] = {}
    for k, task in enumerate(plan.tasks):
        alike.setdefault(replace(task, strings=(), action="") if task.check else k, []).append(task)
    joined = []
    for first, *others in alike.values():
        if others:  # what is said of "it" stays true of each
            names = tuple(name for task in (first, *others) for name in task.strings)
            first = replace(first, strings=names, action=f"check each of {one_after_another(as_strings(names))} {first.check}")
        joined.append(first)
    return replace(plan, tasks=tuple(joined))
