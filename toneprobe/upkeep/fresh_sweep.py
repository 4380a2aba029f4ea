"""What speaks against a stored sweep as the fresh baseline of some of its strings."""

from collections import Counter
from collections.abc import Iterable
from datetime import date

from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import SweepRecord
from toneprobe.condition.links import own_room
from toneprobe.condition.next_steps import JUDGED_BEFORE
from toneprobe.judging.fresh_choice import FRESH_DAYS
from toneprobe.judging.past import fittings_at, heard_in

FULL_PLUCKS = 3  # of a string, that a fresh baseline should rest on: what the README asks for


def from_few_plucks(book: Book, record: SweepRecord, names: Iterable[str]) -> dict[str, int]:
    """By string, on how many plucks its baseline rests in its best pedal or lever position, this sweep's included, where these are few."""
    on = fittings_at(book, record.harp_id, on=record.date, owners=heard_in(read.plucks_of(book, record.id)))
    n_plucks = {name: Counter(one.measurement.note for one in read.fresh_plucks(book, on[name].id)) for name in names if name in on}
    return {name: max(n.values()) for name, n in n_plucks.items() if n and max(n.values()) < FULL_PLUCKS}


def fresh_in_livelier_room(book: Book, record: SweepRecord, names: Iterable[str]) -> tuple[str, ...]:
    """Strings around which others ring longer in a sweep than when fresh: elsewhere, what has its baseline here will seem to lose ring."""
    conditions = [one.condition for one in read.conditions_of(book, record.id)]
    pitches = {one.string: one.figures["pitch_hz"] for one in conditions if one.string in set(names)}
    return tuple(name for name, pitch in pitches.items() if pitch.known and own_room(pitch.value, conditions, record.date).is_said)


def judged_before(book: Book, record: SweepRecord, names: Iterable[str]) -> tuple[str, ...]:
    """Those of the names that were called false, dead or to be watched in another pedal or lever position before they are fresh in it."""
    found = {one.condition.string for one in read.conditions_of(book, record.id) if one.condition.step_kind == JUDGED_BEFORE}
    return tuple(name for name in names if name in found)


def fresh_in_two_positions(book: Book, record: SweepRecord, names: Iterable[str]) -> tuple[str, ...]:
    """Those of the names whose string has fresh plucks in more than one pedal or lever position, as of a sweep's day."""
    on = read.current_fittings(book, record.harp_id, on=record.date)
    notes = {name: {one.measurement.note for one in read.fresh_plucks(book, on[name].id)} for name in names if name in on}
    return tuple(name for name, found in notes.items() if len(found) > 1)


def added_to_older(book: Book, record: SweepRecord, names: Iterable[str]) -> dict[str, date]:
    """By string with fresh plucks at that note in another sweep too, too far from this one to be one baseline, the day of the farthest."""
    plucks = read.plucks_of(book, record.id)
    heard = {(one.measurement.string, one.measurement.note) for one in plucks}
    on = fittings_at(book, record.harp_id, on=record.date, owners=heard_in(plucks))
    days = {name: [one.date for one in read.fresh_plucks(book, on[name].id) if (name, one.measurement.note) in heard]
            for name in names if name in on}
    far = {name: max(found, key=lambda day: abs((record.date - day).days)) for name, found in days.items() if found}
    return {name: day for name, day in far.items() if abs((record.date - day).days) > FRESH_DAYS}
