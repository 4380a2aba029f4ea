"""That a string has settled, noted as if all had been entered in the order of its days.

A check of an earlier day, one taken back, a change or a correction of the log: each tells something else of the checks that are there.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta

from toneprobe.book.connect import Book, writing
from toneprobe.book.pitch_checks import forget_settled, keep_settled, settled_strings, want_baseline
from toneprobe.errors import DamagedError
from toneprobe.harp_state import harp_state, harp_state_ever
from toneprobe.instrument import Instrument
from toneprobe.settling import PitchReading
from toneprobe.settling.steady import OLD_DAYS
from toneprobe.upkeep.checked import keep_what_settled


@dataclass(frozen=True)
class _Checked:
    """What a fitting is judged by."""

    kind: tuple[date | None, str | None, bool]  # since when it is on, its material, whether it is a stand-in
    readings: tuple[PitchReading, ...]  # first to last


@contextmanager
def noted_in_order(book: Book, harp_id: int, instrument: Instrument) -> Iterator[None]:
    """What is done within it may add or take checks, or change whose they are. Of the fittings that it touches what has settled is then
    noted anew, at each check from the first that is otherwise; so are those first checked after a note that came or went by it, for which
    that string is, or is no more, a settled neighbour. A wish for a baseline stays: with the new note, else with the old one.
    Where a check is damaged, which may be taken out within it, nothing is noted."""
    with writing(book):
        before, notes = _checked(book, harp_id, instrument), _notes(book, harp_id)
        yield
        after = _checked(book, harp_id, instrument)
        if before is None or after is None:
            return
        since = {number: day for number, now in after.items() if (day := _first_other(before.get(number), now)) is not None}
        done: set[int] = set()
        while since:
            _note_anew(book, harp_id, instrument, {number: (day, after[number]) for number, day in since.items()})
            done.update(since)
            now = _notes(book, harp_id)
            others = [day for _, day in notes ^ now]
            since = {number: date.min for number, one in after.items() if number not in done and _was_new_beside(one, others)}
            notes = now


def _note_anew(book: Book, harp_id: int, instrument: Instrument, since: Mapping[int, tuple[date, _Checked]]) -> None:
    """What had settled of these fittings, by number, from a day on."""
    gone = [record for number, (day, _) in since.items() for record in forget_settled(book, number, since=day)]
    days = {one.at.date() for day, checked in since.values() for one in checked.readings if one.at.date() >= day}
    for day in sorted(days):
        keep_what_settled(book, harp_state(book, harp_id, instrument, today=day))
    for record in gone:
        keep_settled(book, record)  # where none has taken its place
        want_baseline(book, record.fitting_id)


def _notes(book: Book, harp_id: int) -> frozenset[tuple[int, date]]:
    """Which fittings were noted as settled, and when."""
    return frozenset((one.fitting_id, one.noted_on) for one in settled_strings(book, harp_id))


def _was_new_beside(one: _Checked, noted_on: Sequence[date]) -> bool:
    """Whether it was first checked after one of these days, and not so long after that the string noted then was old by itself."""
    first = one.readings[0].at.date() if one.readings else date.min
    return any(day < first <= day + timedelta(days=OLD_DAYS) for day in noted_on)


def _checked(book: Book, harp_id: int, instrument: Instrument) -> dict[int, _Checked] | None:
    """By fitting; None where it cannot be read."""
    try:
        ever = harp_state_ever(book, harp_id, instrument)
    except DamagedError:
        return None
    return {one.id: _Checked((one.fitted_on, one.material, one.is_stand_in), ever.readings.get(one.id, ())) for one in ever.fittings}


def _first_other(before: _Checked | None, now: _Checked) -> date | None:
    """From which day on its checks are not what they were; None where they are, or where one more has come last."""
    if before is None or before.kind != now.kind:
        return date.min
    other = set(before.readings) ^ set(now.readings)
    if not other or now.readings[:-1] == before.readings:
        return None
    return min(one.at.date() for one in other)
