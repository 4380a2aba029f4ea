"""What a harp's pitch checks say by now: how its new strings stand, and what has settled, which is noted."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from shlex import quote

from toneprobe.book.connect import Book
from toneprobe.book.diary import events_of
from toneprobe.book.pitch_checks import keep_settled, pitch_checks
from toneprobe.errors import UsageError
from toneprobe.events import explain_change
from toneprobe.fittings import Fitting
from toneprobe.harp_state import HarpState, harp_state
from toneprobe.instrument import Instrument
from toneprobe.settling import Settling, record_settled
from toneprobe.units import SEMITONE_CENTS, cents_between, hz_of_note
from toneprobe.upkeep.check_plucks import SEMITONES_OFF_CENTS
from toneprobe.upkeep.unsettled import watched_strings


@dataclass(frozen=True)
class LastReading:
    """One check of one string."""

    at: datetime
    note: str
    found_cents: float | None  # from the note; None: not read as found
    left_cents: float | None

    @property
    def semitones_off(self) -> float | None:
        """How far the farther of the two lies off, where that is so far that it is known for this string by the player's word alone."""
        furthest = max((cents for cents in (self.found_cents, self.left_cents) if cents is not None), key=abs, default=0.0)
        return None if abs(furthest) < SEMITONES_OFF_CENTS else furthest / SEMITONE_CENTS


def how_things_stand(book: Book, harp_id: int, instrument: Instrument, *, today: date,
                     string: str | None = None) -> tuple[HarpState, dict[str, Settling]]:
    """The harp as of `today`, what has settled by then noted, and what is to be said of `string`, else of all strings that are watched."""
    state, found = keep_what_settled(book, harp_state(book, harp_id, instrument, today=today))
    if string is None:
        return state, found
    if string not in state.on:
        raise UsageError(f"no string is on {string}. To log one: toneprobe restring {quote(string)}")
    return state, {string: state.judge(state.on[string])}


def keep_what_settled(book: Book, state: HarpState) -> tuple[HarpState, dict[str, Settling]]:
    """Note each young string that its checks show settled, repeatedly, for a note may settle another string: the answer does not depend on
    when it is asked for. Returns the harp with these notes, and the state of the strings that were watched."""
    on, found = state.on, watched_strings(book, state)
    for name, settling in found.items():
        record = record_settled(settling, on[name].id)
        if record is not None and state.is_young(on[name]) and not on[name].is_stand_in:
            keep_settled(book, record)
    noted = harp_state(book, state.harp_id, state.instrument, today=state.today)
    if noted.records == state.records:
        return state, found
    last, told = keep_what_settled(book, noted)
    return last, found | told


def explain_jumps(book: Book, state: HarpState, fitting: Fitting, found: Settling) -> tuple[str, ...]:
    """What is noted between the checks that a string jumped between: it may be why."""
    checks = sorted(one.at.date() for one in state.readings.get(fitting.id, ()))
    events = events_of(book, state.harp_id)
    told = [explain_change(events, since=max((day for day in checks if day < jumped), default=jumped), until=jumped)
            for jumped in found.jumped_on]
    return tuple(dict.fromkeys(line for lines in told for line in lines))


def last_reading(state: HarpState, fitting: Fitting) -> LastReading | None:
    """The latest check of a string, in cents from its note."""
    checks = state.readings.get(fitting.id)
    if not checks:
        return None
    last = max(checks, key=lambda one: one.at)
    note_hz = hz_of_note(last.note, state.instrument.a4_hz)
    found, left = (cents_between(one.value, note_hz) if one else None for one in (last.found_hz, last.left_hz))
    return LastReading(last.at, last.note, found, left)


def moment_of(day: date | None, clock: time | None, *, now: datetime, last: datetime | None = None) -> datetime:
    """When a check was made: the day and the clock given, now where neither is; of a day alone noon, or now where that is still to come.
    UsageError for a time to come, unless the book's last check, at `last`, is of one too: on a journey west a day is longer."""
    now = now.replace(second=0, microsecond=0)
    if clock is None:
        return now if day is None else min(now, datetime.combine(day, time(12)))
    at = datetime.combine(day or now, clock)
    if at > now and (last is None or last <= now):
        before = at.date() - timedelta(days=1)
        raise UsageError(f"{at:%H:%M} has not come yet: if it was the day before, say so with --date {before} --time {at:%H:%M}")
    return at


def last_checked(book: Book, harp_id: int) -> datetime | None:
    """When the latest check that the book has was made, of whatever string."""
    return max((one.at for one in pitch_checks(book, harp_id)), default=None)
