"""`toneprobe note`: climate, moves, regulations and repairs of a harp."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from toneprobe.cli.options import (
    GREATEST_NUMBER,
    BecauseOption,
    BookOption,
    DateOption,
    HarpOption,
    HumidityOption,
    JsonOption,
    TemperatureOption,
    day_of,
    open_harp,
)
from toneprobe.cli.screen import hand_out
from toneprobe.cli.table import print_heading, print_paragraph, print_table
from toneprobe.days import day_text, short_day
from toneprobe.errors import UsageError
from toneprobe.events import GONE, KINDS, Event, advise_room, check_event
from toneprobe.report.words import sentence
from toneprobe.typed import one_line

if TYPE_CHECKING:
    from rich.console import Console

    from toneprobe.book.connect import Book
    from toneprobe.book.entries import Harp


Kind = StrEnum("Kind", {kind: kind for kind in KINDS})


def note(
    kind: Annotated[Kind | None, typer.Argument(help="What happened; without it, all that is noted.")] = None,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="In your words.")] = "",
    temperature: TemperatureOption = None,
    humidity: HumidityOption = None,
    date: DateOption = None,
    withdraw: Annotated[int | None, typer.Option("--withdraw", metavar="NUMBER", max=GREATEST_NUMBER,
                                                 help="Take back the note of that number.")] = None,
    because: BecauseOption = "",
    json: JsonOption = None,
    harp: HarpOption = None,
    book: BookOption = None,
) -> None:
    """Note climate, moves, regulations and repairs.

    They are shown where they may explain a jump. A harp that is noted as gone, sold
    for instance, is meant only where --harp names it. A note taken back is kept in
    a file beside the book.
    """
    from toneprobe.book.diary import add_event

    has_details = text or any(one is not None for one in (temperature, humidity, date))
    if withdraw is not None and (kind is not None or has_details):
        raise UsageError("--withdraw takes the number of a note alone: 'toneprobe note' lists them")
    if kind is None and has_details:
        raise UsageError(f"say what happened: {', '.join(KINDS)}. A temperature or a humidity alone: toneprobe note climate --humidity 45")
    opened, chosen = open_harp(book, harp)
    if withdraw is not None:
        _take_back(opened, chosen, withdraw, because, json)
        return
    if kind is None:
        _show(opened, chosen, json)
        return
    event = Event(day_of(date), kind.value, one_line(text), temperature, humidity)
    check_event(event, today=day_of(None))
    added = add_event(opened, chosen.id, event)
    console = hand_out(json, "events", chosen.name, events=(added,))
    console.print(f"Noted as no. {added.id}: {_line(event)}.")
    if event.kind == GONE:
        console.print(f"All that is recorded of {chosen.name} stays. Where the book has other harps, a command without --harp is for them.")
    tell_room_advice(event, console)


def tell_room_advice(event: Event, console: Console) -> None:
    """What a temperature or a humidity asks for, where it asks for anything."""
    if advice := advise_room(event):
        console.print(sentence(advice))


def _show(book: Book, harp: Harp, json: str | None) -> None:
    from toneprobe.book.diary import events_of

    events = events_of(book, harp.id)
    console = hand_out(json, "events", harp.name, events=events)
    print_heading(console, f"{harp.name}: {len(events)} noted")
    rows = ((one.id, short_day(one.on), one.kind, None if one.temperature_c is None else f"{one.temperature_c:g} °C",
             None if one.humidity_pct is None else f"{one.humidity_pct:g} %", one.note or " ") for one in events)
    if events:
        print_table(console, ("no.", "day", "what", "temp.", "humidity", "note"), rows, right=("no.", "temp.", "humidity"))


def _take_back(book: Book, harp: Harp, number: int, because: str, json: str | None) -> None:
    from toneprobe.book.diary import events_of
    from toneprobe.book.taken_out import take_out_note

    event = next((one for one in events_of(book, harp.id) if one.id == number), None)
    done = take_out_note(book, harp.id, number, today=day_of(None), why=one_line(because))
    print_paragraph(hand_out(json, "events", harp.name, withdrawn=event), f"Taken back: {_line(event)}. It is kept in {done.path}")


def _line(event: Event) -> str:
    room = [f"{event.temperature_c:g} °C" if event.temperature_c is not None else "",
            f"{event.humidity_pct:g} % humidity" if event.humidity_pct is not None else ""]
    return ", ".join(part for part in (f"{event.kind} on {day_text(event.on)}", event.note, *room) if part)
