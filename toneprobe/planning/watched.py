"""Strings on the watch list before an engagement: a suspicion, which is heard again before it costs a spare, an order or a change. And
sound ones of which one alone fell in pitch, to be tuned in time to see whether they hold.

What a sweep only suspects is never more pressing than what it says outright: it is never too late for it, no spare is used up for it and
none is ordered beyond the one that the bag lacks of any string.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from toneprobe.condition.next_steps import DAMPED, FELL_ALONE
from toneprobe.days import day_text
from toneprobe.fittings import material_of, on_now
from toneprobe.phrases import as_string
from toneprobe.planning.changes import AFTER, Need, Supply, best_by, named, own_supply, shelf_note, way_note, why_judged, wire_note
from toneprobe.planning.heard import since_words
from toneprobe.planning.situation import Situation, Task
from toneprobe.units import note_text

WATCH = "watch"
DAY = timedelta(days=1)


def find_watched(situation: Situation) -> tuple[Need, ...]:
    """The strings that the last verdict on them puts on the watch list, from the top of the harp, with their whole first reason: how little
    it may mean is part of it."""
    on, found = on_now(situation.fittings), []
    for spec in situation.strung.strings:
        fitting, condition = on.get(spec.name), situation.conditions.get(spec.name)
        if fitting is not None and not fitting.is_stand_in and condition is not None and condition.verdict == WATCH:
            material = material_of(fitting, spec)
            why = why_judged(condition, situation, whole=True)
            found.append(Need(spec, WATCH, why, material, situation.settle_time(material)))
    return tuple(found)


def plan_fallen(situation: Situation) -> tuple[Task, ...]:
    """The strings that the last verdict on them calls sound, but that fell alone."""
    on = on_now(situation.fittings)
    return tuple(Task("consider", situation.today, (spec.name,),
                      f"tune {as_string(spec.name)} ({note_text(spec.note)}) and see whether it holds",
                      f"its pitch fell alone{since_words(spec.name, situation)}: its pin, its knot or the string itself may give way",
                      instead=condition.next_step)
                 for spec in situation.strung.strings if (condition := situation.conditions.get(spec.name)) is not None
                 and condition.step_kind == FELL_ALONE and spec.name in on and not on[spec.name].is_stand_in)


def plan_watched(watched: Sequence[Need], situation: Situation) -> tuple[Task, ...]:
    """What is to be done for each of them first, and by when it would have to be changed."""
    return tuple(_task(need, own_supply(need, situation.spares, situation), situation) for need in watched)


def have_ready_by(watched: Sequence[Need], situation: Situation) -> Mapping[str, date]:
    """By string of which there is no spare: the day by which one should be there, where it can be."""
    supplies = {need: own_supply(need, situation.spares, situation) for need in watched}
    return {need.spec.name: best_by(need, supply, situation) or need.time.last_day(situation.on) for need, supply in supplies.items()
            if supply.spare is None and supply.coming is None and _can_be_changed(need, supply, situation)}


def _can_be_changed(need: Need, supply: Supply, situation: Situation) -> bool:
    """Whether a new string would come and settle in time; of the last days a suspicion is worth none."""
    can_settle = not situation.is_close and situation.today <= need.time.last_day(situation.on)
    return can_settle and (supply.spare is not None or supply.comes_in_time)


def _task(need: Need, supply: Supply, situation: Situation) -> Task:
    """A step of a kind of its own, as of a string that may slip or be another than the log says, is not for the string to be changed: it is
    given as it stands."""
    name, condition = need.spec.name, situation.conditions[need.spec.name]
    if condition.step_kind:
        return Task("consider", situation.today, (name,), f"{named('look at', need)} before anything else", need.why,
                    instead=condition.next_step)
    action = f"{named('pluck', need)} again, three times, {DAMPED}, and give it to 'toneprobe sweep'"
    if not _can_be_changed(need, supply, situation):
        return Task("consider", situation.today, (name,), action, f"{need.why}. {_too_late(need, supply, situation)}",
                    instead=f"leave it on for this engagement; if the new plucks say so too, {AFTER}", is_recording=True)
    last, best = need.time.last_day(situation.on), best_by(need, supply, situation)
    ready = "" if supply.spare is not None or supply.coming is not None else "; have a spare ready, there is none"
    reason = (f"{need.why}. If the new plucks say so too, change it by {day_text(last)}: {need.time.source}"
              f"{wire_note(need)}{shelf_note(need, supply, situation.today)}{way_note(supply)}{ready}")
    return Task("consider", max(situation.today, last - DAY), (name,), action, reason,
                best_by=max(situation.today, best - DAY) if best else None, is_recording=True)


def _too_late(need: Need, supply: Supply, situation: Situation) -> str:
    """Why it can't be changed in time, whatever the new plucks say."""
    last = need.time.last_day(situation.on)
    if situation.today > last or situation.is_close:
        return "It is too late to change it for this day"
    arrives = f"arrives about {day_text(supply.arrives_on)}"
    how = f"ordered today one {arrives}" if supply.coming is None else f"the one on the way {arrives}"
    return f"There is no spare: {how}, and it would have to be on by {day_text(last)}"
