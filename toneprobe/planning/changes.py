"""Strings to change before an engagement, each with its last sensible day, and what to do where that is over.

Those that are only watched are none of these: see `watched`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from toneprobe.condition import Condition
from toneprobe.days import day_text
from toneprobe.fittings import Fitting, material_of, on_now
from toneprobe.instrument import StringSpec
from toneprobe.phrases import as_string, count_of
from toneprobe.planning.deadlines import SettleTime
from toneprobe.planning.heard import since_words
from toneprobe.planning.situation import ONLY_IF_CONFIRMED, Situation, Task
from toneprobe.practice import BEST_BEFORE, PLAN_AHEAD_DAYS, material_family
from toneprobe.spares import ASK_THE_SHOP, Coming, Lead, Spare, StandIn, fits, lead_of, shelf_age, stand_ins_for, take_first, unused
from toneprobe.units import note_text

NEEDS = ("empty", "stand-in", "false", "dead")  # most pressing first: the first to get a spare
FILLED = ("empty", "false")  # what a stand-in may serve: a dead string is better left on

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


@dataclass(frozen=True)
class Supply:
    """Where the string for a need comes from."""

    spare: Spare | None  # None: it is on the way (`coming`), or must be ordered
    lead: Lead
    arrives_on: date  # the one on the way, else one ordered today
    stand_in: StandIn | None = None
    best_until: date | None = None  # of a spare that will be past its best on the day on which it would go on
    n_own: int = 1  # how many spares there are for the position
    comes_in_time: bool = False  # that is by the last sensible day
    coming: Coming | None = None  # the first expected of those on the way

    @property
    def is_past_best(self) -> bool:
        return self.best_until is not None

    @property
    def wants_order(self) -> bool:
        """There is no spare, or only one past its best where a better one can come in time; and none is on the way."""
        return self.coming is None and self._lacks_good

    @property
    def waits(self) -> bool:
        """What goes on is on the way, and comes in time."""
        return self.coming is not None and self.comes_in_time and self._lacks_good

    @property
    def awaits_overdue(self) -> bool:
        """It waits for what should have come already."""
        return self.waits and self.coming.is_overdue

    @property
    def _lacks_good(self) -> bool:
        return self.spare is None or (self.is_past_best and self.comes_in_time)


def find_needs(situation: Situation) -> tuple[Need, ...]:
    """Positions that are empty, carry a stand-in, or carry a string judged false or dead; most pressing first."""
    on = on_now(situation.fittings)
    found = [need for spec in situation.strung.strings if (need := _need_of(spec, on.get(spec.name), situation)) is not None]
    return tuple(sorted(found, key=lambda need: NEEDS.index(need.kind)))


def assign_spares(needs: Sequence[Need], situation: Situation) -> tuple[dict[str, Supply], tuple[Spare, ...]]:
    """A source for each need, by string name, and the spares with those used up.

    Every need has its own spare first; of what is left, no spare is offered as a stand-in twice. That of a string left on until after the
    engagement is offered too.
    """
    supplies = {need.spec.name: own_supply(need, situation.spares, situation) for need in needs}
    used = {need: supplies[need.spec.name].spare for need in needs if _is_used(need, supplies[need.spec.name], situation)}
    awaited = [supplies[need.spec.name].coming.spare for need in needs if need not in used and supplies[need.spec.name].waits]
    left = _without(situation.spares, (*used.values(), *awaited), situation.today)
    kept = [supplies[need.spec.name].spare for need in needs if _is_kept(need, need in used, supplies[need.spec.name])]
    free = list(_without(situation.spares, kept, situation.today))
    for need in needs:
        if supplies[need.spec.name].spare is not None:
            continue
        offers = stand_ins_for(need.spec, free, situation.strung, today=situation.today, habits=situation.habits)
        stand_in = next(iter(offers), None)
        if stand_in is not None and need.kind in FILLED:
            free.remove(stand_in.spare)
        supplies[need.spec.name] = replace(supplies[need.spec.name], stand_in=stand_in)
    return supplies, left


def plan_changes(needs: Sequence[Need], supplies: Mapping[str, Supply], situation: Situation) -> tuple[Task, ...]:
    """What is to be done for each need, in their order; `supplies` by string name."""
    return tuple(task for need in needs for task in _tasks_for(need, supplies[need.spec.name], situation))


def wants_replacing(needs: Sequence[Need], supplies: Mapping[str, Supply], situation: Situation) -> tuple[str, ...]:
    """Strings whose spare goes on though it is past its best today, and for which no other order is made."""
    def is_stale(need: Need) -> bool:
        supply = supplies[need.spec.name]
        over = supply.best_until is not None and supply.best_until < situation.today
        return over and _is_used(need, supply, situation) and not supply.wants_order

    return tuple(need.spec.name for need in needs if is_stale(need))


def _without(spares: Iterable[Spare], taken: Iterable[Spare], today: date) -> tuple[Spare, ...]:
    """The spares, those taken marked as used."""
    left = list(spares)
    for spare in taken:
        left[left.index(spare)] = replace(spare, used_on=today)
    return tuple(left)


def own_supply(need: Need, spares: Sequence[Spare], situation: Situation) -> Supply:
    """The spare made for the position, as good as it will be on the day on which it goes on, and how soon a new one would come."""
    today, habits = situation.today, situation.habits
    goes_on = today if need.kind == "empty" else max(today, need.time.last_day(situation.on))
    spare, lead = take_first(spares, need.spec, today=goes_on, habits=habits), lead_of(need.spec, situation.spares, habits, today=today)
    age = shelf_age(spare, today=goes_on, habits=habits) if spare else None
    coming = next((one for one in situation.on_the_way if fits(one.spare, need.spec)), None)
    arrives_on = _comes_on(coming, lead, today)
    n_own = sum(fits(one, need.spec) for one in unused(spares))
    return Supply(spare, lead, arrives_on, best_until=age.best_until if age and age.is_past_best else None, n_own=n_own,
                  comes_in_time=arrives_on <= need.time.last_day(situation.on), coming=coming)


def _comes_on(coming: Coming | None, lead: Lead, today: date) -> date:
    """When the one on the way comes, an overdue one today at the earliest; else one that is ordered today, as one of an unknown day."""
    if coming is None or coming.expected_on is None:
        return today + timedelta(days=lead.days)
    return max(today, coming.expected_on)


def _is_used(need: Need, supply: Supply, situation: Situation) -> bool:
    """Whether the spare goes on before the engagement.

    One past its best stays in the bag where a better one can come in time, and any where it is too late for the change.
    """
    if supply.spare is None:
        return False
    if need.kind == "empty":
        return True
    return situation.today <= need.time.last_day(situation.on) and not (supply.is_past_best and supply.comes_in_time)


def _is_kept(need: Need, is_used: bool, supply: Supply) -> bool:
    """Whether the spare may stand in nowhere else: it goes on, or it may have to, for a false string that can't be borne."""
    return is_used or (need.kind == "false" and supply.spare is not None and not supply.is_past_best)


