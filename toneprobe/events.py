"""Climate, moves and regulations: noted with a day or a sweep, and shown where they may explain a jump.

No direction is assumed: strings of one material differ in how they answer heat and damp. An event in the interval is named, and the reader
judges.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from toneprobe.days import day_text
from toneprobe.errors import UsageError

GONE = "gone"  # sold, or lent away for good
KINDS = ("climate", "moved", "regulated", "repaired", "other", GONE)
TEMPERATURE_RANGE_C = (-30.0, 60.0)
HUMIDITY_RANGE_PCT = (1.0, 100.0)  # below lies the air of no room: 0.45 is meant as 45 %
GOOD_HUMIDITY_PCT = (40.0, 50.0)  # and steady: common practice
WORTH_SAYING_C = 3.0  # a smaller change of the room explains little (set here)
WORTH_SAYING_PCT = 8.0


@dataclass(frozen=True)
class Event:
    """Something that happened to a harp, or how its room was."""

    on: date
    kind: str  # one of KINDS
    note: str = ""
    temperature_c: float | None = None
    humidity_pct: float | None = None  # relative
    sweep_id: int | None = None  # noted with this sweep
    harp_id: int | None = None
    id: int | None = None  # set by the book


def check_event(event: Event, *, today: date) -> None:
    """UsageError, one line, where an event cannot be as it is described."""
    if event.on > today:
        raise UsageError(f"{day_text(event.on)} lies ahead")
    low, high = TEMPERATURE_RANGE_C
    if event.temperature_c is not None and not low <= event.temperature_c <= high:
        raise UsageError(f"a temperature of {event.temperature_c:g} °C lies outside {low:g} to {high:g}")
    driest, dampest = HUMIDITY_RANGE_PCT
    if event.humidity_pct is not None and not driest <= event.humidity_pct <= dampest:
        meant = f": for {100.0 * event.humidity_pct:g} % write {100.0 * event.humidity_pct:g}" if 0.0 < event.humidity_pct < driest else ""
        raise UsageError(f"a humidity of {event.humidity_pct:g} % lies outside {driest:g} to {dampest:g}{meant}")
    if event.kind == "climate" and event.temperature_c is None and event.humidity_pct is None:
        raise UsageError("a climate note needs a temperature or a humidity")


def last_regulation(events: Iterable[Event]) -> date | None:
    return max((event.on for event in events if event.kind == "regulated"), default=None)


def explain_change(events: Iterable[Event], *, since: date, until: date) -> tuple[str, ...]:
    """What happened between two sweeps that may explain a jump, in plain lines: first what was done to the harp, then the room."""
    within = sorted((event for event in events if since <= event.on <= until), key=lambda event: event.on)
    done = [_told(event) for event in within if event.kind not in ("climate", "other", GONE) and event.on > since]
    return (*done, *_room_change(within, "temperature_c", "temperature", "°C", WORTH_SAYING_C),
            *_room_change(within, "humidity_pct", "humidity", "%", WORTH_SAYING_PCT))


def advise_room(event: Event) -> str:
    """A line where the room is outside what suits a harp, else ""."""
    low, high = GOOD_HUMIDITY_PCT
    if event.humidity_pct is None or low <= event.humidity_pct <= high:
        return ""
    dry_or_damp = "dry" if event.humidity_pct < low else "damp"
    return f"{event.humidity_pct:g} % relative humidity is {dry_or_damp} for a harp: {low:g} to {high:g} %, steady, suits it"


def _told(event: Event) -> str:
    return f"{event.kind} on {day_text(event.on)}" + (f": {event.note}" if event.note else "")


def _room_change(events: Sequence[Event], field: str, words: str, unit: str, worth: float) -> list[str]:
    """The widest spread of a reading over the interval, from the earlier to the later of its extremes."""
    noted = [(event.on, getattr(event, field)) for event in events if getattr(event, field) is not None]
    if len(noted) < 2:
        return []
    (first, before), (last, after) = sorted((min(noted, key=lambda n: n[1]), max(noted, key=lambda n: n[1])))
    if abs(after - before) < worth:
        return []
    return [f"{words} went from {before:g} {unit} on {day_text(first)} to {after:g} {unit} on {day_text(last)}"]
