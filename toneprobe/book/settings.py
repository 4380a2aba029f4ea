"""The owner's own figures for one harp: what counts as settled, habits, the day on which the log began."""

from sqlalchemy import insert, select, update

from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import plain, stored
from toneprobe.book.entries import OwnerSettings
from toneprobe.book.schema import owner_settings
from toneprobe.practice import Habits
from toneprobe.settling import Tolerance


def settings_of(book: Book, harp_id: int) -> OwnerSettings:
    """The owner's figures, the usual ones where none are set."""
    with reading(book) as connection:
        row = connection.execute(select(owner_settings).where(owner_settings.c.harp_id == harp_id)).mappings().first()
        if row is None:
            return OwnerSettings()
        return OwnerSettings(stored(Tolerance, row["tolerance"]), stored(Habits, row["habits"]), row["log_began"])


def keep_settings(book: Book, harp_id: int, settings: OwnerSettings) -> None:
    row = {"tolerance": plain(settings.tolerance), "habits": plain(settings.habits), "log_began": settings.log_began}
    with writing(book) as connection:
        found = connection.scalar(select(owner_settings.c.harp_id).where(owner_settings.c.harp_id == harp_id))
        if found is None:
            connection.execute(insert(owner_settings).values(harp_id=harp_id, **row))
        else:
            connection.execute(update(owner_settings).where(owner_settings.c.harp_id == harp_id).values(row))