def _need_of(spec: StringSpec, fitting: Fitting | None, situation: Situation) -> Need | None:
    def needed(kind: str, why: str, material: str | None = spec.material) -> Need:
        return Need(spec, kind, why, material, situation.settle_time(material))

    if fitting is None:
        return needed("empty", "no string is on") if any(one.string == spec.name for one in situation.fittings) else None
    if fitting.is_stand_in:
        return needed("stand-in", "a stand-in is on")
    condition = situation.conditions.get(spec.name)
    if condition is None or condition.verdict not in NEEDS:
        return None
    return needed(condition.verdict, why_judged(condition, situation), material_of(fitting, spec))


def why_judged(condition: Condition, situation: Situation, *, whole: bool = False) -> str:
    """ "dead as of 4 October 2025, not heard since: rings half as long as fresh". whole: all of its first reason."""
    told = f"{condition.verdict}{since_words(condition.string, situation)}"
    return f"{told}: {_clause(condition.reasons[0], whole=whole)}" if condition.reasons else told


def _clause(reason: str, *, whole: bool) -> str:
    """What a reason says first, or all of it, as part of another sentence."""
    first = reason if whole else reason.partition(". ")[0]
    return f"{first[:1].lower()}{first[1:]}".rstrip(".")


def _tasks_for(need: Need, supply: Supply, situation: Situation) -> list[Task]:
    today, last = situation.today, need.time.last_day(situation.on)
    order = [_order(need, supply, situation)] if supply.wants_order else []
    if need.kind == "empty" and supply.spare is not None:
        return [_fill(need, supply, last, today), *order]
    if today > last:
        return [_too_late(need, supply, last, situation)]
    if supply.spare is None and not supply.comes_in_time:
        return [_arrives_too_late(need, supply, last, situation)]
    return [*order, _change(need, supply, last, situation)]


