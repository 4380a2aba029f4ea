"""The spares of a book: in the bag, at home, and those used up, which stay on record."""

from collections.abc import Iterable
from dataclasses import asdict, replace
from datetime import date

from sqlalchemy import Connection, insert, or_, select, update

from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import clean_row, plain
from toneprobe.book.rows import to_spare
from toneprobe.book.schema import spares as spare_rows
from toneprobe.errors import UsageError
from toneprobe.spares import Spare, use


def add_spares(book: Book, new: Iterable[Spare]) -> tuple[Spare, ...]:
    """Put spares into the book, all or none. Returns them with their numbers."""
    with writing(book) as connection:
        rows = [{key: item for key, item in _row(one).items() if key != "id"} for one in new]
        ids = [connection.execute(insert(spare_rows).values(row)).inserted_primary_key[0] for row in rows]
        return tuple(_spare(connection, spare_id) for spare_id in ids)


def spares_of(book: Book, harp_id: int) -> tuple[Spare, ...]:
    """All spares for this harp or for any, the used ones too, in the order in which they were added."""
    with reading(book) as connection:
        chosen = select(spare_rows).where(or_(spare_rows.c.harp_id == harp_id, spare_rows.c.harp_id.is_(None))).order_by(spare_rows.c.id)
        return tuple(map(to_spare, connection.execute(chosen).mappings()))


def change_spares(book: Book, changed: Iterable[Spare]) -> tuple[Spare, ...]:
    """Store spares with their fields changed, all or none; each is named by its number."""
    with writing(book) as connection:
        return tuple(_change(connection, one) for one in changed)


def use_up(book: Book, spare_id: int, on: date, *, fitting_id: int | None = None, note: str = "") -> Spare:
    """Mark a spare as used: as that fitting, or for what the note says. UsageError where it was used already, or before it was bought."""
    with writing(book) as connection:
        used = use(_spare(connection, spare_id), on, fitting_id=fitting_id)
        return _change(connection, replace(used, note="; ".join(text for text in (used.note, note) if text)))


def _change(connection: Connection, changed: Spare) -> Spare:
    _spare(connection, changed.id)
    connection.execute(update(spare_rows).where(spare_rows.c.id == changed.id).values(_row(changed)))
    return _spare(connection, changed.id)


def _spare(connection: Connection, spare_id: int | None) -> Spare:
    row = connection.execute(select(spare_rows).where(spare_rows.c.id == spare_id)).mappings().first()
    if row is None:
        raise UsageError(f"the book has no spare number {spare_id}")
    return to_spare(row)


def _row(spare: Spare) -> dict[str, object]:
    return clean_row(asdict(spare)) | {"gauge_mm": plain(spare.gauge_mm)}
