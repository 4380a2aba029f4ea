"""Harps, and the strings that are put on and come off.

Each position carries one string at a time. Plucks belong to the fitting that was on when they were recorded: a change logged late moves
those of the sweeps in between. A sweep of the day of the change itself belongs to the string that was on in the book when it was stored:
found dead, changed the same day.
"""

import unicodedata
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, insert, or_, select, update

from toneprobe.book import read
from toneprobe.book.connect import Book, writing
from toneprobe.book.convert import clean_row, plain
from toneprobe.book.entries import Harp
from toneprobe.book.schema import conditions, corrections, fittings, harps, pitch_readings, plucks, sweeps, tables
from toneprobe.book.spare_box import use_up
from toneprobe.days import day_text
from toneprobe.errors import BookError, UsageError
from toneprobe.fittings import Fitting, NewFitting, Removal
from toneprobe.instrument import Instrument
from toneprobe.typed import clean_text, reads_as


def add_harp(book: Book, name: str, instrument: Instrument, *, preset: str | None = None) -> Harp:
    """Add a harp, with one fitting of unknown date for each string; one of that very name of which nothing is recorded yet is replaced.
    UsageError where it has no name, BookError where the book has another of that name."""
    name = clean_text(unicodedata.normalize("NFC", name.strip()))
    if not name:
        raise UsageError("a harp needs a name")
    with writing(book) as connection:
        _make_room(connection, name)
        created_at = datetime.now(UTC).isoformat(timespec="seconds")
        row = {"name": name, "preset": plain(preset), "created_at": created_at} | instrument_row(instrument)
        harp_id = connection.execute(insert(harps).values(row)).inserted_primary_key[0]
        add_missing_fittings(connection, harp_id, instrument)
        return read.harp_by_id(book, harp_id)


def _make_room(connection: Connection, name: str) -> None:
    known = next((one for one in connection.execute(select(harps.c.id, harps.c.name)) if reads_as(one.name) == reads_as(name)), None)
    if known is None:
        return
    if known.name != name:
        raise BookError(f"the book has a harp {known.name!r} already: {name!r} reads alike, take another name")
    if has_record(connection, known.id):
        raise BookError(f"the book has a harp {name!r} already, and something is recorded of it")
    connection.execute(delete(fittings).where(fittings.c.harp_id == known.id))
    connection.execute(delete(harps).where(harps.c.id == known.id))


def has_record(connection: Connection, harp_id: int) -> bool:
    """Whether the book holds more of a harp than the strings that it began with."""
    of_harp = [table.c.harp_id for table in tables.sorted_tables if "harp_id" in table.c and table is not fittings]
    changed = or_(*(column.is_not(None) for column in (fittings.c.fitted_on, fittings.c.removed_on, corrections.c.id)))
    logged = select(fittings.c.id).outerjoin(corrections).where(fittings.c.harp_id == harp_id, changed)
    asked = [select(column).where(column == harp_id) for column in of_harp]
    return any(connection.scalar(one.limit(1)) is not None for one in (*asked, logged))


def replace_fitting(book: Book, harp_id: int, new: NewFitting, removal: Removal, *, spare_id: int | None = None,
                    before_sweep: bool = False) -> Fitting:
    """Log a string change as one event: the string that is on, if any, comes off, the new one goes on. Returns the new fitting. `spare_id`:
    the spare that it was. `before_sweep`: the sweeps of that day, stored before, heard the new string."""
    with writing(book) as connection:
        old = next((one for one in read.fitting_log(book, harp_id, new.string) if one.removed_on is None), None)
        if old is not None:
            _end(book, old, removal)
        fitting = _begin(book, harp_id, new)
        if before_sweep:
            _give_day(connection, fitting)
        if spare_id is not None:
            use_up(book, spare_id, new.fitted_on or removal.removed_on, fitting_id=fitting.id)
        return fitting