def _change(need: Need, supply: Supply, last: date, situation: Situation) -> Task:
    best = best_by(need, supply, situation)
    if situation.is_close:
        return _change_of_need(need, supply, last, situation)
    sooner = "" if best or last == situation.today else f"; best {BEST_BEFORE}, and this is the last day for it: sooner is better"
    reason = f"{need.why}; {need.time.source}{wire_note(need)}{shelf_note(need, supply, situation.today)}{way_note(supply)}{sooner}"
    return Task("change", last, (need.spec.name,), named("change", need), reason, best_by=best, awaits_overdue=supply.awaits_overdue)


def _change_of_need(need: Need, supply: Supply, last: date, situation: Situation) -> Task:
    """In the last days: a new string would just settle in time, but one that can be played is better left on until afterwards."""
    by = "today" if last == situation.today else f"by {day_text(last)}"
    reason = (f"{need.why}; {need.time.source}, so put on {by} it has settled in time"
              f"{wire_note(need)}{shelf_note(need, supply, situation.today)}{way_note(supply)}")
    return Task("change", last, (need.spec.name,), f"{named('change', need)} only if it cannot be played as it is", reason,
                instead=f"a new string so close to the day is a risk: if this one can be borne leave it on and {AFTER}",
                awaits_overdue=supply.awaits_overdue)


def best_by(need: Need, supply: Supply, situation: Situation) -> date | None:
    """The day on which it is best changed, two weeks before, where that leaves time to get the string; else None: the last day is left."""
    best = situation.on - timedelta(days=PLAN_AHEAD_DAYS[1])
    waits = supply.wants_order or supply.waits
    soonest = supply.arrives_on if waits else situation.today
    return best if soonest <= best < need.time.last_day(situation.on) else None


def _fill(need: Need, supply: Supply, last: date, today: date) -> Task:
    late = today > last
    instead = f"put it on all the same; {TUNE_OFTEN}" if late else ""
    reason = f"{need.why}; {need.time.source}{shelf_note(need, supply, today)}"
    return Task("change", today, (need.spec.name,), named("put on", need), reason, is_late=late, instead=instead)


def _order(need: Need, supply: Supply, situation: Situation) -> Task:
    """It must come by the day of the change, the better one where that can still be."""
    wanted = best_by(need, supply, situation) or need.time.last_day(situation.on)
    by = supply.lead.order_by(wanted, situation.today)
    lacking = "there is no spare"
    if supply.best_until is not None:
        only = f"its only spare {_over_words(supply.best_until, situation.today)}"
        several = f"none of its {supply.n_own} spares will be at its best when it goes on"
        lacking = f"{only if supply.n_own == 1 else several}: a better one can come in time"
    confirmed = f"; {ONLY_IF_CONFIRMED}" if need.spec.name in situation.unchecked else ""
    reason = f"{need.why}, and {lacking}; {supply.lead.words}{confirmed}"
    return Task("order", by, (need.spec.name,), named("order", need), reason, to_change=(need.spec.name,))


