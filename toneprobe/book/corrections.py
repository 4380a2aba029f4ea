"""The string log put right: the corrected entry and the trace of it in one transaction."""

from collections.abc import Mapping, Sequence
from datetime import date

from sqlalchemy import Connection, insert, select, update

from toneprobe.book import read
from toneprobe.book.begun import begun_before, end_with
from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import clean_row
from toneprobe.book.rows import to_correction
from toneprobe.book.schema import corrections as correction_rows
from toneprobe.book.schema import fittings, spares
from toneprobe.book.stringing import move_plucks
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings import Correction, Fitting, correct, is_placeholder
from toneprobe.typed import clean_text


def correct_fitting(
    book: Book, fitting_id: int, changes: Mapping[str, object], *, today: date, why: str = ""
) -> tuple[Fitting, tuple[Correction, ...]]:
    """Put one entry right, and the day on which the spare that it was went off the list. UsageError where it cannot be so."""
    clean = clean_row(changes)
    with writing(book) as connection:
        old = read.fitting(book, fitting_id)
        begun = begun_before(connection, old) if clean.get("fitted_on", old.fitted_on) != old.fitted_on else None
        others = [one for one in read.fitting_log(book, old.harp_id, old.string) if one.id not in (old.id, begun)]
        dated = [one for one in others if not is_placeholder(one)]
        new, trace = correct(old, clean, today=today, why=clean_text(why), others=dated)
        if new.removed_on is None and any(one.removed_on is None for one in others):
            raise UsageError(f"{old.string}: another string is on now")
        if trace:
            put_right(book, new, trace)
            if begun is not None:
                end_with(connection, begun, new.fitted_on)
            move_plucks(book, old.harp_id, old.string)
            if new.fitted_on is not None:
                _move_use(connection, old.id, new.fitted_on)
        return read.fitting(book, fitting_id), trace


def corrections_of(book: Book, harp_id: int) -> tuple[Correction, ...]:
    """Every correction of a harp's log, oldest first."""
    with reading(book) as connection:
        chosen = select(correction_rows).join(fittings, fittings.c.id == correction_rows.c.fitting_id).where(fittings.c.harp_id == harp_id)
        return tuple(map(to_correction, connection.execute(chosen.order_by(correction_rows.c.id)).mappings()))


def put_right(book: Book, corrected: Fitting, trace: Sequence[Correction]) -> None:
    """Store of an entry what was put right, and the trace of that."""
    said = {one.field: getattr(corrected, one.field) for one in trace} | {"is_supposed": corrected.is_supposed}
    with writing(book) as connection:
        connection.execute(update(fittings).where(fittings.c.id == corrected.id).values(said))
    keep_trace(book, trace)


def _move_use(connection: Connection, fitting_id: int, on: date) -> None:
    """The spare that became a string went off the list on the day on which it went on. UsageError where it was bought only later."""
    mine = spares.c.fitting_id == fitting_id
    later = connection.execute(select(spares).where(mine, spares.c.bought_on > on)).mappings().first()
    if later is not None:
        raise UsageError(f"{later['string']}: it was spare {later['id']}, which was bought only on {day_text(later['bought_on'])}. If it "
                         f"was bought earlier, say that first: toneprobe spares correct {later['id']} --bought DATE")
    connection.execute(update(spares).where(mine).values(used_on=on))


def keep_trace(book: Book, trace: Sequence[Correction]) -> None:
    with writing(book) as connection:
        for one in trace:
            said = {name: getattr(one, name) for name in ("fitting_id", "field", "before", "after", "why")}
            connection.execute(insert(correction_rows).values(said | {"date": one.on}))
