"""Climate, moves and regulations of a harp."""

from sqlalchemy import insert, select

from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import plain
from toneprobe.book.rows import to_event
from toneprobe.book.schema import events as event_rows
from toneprobe.events import Event
from toneprobe.typed import clean_text


def add_event(book: Book, harp_id: int, event: Event) -> Event:
    """Note an event; one that is noted already, word for word, is returned as it is."""
    row = {
        "harp_id": harp_id, "sweep_id": event.sweep_id, "date": event.on, "kind": event.kind, "note": clean_text(event.note),
        "temperature_c": plain(event.temperature_c), "humidity_pct": plain(event.humidity_pct),
    }
    with writing(book) as connection:
        same = [event_rows.c[name].is_(None) if item is None else event_rows.c[name] == item for name, item in row.items()]
        known = connection.scalar(select(event_rows.c.id).where(*same))
        event_id = known or connection.execute(insert(event_rows).values(row)).inserted_primary_key[0]
        return to_event(connection.execute(select(event_rows).where(event_rows.c.id == event_id)).mappings().one())


def events_of(book: Book, harp_id: int) -> tuple[Event, ...]:
    """All events of a harp, oldest first."""
    with reading(book) as connection:
        chosen = select(event_rows).where(event_rows.c.harp_id == harp_id).order_by(event_rows.c.date, event_rows.c.id)
        return tuple(map(to_event, connection.execute(chosen).mappings()))
