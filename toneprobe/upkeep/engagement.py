"""What a book knows of a harp on the day of planning, for `planning.make_plan`."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.diary import events_of
from toneprobe.book.entries import Harp, StoredCondition
from toneprobe.condition import SILENT
from toneprobe.condition.next_steps import FELL_ALONE, wants_check
from toneprobe.condition.verdict import CONDEMNING
from toneprobe.events import last_regulation
from toneprobe.harp_state import HarpState, harp_state, spares_as_of
from toneprobe.limits import OUT_OF_TUNE_CENTS
from toneprobe.planning import Need, Situation, find_needs
from toneprobe.upkeep.fresh_start import bare_strings
from toneprobe.upkeep.unsettled import settling_strings


def situation_of(book: Book, harp: Harp, *, today: date, on: date) -> Situation:
    """All that was known of the harp on `today`, for an engagement on `on`."""
    state = harp_state(book, harp.id, harp.instrument, today=today)
    sweeps = [read.conditions_of(book, one.id) for one in read.sweeps(book, harp.id) if one.date <= today]
    events = [event for event in events_of(book, harp.id) if event.on <= today]
    heard_on = {one.condition.string: one.date for conditions in sweeps for one in conditions if one.condition.verdict != "unheard"}
    latest = latest_conditions(state, sweeps)
    recorded_fresh = frozenset(name for name, one in latest.items() if one.is_fresh)
    unconfirmed = frozenset(name for name, one in latest.items() if _is_unconfirmed(one, sweeps))
    settling = {name: found for name, found in settling_strings(state).items() if state.on[name].id in state.readings}
    first = read.first_fresh_days(book, harp.id)
    fresh_on = {name: first[one.id] for name, one in state.on.items() if one.id in first and first[one.id] <= today}
    return Situation(
        harp.instrument, today, on, state.fittings, conditions={name: one.condition for name, one in latest.items()},
        recorded_fresh=recorded_fresh, settling=settling, settled_days=state.settled_days, spares=spares_as_of(book, harp.id, today),
        heard_on=heard_on, last_regulation_on=last_regulation(events), habits=state.settings.habits, unconfirmed=unconfirmed,
        judged_on={name: one.date for name, one in latest.items()},
        bare={name: lacks for name, (lacks, _) in bare_strings(book, state).items()}, fresh_on=fresh_on,
    )


def needs_of(book: Book, harp: Harp, *, today: date) -> tuple[Need, ...]:
    """The positions that want another string, most pressing first: the same for every order, for an engagement or for the bag alone."""
    return find_needs(situation_of(book, harp, today=today, on=today))


def latest_conditions(state: HarpState, sweeps: Sequence[Sequence[StoredCondition]]) -> dict[str, StoredCondition]:
    """By string, the latest verdict on what is on; one that says nothing only where no earlier one says more. `sweeps`: oldest first.
    Where the log of a position begins later, what was heard before is taken to be of the string that is on."""
    found: dict[str, StoredCondition] = {}
    logged = {one.string for one in state.fittings}
    for one in (one for conditions in sweeps for one in conditions):
        name, fitting = one.condition.string, state.on.get(one.condition.string)
        is_of_it = fitting.id == one.fitting_id if fitting else one.fitting_id is None and name not in logged
        if is_of_it:
            found[name] = _after(found[name], one) if name in found else one
    return found


def _after(said: StoredCondition, later: StoredCondition) -> StoredCondition:
    """What stands after a later sweep. That a pitch fell alone stands until one hears it in its place: of a few strings none can be said to
    have fallen alone."""
    cents, has_fallen = later.condition.changes.get("pitch_against_others_cents"), said.condition.step_kind == FELL_ALONE
    is_in_place = cents is not None and cents.known and cents.value > -OUT_OF_TUNE_CENTS
    if later.condition.verdict in SILENT and said.condition.verdict not in SILENT:
        return _with_step(said, "", "") if has_fallen and is_in_place else said
    if has_fallen and not is_in_place and later.condition.verdict == "sound" and not later.condition.step_kind:
        return _with_step(later, said.condition.next_step, FELL_ALONE)
    return later


def _with_step(one: StoredCondition, text: str, kind: str) -> StoredCondition:
    return replace(one, condition=replace(one.condition, next_step=text, step_kind=kind))


def _is_unconfirmed(latest: StoredCondition, sweeps: Sequence[Sequence[StoredCondition]]) -> bool:
    """Whether it is condemned for the first time, on too few plucks, so that it is plucked again before money is spent."""
    others = [one for conditions in sweeps for one in conditions if one.fitting_id == latest.fitting_id and one.sweep_id != latest.sweep_id]
    condemned = any(one.condition.verdict in CONDEMNING for one in others)
    return wants_check(latest.condition.verdict, latest.condition.n_plucks, condemned_before=condemned)