def _too_late(need: Need, supply: Supply, last: date, situation: Situation) -> Task:
    """The last sensible day is over."""
    since, shelf = day_text(last + timedelta(days=1)), shelf_note(need, supply, situation.today)
    n_left = (situation.on - situation.today).days
    left = f", and {count_of(n_left, 'day')} {'is' if n_left == 1 else 'are'} left" if n_left else ""
    reason = f"{need.why}; too late since {since}: {need.time.source}{left}{shelf}"
    instead = LEAVE.get(need.kind) or _fill_empty(supply)
    if need.kind == "false" and supply.spare is not None:
        instead += f"; if not, put the new one on today and {TUNE_OFTEN}"
    return Task("change", situation.today, (need.spec.name,), named("change", need), reason, is_late=True, instead=instead)


def _arrives_too_late(need: Need, supply: Supply, last: date, situation: Situation) -> Task:
    """There is no spare, and ordered today it would come after the last sensible day."""
    arrives, is_ordered = f"arrives about {day_text(supply.arrives_on)}", supply.coming is not None
    how = f"the one on the way {arrives}" if is_ordered else f"ordered today it {arrives}"
    reason = (f"{need.why}, and there is no spare: {how}, but it must be on by {day_text(last)}"
              f"{'' if is_ordered else f'; {supply.lead.words}'}")
    instead = LEAVE.get(need.kind, "") if need.kind != "empty" else _fill_empty(supply)
    if need.kind == "false" and supply.stand_in is not None:
        instead = f"put the spare {as_string(supply.stand_in.made_for)} on as a stand-in by {day_text(last)}, or {LEAVE['false']}"
    if need.kind != "empty" and _may_come_sooner(need, supply, last, situation):
        instead = f"ask the shop whether it can come by then; if not, {instead}"
    return Task("change", situation.today, (need.spec.name,), named("change", need), reason, is_late=True, instead=instead)


def _may_come_sooner(need: Need, supply: Supply, last: date, situation: Situation) -> bool:
    """How long an order takes is only assumed, some come the next day, and nothing else is to be done first."""
    is_first = need.spec.name not in situation.unchecked and not situation.is_close
    return supply.coming is None and supply.lead.is_assumed and situation.today < last and is_first


def _fill_empty(supply: Supply) -> str:
    if supply.stand_in is None:
        return "no neighbour's spare can stand in: ask a colleague or a nearer supplier for one today"
    return f"put the spare {as_string(supply.stand_in.made_for)} on today as a stand-in; {TUNE_OFTEN}"


def named(verb: str, need: Need) -> str:
    return f"{verb} {as_string(need.spec.name)} ({note_text(need.spec.note)}, {need.spec.material or 'material not noted'})"


def wire_note(need: Need) -> str:
    if material_family(need.material) != "wire" or need.kind == "empty":
        return ""
    return "; a lone new wire stands out, wires sound best changed as a set"


def way_note(supply: Supply) -> str:
    """That what goes on has still to come."""
    if not supply.waits:
        return ""
    expected = supply.coming.expected_on
    told = f", expected about {day_text(expected)}" if expected else ""
    return f"; the new one is on the way{told}{f', {ASK_THE_SHOP}' if supply.awaits_overdue else ''}"


def _over_words(best_until: date, today: date) -> str:
    return f"{'has been past its best since' if best_until < today else 'passes its best on'} {day_text(best_until)}"


def shelf_note(need: Need, supply: Supply, today: date) -> str:
    """Where its spare lies, if not in the bag, and what to do with one past its best by the day on which it would go on; else ""."""
    at_home = supply.spare is not None and supply.spare.place == "home"
    if supply.best_until is None:
        return "; its spare lies at home, not in the bag" if at_home else ""
    past = f"; its spare{', which lies at home, not in the bag,' if at_home else ''} {_over_words(supply.best_until, today)}"
    if supply.best_until >= today:
        return f"{past}: put it on by then, {'or only if no better one comes' if supply.comes_in_time else 'no better one comes in time'}"
    if not supply.comes_in_time:
        return f"{past}, and no better one can come in time"
    return f"{past}: it serves until a better one comes" if need.kind == "empty" else f"{past}: put it on only if no better one comes"
