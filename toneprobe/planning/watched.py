"""Strings on the watch list before an engagement: a suspicion, to be heard again before it costs a spare, an order or a change. And sound
strings that alone fell in pitch, to be tuned in time to see whether they hold.

A suspicion is never too late, uses up no spare, and is ordered for only where the bag lacks one.
"""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from toneprobe.condition.next_steps import DAMPED, FELL_ALONE
from toneprobe.days import day_text
from toneprobe.phrases import as_string
from toneprobe.planning.changes import AFTER, Supply, action_words, judged_need, own_supply
from toneprobe.planning.heard import since_words
from toneprobe.planning.situation import Situation, Task
from toneprobe.units import note_text

DAY = timedelta(days=1)


def find_watched(situation: Situation) -> tuple[Supply, ...]:
    """The strings on the watch list, from the top of the harp, with their whole first reason: how little it may mean is part of it."""
    needs = [need for spec in situation.strung.strings if (need := judged_need(spec, situation, ("watch",), whole_reason=True)) is not None]
    return tuple(own_supply(need, situation) for need in needs)


def plan_fallen(situation: Situation) -> tuple[Task, ...]:
    """The strings that the last verdict on them calls sound, but that fell alone."""
    return tuple(Task("consider", situation.today, (spec.name,),
                      f"tune {as_string(spec.name)} ({note_text(spec.note)}) and see whether it holds",
                      f"its pitch fell alone{since_words(spec.name, situation)}: its pin, its knot or the string itself may give way",
                      instead=condition.next_step)
                 for spec in situation.strung.strings if (condition := situation.conditions.get(spec.name)) is not None
                 and condition.step_kind == FELL_ALONE
                 and (fitting := situation.fitted.get(spec.name)) is not None and not fitting.is_stand_in)


def plan_watched(watched: Sequence[Supply], situation: Situation) -> tuple[Task, ...]:
    """What is to be done for each of them first, and by when it would have to be changed."""
    return tuple(_watched_task(supply, situation) for supply in watched)


def have_ready_by(watched: Sequence[Supply], situation: Situation) -> Mapping[str, date]:
    """By string without a spare: the day by which one should be there, where it can be."""
    return {one.need.name: one.best_by or one.last_day for one in watched
            if one.spare is None and one.coming is None and _can_be_changed(one, situation)}


def _can_be_changed(supply: Supply, situation: Situation) -> bool:
    """Whether a new string would come and settle in time; in the last days a suspicion is worth none."""
    return not situation.is_close and not supply.is_too_late and (supply.spare is not None or supply.comes_in_time)


def _watched_task(supply: Supply, situation: Situation) -> Task:
    """What to do first. A next step of its own kind, as of a string that may slip or be another than logged, is given as it stands."""
    need, condition = supply.need, situation.conditions[supply.need.name]
    if condition.step_kind:
        return Task("consider", situation.today, (need.name,), f"{action_words('look at', need)} before anything else", need.why,
                    instead=condition.next_step)
    action = f"{action_words('pluck', need)} again, three times, {DAMPED}, and give it to 'toneprobe sweep'"
    if not _can_be_changed(supply, situation):
        return Task("consider", situation.today, (need.name,), action, f"{need.why}. {_why_too_late(supply, situation)}",
                    instead=f"leave it on for this engagement; if the new plucks say so too, {AFTER}", is_recording=True)
    last, best = supply.last_day, supply.best_by
    ready = "" if supply.spare is not None or supply.coming is not None else "; have a spare ready, there is none"
    reason = f"{need.why}. If the new plucks say so too, change it by {day_text(last)}: {need.time.source}{supply.notes}{ready}"
    return Task("consider", max(situation.today, last - DAY), (need.name,), action, reason,
                best_by=max(situation.today, best - DAY) if best else None, is_recording=True)


def _why_too_late(supply: Supply, situation: Situation) -> str:
    """Why it can't be changed in time, whatever the new plucks say."""
    if supply.is_too_late or situation.is_close:
        return "It is too late to change it for this day"
    arrives = f"arrives about {day_text(supply.arrives_on)}"
    how = f"ordered today one {arrives}" if supply.coming is None else f"the one on the way {arrives}"
    return f"There is no spare: {how}, and it would have to be on by {day_text(supply.last_day)}"
