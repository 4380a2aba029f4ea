"""A string that a sweep begins: heard before all that the log knows of its position, it was on until the first of those was put on.

A trace says that this is all that is known of it. Until its owner tells more it ends with that first day, wherever that is moved to, and is
in the log no longer than something rests on it.
"""

from collections.abc import Collection
from datetime import date, datetime, time

from sqlalchemy import ColumnElement, Connection, Table, and_, delete, exists, insert, or_, select, update

from toneprobe.book import read
from toneprobe.book.connect import Book, writing
from toneprobe.book.convert import plain
from toneprobe.book.schema import conditions, corrections, fittings, pitch_readings, plucks, sweeps
from toneprobe.book.stringing import move_plucks
from toneprobe.days import day_text
from toneprobe.fittings import BEGUN, Fitting
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.typed import clean_text


def begin_earlier(book: Book, harp_id: int, instrument: Instrument, heard: Collection[str], *, on: date, today: date) -> bool:
    """Log one on each position that a sweep of that day heard before all that its log knows; what other sweeps heard then is its own too.
    Returns whether there was any."""
    with writing(book) as connection:
        begun = [spec for spec in instrument.strings
                 if spec.name in heard and _begin(book, connection, harp_id, spec, heard_on=on, today=today)]
    return bool(begun)


def _begin(book: Book, connection: Connection, harp_id: int, spec: StringSpec, *, heard_on: date, today: date) -> bool:
    """One of the kind that belongs there."""
    name = clean_text(spec.name)
    days = [one.fitted_on for one in read.fitting_log(book, harp_id, name)]
    if not days or None in days or heard_on >= min(days):
        return False
    row = {"harp_id": harp_id, "string": name, "removed_on": min(days), "material": plain(spec.material), "gauge_mm": plain(spec.gauge_mm)}
    number = connection.execute(insert(fittings).values(row)).inserted_primary_key[0]
    trace = {"fitting_id": number, "field": BEGUN, "date": today, "why": f"heard in a sweep of {day_text(heard_on)}"}
    connection.execute(insert(corrections).values(trace))
    move_plucks(book, harp_id, name)
    return True


def begun_before(connection: Connection, first: Fitting) -> int | None:
    """The number of the one that was on until this string was put on; None where there is none, or its owner has told more of it."""
    until = (fittings.c.harp_id == first.harp_id) & (fittings.c.string == first.string) & (fittings.c.removed_on == first.fitted_on)
    return connection.scalar(select(fittings.c.id).where(until, _untold()))


def end_with(connection: Connection, number: int, first_day: date | None) -> None:
    """The first string that was put on there was put on that day, None for before the log: the one before came off then, or it never was
    where none was heard by then. What was heard of it is still to be moved (`move_plucks`)."""
    if first_day is not None and _is_heard_before(connection, number, first_day):
        connection.execute(update(fittings).where(fittings.c.id == number).values(removed_on=first_day))
        return
    for table in (plucks, conditions, pitch_readings):
        connection.execute(update(table).where(table.c.fitting_id == number).values(fitting_id=None))
    connection.execute(delete(corrections).where(corrections.c.fitting_id == number))
    connection.execute(delete(fittings).where(fittings.c.id == number))


def _is_heard_before(connection: Connection, number: int, day: date) -> bool:
    """By a sweep or a pitch check."""
    swept = select(sweeps.c.id).join(plucks).where(plucks.c.fitting_id == number, sweeps.c.date < day)
    begins = datetime.combine(day, time())
    checked = select(pitch_readings.c.id).where(pitch_readings.c.fitting_id == number, pitch_readings.c.at < begins)
    return any(connection.scalar(one.limit(1)) is not None for one in (swept, checked))


def resting_on(connection: Connection, sweep_id: int) -> dict[int, str]:
    """By number the strings of those that rest on this sweep alone. What other sweeps say of one, which did not hear it, is let go."""
    def elsewhere(table: Table) -> ColumnElement[bool]:
        return exists().where(table.c.fitting_id == fittings.c.id, or_(table.c.sweep_id.is_(None), table.c.sweep_id != sweep_id))

    here = exists().where(plucks.c.fitting_id == fittings.c.id, plucks.c.sweep_id == sweep_id)
    chosen = select(fittings.c.id, fittings.c.string).where(_untold(), here, ~elsewhere(plucks), ~elsewhere(pitch_readings))
    found = {number: string for number, string in connection.execute(chosen.order_by(fittings.c.id))}
    silent = conditions.c.fitting_id.in_(found) & (conditions.c.sweep_id != sweep_id)
    connection.execute(update(conditions).where(silent).values(fitting_id=None))
    return found


def _untold() -> ColumnElement[bool]:
    """Those of which nothing is known but that a sweep heard them."""
    traced = select(corrections.c.fitting_id)
    begun, told = traced.where(corrections.c.field == BEGUN), traced.where(corrections.c.field != BEGUN)
    return and_(fittings.c.removed_on.is_not(None), fittings.c.id.in_(begun), fittings.c.id.not_in(told))
