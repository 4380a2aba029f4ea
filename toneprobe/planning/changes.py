"""Strings to change before an engagement, each with its last sensible day, and what to do where that is over."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from toneprobe.days import day_text
from toneprobe.fittings import Fitted, on_now
from toneprobe.instrument import StringSpec
from toneprobe.planning.deadlines import SettleTime, own_settle_days, settle_time
from toneprobe.planning.situation import Situation, Task
from toneprobe.practice import PLAN_AHEAD_DAYS, material_family
from toneprobe.spares import Lead, Spare, StandIn, lead_of, stand_ins_for, take_first

NEEDS = ("empty", "stand-in", "false", "dead", "watch")  # most pressing first: the first to get a spare
FILLED = ("empty", "false")  # what a stand-in may serve: a dead string is better left on

AFTER = "change it after the engagement"
LEAVE = {
    "dead": f"leave it on: an old string that holds its pitch serves better than a new one that still stretches; {AFTER}",
    "watch": f"leave it on; {AFTER}",
    "stand-in": f"leave the stand-in on and check its pitch daily; {AFTER}",
    "false": f"leave it on if it can be borne, a new one would not hold its pitch; {AFTER}",
}
TUNE_OFTEN = "tune it as found at every pause and expect it flat"


@dataclass(frozen=True)
class Need:
    """A position that wants another string."""

    spec: StringSpec
    kind: str  # one of NEEDS
    why: str
    material: str | None


@dataclass(frozen=True)
class Supply:
    """Where the string for a need comes from."""

    spare: Spare | None  # None: it must be ordered
    lead: Lead
    stand_in: StandIn | None


def find_needs(situation: Situation) -> tuple[Need, ...]:
    """Positions that are empty, carry a stand-in, or carry a string judged false, dead or on the way; most pressing first."""
    on = on_now(situation.fittings)
    found = [need for spec in situation.instrument.strings if (need := _need_of(spec, on.get(spec.name), situation)) is not None]
    return tuple(sorted(found, key=lambda need: NEEDS.index(need.kind)))


def assign_spares(needs: Sequence[Need], situation: Situation) -> tuple[dict[str, Supply], tuple[Spare, ...]]:
    """A source for each need, by string name, and the spares with those used up. A string merely on the watch list takes none.

    Every need has its own spare first; of what is left, no spare is offered as a stand-in twice.
    """
    left, own = list(situation.spares), {}
    for need in needs:
        spare = own[need.spec.name] = take_first(left, need.spec, today=situation.today, habits=situation.habits)
        if spare is not None and need.kind != "watch":
            left[left.index(spare)] = replace(spare, used_on=situation.today)
    free, supplies = list(left), {}
    for need in needs:
        spare = own[need.spec.name]
        offers = () if spare else stand_ins_for(need.spec, free, situation.instrument, today=situation.today, habits=situation.habits)
        stand_in = next(iter(offers), None)
        if stand_in is not None and need.kind in FILLED:
            free.remove(stand_in.spare)
        supplies[need.spec.name] = Supply(spare, lead_of(need.spec, situation.spares, situation.habits), stand_in)
    return supplies, tuple(left)


def plan_changes(needs: Sequence[Need], supplies: Mapping[str, Supply], situation: Situation) -> tuple[Task, ...]:
    own_days = own_settle_days(situation.fittings, situation.settled_days, situation.instrument)
    tasks: list[Task] = []
    for need in needs:
        time = settle_time(need.material, own_days, situation.habits)
        tasks += _tasks_for(need, supplies[need.spec.name], time, situation)
    return tuple(tasks)


def _need_of(spec: StringSpec, fitting: Fitted | None, situation: Situation) -> Need | None:
    if fitting is None:
        was_logged = any(one.string == spec.name for one in situation.fittings)
        return Need(spec, "empty", "no string is on", spec.material) if was_logged else None
    if fitting.is_stand_in:
        return Need(spec, "stand-in", "a stand-in is on", spec.material)
    condition = situation.conditions.get(spec.name)
    if condition is None or condition.verdict not in NEEDS:
        return None
    why = f"{condition.verdict}: {_clause(condition.reasons[0])}" if condition.reasons else condition.verdict
    return Need(spec, condition.verdict, why, fitting.material or spec.material)


def _clause(reason: str) -> str:
    """A sentence as part of another one."""
    return f"{reason[:1].lower()}{reason[1:]}".rstrip(".")


def _tasks_for(need: Need, supply: Supply, time: SettleTime, situation: Situation) -> list[Task]:
    today, last = situation.today, time.last_day(situation.on)
    arrives = today if supply.spare else today + timedelta(days=supply.lead.days)
    if need.kind == "empty" and supply.spare is not None:
        return [_fill(need, last, time, today)]
    if today > last:
        return [_too_late(need, supply, last, time, situation)]
    if arrives > last:
        return [_arrives_too_late(need, supply, arrives, last, situation)]
    change = _change(need, last, time, situation)
    if supply.spare or need.kind == "watch":  # for a string that is only watched, the order for the bag will do
        return [change]
    return [_order(need, supply, last, today), change]


def _change(need: Need, last: date, time: SettleTime, situation: Situation) -> Task:
    best = situation.on - timedelta(days=PLAN_AHEAD_DAYS[1])
    kind = "consider" if need.kind == "watch" else "change"
    reason = f"{need.why}; {time.source}{_wire_note(need)}"
    return Task(kind, last, (need.spec.name,), _named(kind, need), reason, best_by=best if situation.today <= best < last else None)


def _fill(need: Need, last: date, time: SettleTime, today: date) -> Task:
    late = today > last
    instead = f"put it on all the same; {TUNE_OFTEN}" if late else ""
    return Task("change", today, (need.spec.name,), _named("put on", need), f"{need.why}; {time.source}", is_late=late, instead=instead)


def _order(need: Need, supply: Supply, last: date, today: date) -> Task:
    by = max(today, last - timedelta(days=supply.lead.days))
    return Task("order", by, (need.spec.name,), _named("order", need), f"{need.why}, and there is no spare; {_lead_words(supply)}")


def _too_late(need: Need, supply: Supply, last: date, time: SettleTime, situation: Situation) -> Task:
    """The last sensible day is over."""
    kind = "consider" if need.kind == "watch" else "change"
    reason = f"{need.why}; too late since {day_text(last)}: {time.source}"
    instead = LEAVE.get(need.kind) or _fill_empty(supply)
    if need.kind == "false" and supply.spare is not None:
        instead += f"; if not, put the new one on today and {TUNE_OFTEN}"
    return Task(kind, situation.today, (need.spec.name,), _named(kind, need), reason, is_late=True, instead=instead)


def _arrives_too_late(need: Need, supply: Supply, arrives: date, last: date, situation: Situation) -> Task:
    """There is no spare, and ordered today it would come after the last sensible day."""
    reason = f"{need.why}, and there is no spare: ordered today it arrives about {day_text(arrives)}, but it must be on by {day_text(last)}"
    kind = "consider" if need.kind == "watch" else "change"
    instead = LEAVE.get(need.kind, "") if need.kind != "empty" else _fill_empty(supply)
    if need.kind == "false" and supply.stand_in is not None:
        instead = f"put the spare {supply.stand_in.made_for} on as a stand-in by {day_text(last)}, or {LEAVE['false']}"
    return Task(kind, situation.today, (need.spec.name,), _named(kind, need), reason, is_late=True, instead=instead)


def _fill_empty(supply: Supply) -> str:
    if supply.stand_in is None:
        return "no neighbour's spare can stand in: ask a colleague or a nearer supplier for one today"
    return f"put the spare {supply.stand_in.made_for} on today as a stand-in; {TUNE_OFTEN}"


def _named(verb: str, need: Need) -> str:
    verb = {"consider": "consider changing"}.get(verb, verb)
    return f"{verb} {need.spec.name} ({need.spec.note}, {need.spec.material or 'material not noted'})"


def _wire_note(need: Need) -> str:
    if material_family(need.material) != "wire" or need.kind == "empty":
        return ""
    return "; a lone new wire stands out, wires sound best changed as a set"


def _lead_words(supply: Supply) -> str:
    lead = supply.lead
    return f"{'assumed to take' if lead.is_assumed else 'takes'} {lead.days} days" + (f" from {lead.supplier}" if lead.supplier else "")
