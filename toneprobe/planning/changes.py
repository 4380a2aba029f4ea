"""Strings to change before an engagement, each with its last sensible day, and what to do where that is over.

Strings that are only watched are in `watched`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from toneprobe.days import day_text
from toneprobe.fittings import material_of
from toneprobe.instrument import StringSpec
from toneprobe.phrases import as_string, count_of
from toneprobe.planning.deadlines import SettleTime
from toneprobe.planning.heard import since_words
from toneprobe.planning.situation import ONLY_IF_CONFIRMED, Situation, Task
from toneprobe.practice import BEST_BEFORE, PLAN_AHEAD_DAYS, material_family
from toneprobe.spares import ASK_THE_SHOP, Coming, Lead, Spare, StandIn, fits, lead_of, shelf_age, stand_ins_for, take_first, unused
from toneprobe.units import note_text

NEEDS = ("empty", "stand-in", "false", "dead")  # most pressing first: the first to get a spare
FILLED_BY_STAND_IN = ("empty", "false")  # what a stand-in may serve: a dead string is better left on

AFTER = "change it after the engagement"
LEAVE = {
    "dead": f"leave it on: an old string that holds its pitch serves better than a new one that still stretches; {AFTER}",
    "stand-in": f"leave the stand-in on and check its pitch daily; {AFTER}",
    "false": f"leave it on if it can be borne, a new one would not hold its pitch; {AFTER}",
}
TUNE_OFTEN = "tune it at every pause and expect it to fall"


@dataclass(frozen=True)
class Need:
    """A position that wants another string."""

    spec: StringSpec
    kind: str  # one of NEEDS, or "watch"
    why: str
    material: str | None
    time: SettleTime

    @property
    def name(self) -> str:
        return self.spec.name


@dataclass(frozen=True)
class Supply:
    """Where the string for a need comes from, and whether it comes in time."""

    need: Need
    today: date
    last_day: date  # the last sensible one to put it on
    best_by: date | None  # the day on which it is best put on, where there is time to get the string until then
    spare: Spare | None  # None: it is on the way (`coming`), or must be ordered
    expires_on: date | None  # the last day of its best, of a spare that will be past it when it would go on; None: it is good
    spare_goes_on: bool  # before the engagement
    n_own: int  # how many spares there are for the position
    coming: Coming | None  # the first expected of those on the way
    lead: Lead
    arrives_on: date  # the one on the way, an overdue one today at the earliest; else, or of an unknown day, one ordered today
    awaits_coming: bool  # what goes on is on the way, and comes in time
    wants_order: bool  # there is no spare, or only one past its best where a better one can come in time; and none is on the way
    stand_in: StandIn | None = None

    @property
    def is_too_late(self) -> bool:
        return self.today > self.last_day

    @property
    def comes_in_time(self) -> bool:
        return self.arrives_on <= self.last_day

    @property
    def awaits_overdue(self) -> bool:
        """It waits for what should have come already."""
        return self.awaits_coming and self.coming.is_overdue

    @property
    def shelf_note(self) -> str:
        """Where its spare lies, if not in the bag, and what to do with one past its best by the day on which it would go on; else ""."""
        at_home = self.spare is not None and self.spare.place == "home"
        if self.expires_on is None:
            return "; its spare lies at home, not in the bag" if at_home else ""
        past = f"; its spare{', which lies at home, not in the bag,' if at_home else ''} {self.expiry_words}"
        if self.expires_on >= self.today:
            return f"{past}: put it on by then, {'or only if no better one comes' if self.comes_in_time else 'no better one comes in time'}"
        if not self.comes_in_time:
            return f"{past}, and no better one can come in time"
        return f"{past}: {'it serves until a better one comes' if self.need.kind == 'empty' else 'put it on only if no better one comes'}"

    @property
    def expiry_words(self) -> str:
        return f"{'has been past its best since' if self.expires_on < self.today else 'passes its best on'} {day_text(self.expires_on)}"

    @property
    def notes(self) -> str:
        """What is to be said of the string that goes on: of a wire, of its spare, and that it has still to come."""
        is_wire = material_family(self.need.material) == "wire" and self.need.kind != "empty"
        wire = "; a lone new wire stands out, wires sound best changed as a set" if is_wire else ""
        if not self.awaits_coming:
            return f"{wire}{self.shelf_note}"
        expected = f", expected about {day_text(self.coming.expected_on)}" if self.coming.expected_on else ""
        overdue = f", {ASK_THE_SHOP}" if self.awaits_overdue else ""
        return f"{wire}{self.shelf_note}; the new one is on the way{expected}{overdue}"


def find_needs(situation: Situation) -> tuple[Need, ...]:
    """Positions that are empty, carry a stand-in, or carry a string judged false or dead; most pressing first."""
    found = [need for spec in situation.strung.strings if (need := _need_of(spec, situation)) is not None]
    return tuple(sorted(found, key=lambda need: NEEDS.index(need.kind)))


def find_supplies(needs: Sequence[Need], situation: Situation) -> tuple[tuple[Supply, ...], tuple[Spare, ...]]:
    """A source for each need, in their order, and the spares with those used up. Every need has its own spare first; no spare is offered
    as a stand-in twice, and that of a string left on until after the engagement is offered too."""
    own = [own_supply(need, situation) for need in needs]
    used = [supply.spare for supply in own if supply.spare_goes_on]
    awaited = [supply.coming.spare for supply in own if supply.awaits_coming and not supply.spare_goes_on]
    # The good spare of a false string may have to go on, where that string can't be borne.
    reserved = [one.spare for one in own
                if one.spare_goes_on or (one.need.kind == "false" and one.spare is not None and one.expires_on is None)]
    free = list(_without(situation.spares, reserved, situation.today))
    supplies = []
    for supply in own:
        if supply.spare is None:
            offers = stand_ins_for(supply.need.spec, free, situation.strung, today=situation.today, habits=situation.habits)
            supply = replace(supply, stand_in=offers[0] if offers else None)
            if offers and supply.need.kind in FILLED_BY_STAND_IN:
                free.remove(offers[0].spare)
        supplies.append(supply)
    return tuple(supplies), _without(situation.spares, (*used, *awaited), situation.today)


def own_supply(need: Need, situation: Situation) -> Supply:
    """The spare made for the position, as good as it will be on the day on which it goes on, and how soon a new one would come.

    A spare past its best stays in the bag where a better one can come in time, and any where it is too late for the change.
    """
    today, habits, spares = situation.today, situation.habits, situation.spares
    last_day = need.time.last_day(situation.on)
    goes_on = today if need.kind == "empty" else max(today, last_day)
    spare = take_first(spares, need.spec, today=goes_on, habits=habits)
    age = shelf_age(spare, today=goes_on, habits=habits) if spare else None
    lead = lead_of(need.spec, spares, habits, today=today)
    coming = next((one for one in situation.on_the_way if fits(one.spare, need.spec)), None)
    arrives_on = max(today, coming.expected_on) if coming and coming.expected_on else today + timedelta(days=lead.days)
    is_replaced = age is not None and age.is_past_best and arrives_on <= last_day
    lacks_good = spare is None or is_replaced
    awaits_coming = coming is not None and arrives_on <= last_day and lacks_good
    wants_order = coming is None and lacks_good
    soonest = arrives_on if wants_order or awaits_coming else today
    best = situation.on - timedelta(days=PLAN_AHEAD_DAYS[1])
    return Supply(
        need, today, last_day, best if soonest <= best < last_day else None, spare, age.best_until if age and age.is_past_best else None,
        spare_goes_on=spare is not None and (need.kind == "empty" or (today <= last_day and not is_replaced)),
        n_own=sum(fits(one, need.spec) for one in unused(spares)), coming=coming, lead=lead, arrives_on=arrives_on,
        awaits_coming=awaits_coming, wants_order=wants_order)


def plan_changes(supplies: Iterable[Supply], situation: Situation) -> tuple[Task, ...]:
    """What is to be done for each need, in their order."""
    return tuple(task for supply in supplies for task in _tasks_for(supply, situation))


def wants_replacing(supplies: Iterable[Supply]) -> tuple[str, ...]:
    """Strings whose spare goes on though it is past its best today, and for which no other order is made."""
    return tuple(one.need.name for one in supplies
                 if one.expires_on is not None and one.expires_on < one.today and one.spare_goes_on and not one.wants_order)


def judged_need(spec: StringSpec, situation: Situation, verdicts: Iterable[str], *, whole_reason: bool = False) -> Need | None:
    """The need of a string of the owner's own with one of these verdicts, None of others. It tells the verdict and the first sentence of
    its first reason, or all of that: "dead as of 4 October 2025, not heard since: rings half as long as fresh"."""
    fitting, condition = situation.fitted.get(spec.name), situation.conditions.get(spec.name)
    if fitting is None or fitting.is_stand_in or condition is None or condition.verdict not in verdicts:
        return None
    why, material = f"{condition.verdict}{since_words(spec.name, situation)}", material_of(fitting, spec)
    if condition.reasons:
        reason = condition.reasons[0] if whole_reason else condition.reasons[0].partition(". ")[0]
        why = f"{why}: {reason[:1].lower()}{reason[1:]}".rstrip(".")
    return Need(spec, condition.verdict, why, material, situation.settle_time(material))


def action_words(verb: str, need: Need) -> str:
    """ "change 3C (C5, gut)"."""
    return f"{verb} {as_string(need.name)} ({note_text(need.spec.note)}, {need.spec.material or 'material not noted'})"


def _need_of(spec: StringSpec, situation: Situation) -> Need | None:
    fitting, time = situation.fitted.get(spec.name), situation.settle_time(spec.material)
    if fitting is None:
        was_on = any(one.string == spec.name for one in situation.fittings)
        return Need(spec, "empty", "no string is on", spec.material, time) if was_on else None
    if fitting.is_stand_in:
        return Need(spec, "stand-in", "a stand-in is on", spec.material, time)
    return judged_need(spec, situation, NEEDS)


def _without(spares: Iterable[Spare], taken: Iterable[Spare], today: date) -> tuple[Spare, ...]:
    """The spares, those taken marked as used."""
    left = list(spares)
    for spare in taken:
        left[left.index(spare)] = replace(spare, used_on=today)
    return tuple(left)


def _tasks_for(supply: Supply, situation: Situation) -> list[Task]:
    order = [_order_task(supply, situation)] if supply.wants_order else []
    if supply.need.kind == "empty" and supply.spare is not None:
        return [_fill_task(supply), *order]
    if supply.is_too_late:
        return [_too_late_task(supply, situation)]
    if supply.spare is None and not supply.comes_in_time:
        return [_arrives_too_late_task(supply, situation)]
    return [*order, _change_task(supply, situation)]


def _change_task(supply: Supply, situation: Situation) -> Task:
    """In the last days a new string would just settle in time, but one that can be played is better left on until afterwards."""
    need, last, best = supply.need, supply.last_day, supply.best_by
    in_time = sooner = only = instead = ""
    if situation.is_close:
        in_time = f", so put on {'today' if last == situation.today else f'by {day_text(last)}'} it has settled in time"
        only = " only if it cannot be played as it is"
        instead = f"a new string so close to the day is a risk: if this one can be borne leave it on and {AFTER}"
    elif best is None and last != situation.today:
        sooner = f"; best {BEST_BEFORE}, and this is the last day for it: sooner is better"
    return Task("change", last, (need.name,), f"{action_words('change', need)}{only}",
                f"{need.why}; {need.time.source}{in_time}{supply.notes}{sooner}", best_by=best, instead=instead,
                awaits_overdue=supply.awaits_overdue)


def _fill_task(supply: Supply) -> Task:
    need, late = supply.need, supply.is_too_late
    return Task("change", supply.today, (need.name,), action_words("put on", need), f"{need.why}; {need.time.source}{supply.shelf_note}",
                is_late=late, instead=f"put it on all the same; {TUNE_OFTEN}" if late else "")


def _order_task(supply: Supply, situation: Situation) -> Task:
    """It must come by the day of the change, the better one where that can still be."""
    need = supply.need
    lacking = "there is no spare"
    if supply.expires_on is not None:
        only = f"its only spare {supply.expiry_words}"
        several = f"none of its {supply.n_own} spares will be at its best when it goes on"
        lacking = f"{only if supply.n_own == 1 else several}: a better one can come in time"
    confirmed = f"; {ONLY_IF_CONFIRMED}" if need.name in situation.unconfirmed else ""
    order_by = supply.lead.order_by(supply.best_by or supply.last_day, situation.today)
    return Task("order", order_by, (need.name,), action_words("order", need),
                f"{need.why}, and {lacking}; {supply.lead.words}{confirmed}", to_change=(need.name,))


def _too_late_task(supply: Supply, situation: Situation) -> Task:
    """The last sensible day is over."""
    need, n_left = supply.need, (situation.on - situation.today).days
    left = f", and {count_of(n_left, 'day')} {'is' if n_left == 1 else 'are'} left" if n_left else ""
    since = day_text(supply.last_day + timedelta(days=1))
    instead = LEAVE.get(need.kind) or _stand_in_words(supply)
    if need.kind == "false" and supply.spare is not None:
        instead += f"; if not, put the new one on today and {TUNE_OFTEN}"
    return Task("change", supply.today, (need.name,), action_words("change", need),
                f"{need.why}; too late since {since}: {need.time.source}{left}{supply.shelf_note}", is_late=True, instead=instead)


def _arrives_too_late_task(supply: Supply, situation: Situation) -> Task:
    """There is no spare, and ordered today it would come after the last sensible day."""
    need, by = supply.need, day_text(supply.last_day)
    arrives, is_ordered = f"arrives about {day_text(supply.arrives_on)}", supply.coming is not None
    how = f"the one on the way {arrives}" if is_ordered else f"ordered today it {arrives}"
    reason = f"{need.why}, and there is no spare: {how}, but it must be on by {by}{'' if is_ordered else f'; {supply.lead.words}'}"
    instead = LEAVE.get(need.kind) or _stand_in_words(supply)
    if need.kind == "false" and supply.stand_in is not None:
        instead = f"put the spare {as_string(supply.stand_in.made_for)} on as a stand-in by {by}, or {LEAVE['false']}"
    may_come_sooner = supply.lead.is_assumed and not is_ordered and situation.today < supply.last_day
    if may_come_sooner and need.kind != "empty" and need.name not in situation.unconfirmed and not situation.is_close:
        instead = f"ask the shop whether it can come by then; if not, {instead}"
    return Task("change", situation.today, (need.name,), action_words("change", need), reason, is_late=True, instead=instead)


def _stand_in_words(supply: Supply) -> str:
    """What to do about an empty position that gets no string of its own in time."""
    if supply.stand_in is None:
        return "no neighbour's spare can stand in: ask a colleague or a nearer supplier for one today"
    return f"put the spare {as_string(supply.stand_in.made_for)} on today as a stand-in; {TUNE_OFTEN}"
