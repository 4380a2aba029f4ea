"""A typed notebook into the string log: all of its rows, or none."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import func, insert, select

from toneprobe.book import read
from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import clean_row, plain
from toneprobe.book.corrections import keep_trace, put_right
from toneprobe.book.schema import fittings, plucks, sweeps
from toneprobe.book.stringing import move_plucks
from toneprobe.days import day_text
from toneprobe.errors import UsageError
from toneprobe.fittings import CORRECTABLE, SUPPOSED, Correction, Fitting, check_fitting, correct, is_placeholder
from toneprobe.notebook import LogRow
from toneprobe.typed import clean_text


def import_log(book: Book, harp_id: int, rows: Sequence[LogRow], *, today: date) -> None:
    """Add the rows to the string log, all or none; UsageError, naming the line, where one cannot be.

    A row may fill in an entry that lacks its first or its last day, or the string of unknown date that is on. What an entry said before
    stays on record. Plucks, verdicts and checks go to the string that was on at the time.
    """
    with writing(book):
        names = {string.name for string in read.harp_by_id(book, harp_id).instrument.strings}
        for row in sorted(rows, key=_when):
            _store(book, harp_id, row, names, today)
        for string in dict.fromkeys(clean_text(row.string) for row in rows):
            move_plucks(book, harp_id, string)


def _store(book: Book, harp_id: int, row: LogRow, names: set[str], today: date) -> None:
    name = clean_text(row.string)
    if name not in names:
        raise UsageError(f"line {row.line}: there is no string {name!r}")
    log = read.fitting_log(book, harp_id, name)
    own = _own(row, log)
    try:
        fitting = Fitting(id=-1, harp_id=harp_id, string=row.string, **{field: getattr(row, field) for field in CORRECTABLE})
        check_fitting(fitting, today=today, others=[one for one in log if one is not own and not is_placeholder(one)])
    except UsageError as error:
        raise UsageError(f"line {row.line}: {error}") from None
    if own is None:
        values = {"harp_id": harp_id, "string": name, "is_supposed": row.is_supposed} | _values(row)
        with writing(book) as connection:
            added = connection.execute(insert(fittings).values(values)).inserted_primary_key[0]
        if row.is_supposed:
            told = f"{SUPPOSED}{row.fitted_on}"
            keep_trace(book, [Correction(added, "fitted_on", None, told, today, f"from the notebook, line {row.line}")])
    else:
        _refuse_heard_before(book, own, row)
        _complete(book, own, row, today)


def _own(row: LogRow, log: Sequence[Fitting]) -> Fitting | None:
    """The entry without a first or without a last day that the row tells of. UsageError where it has changed since the row was read."""
    if row.ends is not None:
        own = next((one for one in log if one.id == row.ends and one.removed_on is None and one.fitted_on == row.fitted_on), None)
    elif row.completes is not None:
        own = next((one for one in log if one.id == row.completes and (one.fitted_on is None or one.is_supposed)), None)
    else:
        return next((one for one in log if is_placeholder(one)), None) if row.removed_on is None else None
    if own is None:
        raise UsageError(f"line {row.line}: no. {row.ends or row.completes} of the log has changed since: read the notebook again")
    return own


def _refuse_heard_before(book: Book, own: Fitting, row: LogRow) -> None:
    """UsageError where a sweep heard a string of supposed first day before the day on which it is now said to have gone on."""
    heard = select(func.min(sweeps.c.date)).join(plucks, plucks.c.sweep_id == sweeps.c.id).where(plucks.c.fitting_id == own.id)
    with reading(book) as connection:
        day = connection.scalar(heard)
    if own.is_supposed and day is not None and day < row.fitted_on:
        raise UsageError(f"line {row.line}: {own.string} was heard in the sweep of {day_text(day)}, so another string was on before "
                         f"{day_text(row.fitted_on)}: write a row of that one too, with the day on which it came off")


def _complete(book: Book, own: Fitting, row: LogRow, today: date) -> None:
    """Store what the row knows of the entry, and the trace of that; remarks are joined, and where the row is silent the entry stays."""
    said = {key: item for key, item in _values(row).items() if item not in (None, "", False)}
    if row.is_stand_in and is_placeholder(own):  # of that the kind which belongs there was supposed
        said |= {"material": row.material, "gauge_mm": row.gauge_mm}
    if "fitted_on" in said:
        said["is_supposed"] = row.is_supposed
    if "note" in said:
        said["note"] = own.note if said["note"] in own.note else "; ".join(part for part in (own.note, said["note"]) if part)
    put_right(book, *correct(own, said, today=today, why=f"from the notebook, line {row.line}"))


def _values(row: LogRow) -> dict[str, object]:
    return clean_row({field: getattr(row, field) for field in CORRECTABLE}) | {"gauge_mm": plain(row.gauge_mm)}


def _when(row: LogRow) -> tuple[bool, date, date]:
    """Those that give an entry its first or its last day come first: it makes room for older ones, and for later ones."""
    return row.completes is None and row.ends is None, row.fitted_on or date.min, row.removed_on or date.max
