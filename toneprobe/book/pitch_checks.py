"""Pitch checks, and which strings were found settled by them."""

from collections.abc import Iterable, Sequence
from datetime import date, datetime

from sqlalchemy import Connection, Select, delete, insert, or_, select, update

from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import plain
from toneprobe.book.entries import NewCheck
from toneprobe.book.read import fittings_on
from toneprobe.book.rows import to_pitch_reading, to_settled
from toneprobe.book.schema import fittings, pitch_readings
from toneprobe.book.schema import settled as settled_rows
from toneprobe.errors import BookError
from toneprobe.settling import PitchReading, SettledRecord
from toneprobe.typed import clean_text


class CheckStandsError(BookError):
    """A check that the book has already stands in the way of a new reading."""

    def __init__(self, text: str, at: datetime) -> None:
        super().__init__(text)
        self.at = at  # of the check that stands


def add_checks(book: Book, harp_id: int, new: Sequence[NewCheck]) -> tuple[PitchReading, ...]:
    """Store the readings of one check, all or none, each for the fitting that was on that day. One that is there already, of that moment
    and recording, stays. CheckStandsError where that moment has another reading, or a recording was read into another check."""
    with writing(book) as connection:
        ids = [_add(book, connection, harp_id, one) for one in new]
        found = connection.execute(select(pitch_readings).where(pitch_readings.c.id.in_(ids)).order_by(pitch_readings.c.id)).mappings()
        return tuple(map(to_pitch_reading, found))


def pitch_checks(book: Book, harp_id: int) -> tuple[PitchReading, ...]:
    """All readings of a harp, first to last."""
    with reading(book) as connection:
        chosen = select(pitch_readings).where(pitch_readings.c.harp_id == harp_id).order_by(pitch_readings.c.at, pitch_readings.c.id)
        return tuple(map(to_pitch_reading, connection.execute(chosen).mappings()))


def keep_settled(book: Book, record: SettledRecord) -> None:
    """Note that a fitting has settled; the first note stays."""
    with writing(book) as connection:
        if connection.scalar(select(settled_rows.c.id).where(settled_rows.c.fitting_id == record.fitting_id)) is None:
            names = ("fitting_id", "string", "settled_on", "noted_on", "creep_cents")
            row = {name: getattr(record, name) for name in names}
            connection.execute(insert(settled_rows).values(row | {"string": clean_text(record.string)}))


def forget_settled(book: Book, fitting_id: int, *, since: date) -> tuple[SettledRecord, ...]:
    """Take out the note that a fitting had settled, of that day or a later one; returned where its owner wants a baseline by it."""
    mine = (settled_rows.c.fitting_id == fitting_id) & (settled_rows.c.noted_on >= since)
    with writing(book) as connection:
        wished = connection.execute(select(settled_rows).where(mine, settled_rows.c.baseline_next)).mappings().all()
        connection.execute(delete(settled_rows).where(mine))
    return tuple(map(to_settled, wished))


def settled_strings(book: Book, harp_id: int) -> tuple[SettledRecord, ...]:
    """Every note that a fitting had settled, first noted first; a note that a later correction of the log contradicts is left out."""
    with reading(book) as connection:
        noted = _standing(select(settled_rows), harp_id).order_by(settled_rows.c.noted_on, settled_rows.c.id)
        return tuple(map(to_settled, connection.execute(noted).mappings()))


def want_baseline(book: Book, fitting_id: int) -> None:
    """Keep that the owner wants the next sweep to be the fresh baseline of a settled fitting."""
    with writing(book) as connection:
        done = connection.execute(update(settled_rows).where(settled_rows.c.fitting_id == fitting_id).values(baseline_next=True))
        if not done.rowcount:
            raise BookError("a string that has not settled gets no baseline")


def baselines_wanted(book: Book, harp_id: int) -> frozenset[int]:
    """The fittings whose next sweep shall be their fresh baseline."""
    with reading(book) as connection:
        return frozenset(connection.scalars(_standing(select(settled_rows.c.fitting_id), harp_id).where(settled_rows.c.baseline_next)))


def baselines_made(connection: Connection, fitting_ids: Iterable[int]) -> None:
    """Take back the wish of those fittings, in the transaction that gives them their baseline: a wish that outlived it would mix months."""
    connection.execute(update(settled_rows).where(settled_rows.c.fitting_id.in_(list(fitting_ids))).values(baseline_next=False))


def _standing(chosen: Select, harp_id: int) -> Select:
    """Those of the chosen notes on a harp's strings that the log does not contradict."""
    on, off, day = fittings.c.fitted_on, fittings.c.removed_on, settled_rows.c.settled_on
    mine = chosen.join(fittings, fittings.c.id == settled_rows.c.fitting_id).where(fittings.c.harp_id == harp_id)
    return mine.where(fittings.c.withdrawn_on.is_(None), or_(on.is_(None), on <= day), or_(off.is_(None), day <= off))


def _add(book: Book, connection: Connection, harp_id: int, new: NewCheck) -> int:
    row = _row(harp_id, new)
    same = (pitch_readings.c.harp_id == harp_id) & (pitch_readings.c.string == row["string"])
    hashes = [one for one in (new.found_sha256, new.left_sha256) if one]
    read_before = pitch_readings.c.found_sha256.in_(hashes) | pitch_readings.c.left_sha256.in_(hashes)
    known = connection.execute(select(pitch_readings).where(same, or_(pitch_readings.c.at == row["at"], read_before))).mappings().first()
    if known is None:
        owner = fittings_on(book, harp_id, new.reading.at.date()).get(row["string"])
        values = row | {"fitting_id": owner.id if owner else None}
        return connection.execute(insert(pitch_readings).values(values)).inserted_primary_key[0]
    if known["at"] == row["at"] and (known["found_sha256"], known["left_sha256"]) == (new.found_sha256, new.left_sha256):
        return known["id"]
    when = f"{known['at']:%Y-%m-%d %H:%M}"
    if known["at"] != row["at"]:
        raise CheckStandsError(f"this recording is in the check of {when} already: leave it out", known["at"])
    raise CheckStandsError(f"{row['string']} has a check of {when} already: give another --time", known["at"])


def _row(harp_id: int, new: NewCheck) -> dict[str, object]:
    one = new.reading
    figures = {}
    for name, figure in (("found_hz", one.found_hz), ("left_hz", one.left_hz)):
        known = figure is not None and figure.known
        figures |= {name: plain(figure.value) if known else None, f"{name}_se": plain(figure.se) if known else None}
    return {
        "harp_id": harp_id, "sweep_id": one.sweep_id, "string": clean_text(one.string), "note": one.note, "at": one.at,
        "found_sha256": new.found_sha256, "left_sha256": new.left_sha256,
    } | figures
