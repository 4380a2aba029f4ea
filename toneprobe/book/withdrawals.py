"""A string change that never happened, logged on the wrong position for instance, taken back: all of it, in one transaction."""

from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import Connection, func, select, update

from toneprobe.book import read
from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.corrections import keep_trace, put_right
from toneprobe.book.rows import to_fitting, to_spare
from toneprobe.book.schema import fittings, plucks, sweeps
from toneprobe.book.schema import spares as spare_rows
from toneprobe.book.stringing import move_plucks
from toneprobe.errors import UsageError
from toneprobe.fittings import Fitting, withdraw
from toneprobe.spares import Spare
from toneprobe.typed import clean_text


@dataclass(frozen=True)
class Withdrawal:
    """What was taken back, and what is true instead."""

    withdrawn: Fitting
    again: Fitting | None  # the string that had not come off; None where none was said to
    spares: tuple[Spare, ...]  # on the list again
    lost_baseline: bool  # sweeps kept as the withdrawn string's baseline are ordinary ones now


def withdraw_fitting(book: Book, fitting_id: int, *, today: date, why: str = "") -> Withdrawal:
    """Withdraw one entry; sweeps, verdicts and checks go to the string that was on. UsageError where it is no change, or is withdrawn."""
    with writing(book) as connection:
        old = read.fitting(book, fitting_id)
        log = read.fitting_log(book, old.harp_id, old.string)
        if all(one.id != old.id for one in log):
            raise UsageError(f"{old.string}: number {old.id} was withdrawn before")
        again, trace = withdraw(old, log, today=today, why=clean_text(why))
        values = {"withdrawn_on": today, "removed_on": old.removed_on or old.fitted_on}  # first: one string at a time is on
        connection.execute(update(fittings).where(fittings.c.id == old.id).values(values))
        keep_trace(book, trace[:1])
        if again is not None:
            put_right(book, again, trace[1:])
        lost = again is not None and _unmark_fresh(connection, old.id, again.id)
        spares = _back_on_the_list(connection, old.id)
        move_plucks(book, old.harp_id, old.string)
        return Withdrawal(old, again, spares, lost)


def is_last_put_in(book: Book, fitting: Fitting) -> bool:
    """Whether nothing was put into the harp's log after this entry, which stands; numbers are given in order and never again."""
    with reading(book) as connection:
        return fitting.id == connection.scalar(select(func.max(fittings.c.id)).where(fittings.c.harp_id == fitting.harp_id))


def withdrawn_fittings(book: Book, harp_id: int, string: str) -> tuple[Fitting, ...]:
    """The withdrawn entries of one position, as far as they are on record."""
    with reading(book) as connection:
        chosen = select(fittings).where(fittings.c.harp_id == harp_id, fittings.c.string == clean_text(string))
        rows = connection.execute(chosen.where(fittings.c.withdrawn_on.is_not(None)).order_by(fittings.c.id)).mappings()
        return tuple(map(to_fitting, rows))


def _unmark_fresh(connection: Connection, from_id: int, to_id: int) -> bool:
    """The fresh plucks of a withdrawn string are old ones of the string that was on, where that has a baseline of its own."""
    own = select(plucks.c.id).where(plucks.c.fitting_id == to_id, plucks.c.is_fresh).limit(1)
    wrong = (plucks.c.fitting_id == from_id) & plucks.c.is_fresh
    touched = list(connection.scalars(select(plucks.c.sweep_id).where(wrong).distinct()))
    if not touched or connection.scalar(own) is None:
        return False
    connection.execute(update(plucks).where(wrong).values(is_fresh=False))
    still_fresh = set(connection.scalars(select(plucks.c.sweep_id).where(plucks.c.sweep_id.in_(touched), plucks.c.is_fresh)))
    bare = [sweep_id for sweep_id in touched if sweep_id not in still_fresh]
    connection.execute(update(sweeps).where(sweeps.c.id.in_(bare)).values(is_fresh=False))
    return True


def _back_on_the_list(connection: Connection, fitting_id: int) -> tuple[Spare, ...]:
    mine = spare_rows.c.fitting_id == fitting_id
    rows = connection.execute(select(spare_rows).where(mine).order_by(spare_rows.c.id)).mappings().all()
    connection.execute(update(spare_rows).where(mine).values(used_on=None, fitting_id=None))
    return tuple(replace(to_spare(row), used_on=None, fitting_id=None) for row in rows)
