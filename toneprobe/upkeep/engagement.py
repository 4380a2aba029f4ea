"""What a book knows of a harp on the day of planning, for `planning.make_plan`."""

from __future__ import annotations

from datetime import date

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.diary import events_of
from toneprobe.book.entries import Harp, SweepRecord
from toneprobe.condition import Condition
from toneprobe.events import last_day_of
from toneprobe.harp_state import HarpState, harp_state, spares_as_of
from toneprobe.planning import Situation
from toneprobe.upkeep.pitch_check import settling_strings

SILENT = ("unheard", "unsure")  # verdicts that say nothing of a string: an earlier one of the same string is taken


def situation_of(book: Book, harp: Harp, *, today: date, on: date) -> Situation:
    """All that was known of the harp on `today`, for an engagement on `on`."""
    state = harp_state(book, harp.id, harp.instrument, today=today)
    sweeps = [one for one in read.sweeps(book, harp.id) if one.date <= today]
    events = [event for event in events_of(book, harp.id) if event.on <= today]
    settling = {name: found for name, found in settling_strings(state).items() if state.on[name].id in state.readings}
    return Situation(
        harp.instrument, today, on, state.fittings, latest_conditions(book, state, sweeps), settling, state.settled_days,
        spares_as_of(book, harp.id, today), sweeps[-1].date if sweeps else None, last_day_of("regulated", events), state.settings.habits,
    )


def latest_conditions(book: Book, state: HarpState, sweeps: list[SweepRecord]) -> dict[str, Condition]:
    """By string, the latest verdict on what is on; one that says nothing only where no earlier one says more."""
    found: dict[str, Condition] = {}
    for record in reversed(sweeps):
        for one in read.conditions_of(book, record.id):
            name, fitting = one.condition.string, state.on.get(one.condition.string)
            if fitting is None or fitting.id != one.fitting_id:
                continue
            if name not in found or (found[name].verdict in SILENT and one.condition.verdict not in SILENT):
                found[name] = one.condition
    return found