def add_missing_fittings(connection: Connection, harp_id: int, instrument: Instrument) -> None:
    """Give each string of which the log of this harp has nothing its fitting of unknown date."""
    stands = (fittings.c.harp_id == harp_id) & fittings.c.withdrawn_on.is_(None)
    seen = set(connection.scalars(select(fittings.c.string).where(stands)))
    strings = {clean_text(string.name): string for string in instrument.strings}
    rows = [
        {"harp_id": harp_id, "string": name, "material": plain(string.material), "gauge_mm": plain(string.gauge_mm)}
        for name, string in strings.items()
        if name not in seen
    ]
    if rows:
        connection.execute(insert(fittings), rows)


def _begin(book: Book, harp_id: int, new: NewFitting) -> Fitting:
    row = clean_row(asdict(new)) | {"gauge_mm": plain(new.gauge_mm)}
    _refuse_overlap(book, harp_id, new)
    with writing(book) as connection:
        fitting_id = connection.execute(insert(fittings).values(harp_id=harp_id, **row)).inserted_primary_key[0]
    move_plucks(book, harp_id, row["string"])
    return read.fitting(book, fitting_id)


def _end(book: Book, old: Fitting, removal: Removal) -> None:
    row = {"removed_on": removal.removed_on, "why_removed": removal.why, "broke_at": removal.broke_at}
    with writing(book) as connection:
        connection.execute(update(fittings).where(fittings.c.id == old.id).values(clean_row(row)))
    move_plucks(book, old.harp_id, old.string)


def _refuse_overlap(book: Book, harp_id: int, new: NewFitting) -> None:
    earlier = [one for one in read.fitting_log(book, harp_id, new.string) if one.removed_on is not None]
    last = max(earlier, key=lambda one: one.removed_on, default=None)
    if last is not None and (new.fitted_on is None or new.fitted_on < last.removed_on):
        raise UsageError(f"string {last.string!r} carried another one until {day_text(last.removed_on)}; the new one went on that day or "
                         "later")


def move_plucks(book: Book, harp_id: int, string: str) -> None:
    """Give each stored pluck, verdict and pitch check of the string to the fitting that was on that day; those that fit already stay."""
    log = read.fitting_log(book, harp_id, string)
    with writing(book) as connection:
        for sweep_id, day in connection.execute(select(sweeps.c.id, sweeps.c.date).where(sweeps.c.harp_id == harp_id)).all():
            on = [one.id for one in log if read.covers(one, day)]
            for table in (plucks, conditions):
                stray = table.c.fitting_id.is_(None) | table.c.fitting_id.not_in(on)
                chosen = (table.c.sweep_id == sweep_id) & (table.c.string == string) & stray
                connection.execute(update(table).where(chosen).values(fitting_id=on[-1] if on else None))
        _move_checks(connection, harp_id, string, log)


def _give_day(connection: Connection, fitting: Fitting) -> None:
    """Give the sweeps of the day on which a string went on to that string: plucks, verdicts and what they say as a pitch check."""
    that_day = select(sweeps.c.id).where(sweeps.c.harp_id == fitting.harp_id, sweeps.c.date == fitting.fitted_on)
    for table in (plucks, conditions, pitch_readings):
        chosen = table.c.sweep_id.in_(that_day) & (table.c.string == fitting.string)
        connection.execute(update(table).where(chosen).values(fitting_id=fitting.id))


def _move_checks(connection: Connection, harp_id: int, string: str, log: Sequence[Fitting]) -> None:
    """The same for pitch checks."""
    mine = select(pitch_readings).where(pitch_readings.c.harp_id == harp_id, pitch_readings.c.string == string)
    for row in connection.execute(mine).mappings().all():
        on = [one.id for one in log if read.covers(one, row["at"].date())]
        if row["fitting_id"] not in on:
            moved = update(pitch_readings).where(pitch_readings.c.id == row["id"])
            connection.execute(moved.values(fitting_id=on[-1] if on else None))


def instrument_row(instrument: Instrument) -> dict[str, object]:
    return {"tuning": plain(instrument.tuning), "a4_hz": plain(instrument.a4_hz), "instrument": plain(instrument)}
