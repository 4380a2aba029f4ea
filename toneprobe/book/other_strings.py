"""A harp of which something is recorded gets other strings: the wrong preset was chosen, a file was mended, pins were moved.

Sweeps keep the instrument that they were measured by, and every string of which something is recorded stays. A string that is on since
before the log is of the kind that belongs there, as long as nobody has written otherwise.
"""

import unicodedata
from dataclasses import dataclass
from datetime import date
from operator import attrgetter

from sqlalchemy import Connection, or_, select, update

from toneprobe.book import read
from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import plain
from toneprobe.book.corrections import put_right
from toneprobe.book.entries import Harp
from toneprobe.book.schema import fittings, harps, pitch_readings, plucks, spares, sweeps
from toneprobe.book.stringing import add_missing_fittings, has_record, instrument_row
from toneprobe.errors import UsageError
from toneprobe.fittings import correct
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.phrases import as_strings, listed
from toneprobe.typed import clean_text

WHY = "the harp got other strings"  # of a correction
FEW = 6  # strings that are named; of more the rest are counted


@dataclass(frozen=True)
class Restated:
    """What is otherwise, by string name from the top."""

    new: tuple[str, ...]
    gone: tuple[str, ...]
    otherwise: tuple[str, ...]  # of another note, material, gauge or length


def recorded_harp(book: Book, name: str) -> Harp | None:
    """The harp of that very name, where something is recorded of it."""
    known = next((one for one in read.harps(book) if one.name == clean_text(unicodedata.normalize("NFC", name.strip()))), None)
    with reading(book) as connection:
        return known if known is not None and has_record(connection, known.id) else None


def restated(old: Instrument, new: Instrument) -> Restated:
    was, now = ({one.name: one for one in instrument.strings} for instrument in (old, new))
    said = attrgetter("note", "material", "gauge_mm", "length_mm")
    return Restated(tuple(name for name in now if name not in was), tuple(name for name in was if name not in now),
                    tuple(name for name, one in now.items() if name in was and said(was[name]) != said(one)))


def give_strings(book: Book, harp: Harp, instrument: Instrument, *, preset: str | None, today: date) -> Restated:
    """Give the harp this instrument from now on. UsageError, and no change, where a string would go of which something is recorded."""
    found = restated(harp.instrument, instrument)
    with writing(book) as connection:
        recorded = _recorded(connection, harp.id)
        if lost := [name for name in found.gone if clean_text(name) in recorded]:
            raise UsageError(f"something is recorded of {listed(as_strings(lost), FEW)}, which {harp.name} would no longer have: nothing "
                             f"was changed. If it is another {harp.instrument.word}, give it another name")
        connection.execute(update(harps).where(harps.c.id == harp.id).values(preset=plain(preset), **instrument_row(instrument)))
        # strings that the harp never had: their entries count for nothing, as withdrawn ones do
        gone = fittings.c.string.in_([clean_text(name) for name in found.gone]) & fittings.c.withdrawn_on.is_(None)
        connection.execute(update(fittings).where(fittings.c.harp_id == harp.id, gone).values(removed_on=today, withdrawn_on=today))
        add_missing_fittings(connection, harp.id, instrument)
        was = {one.name: one for one in harp.instrument.strings}
        for spec in instrument.strings:
            if spec.name in found.otherwise:
                _restate(book, harp.id, was[spec.name], spec, today)
    return found


def _recorded(connection: Connection, harp_id: int) -> set[str]:
    """The strings that were heard, changed or checked, or of which there is a spare."""
    dated = or_(fittings.c.fitted_on.is_not(None), fittings.c.removed_on.is_not(None))
    asked = (select(plucks.c.string).join(sweeps, sweeps.c.id == plucks.c.sweep_id).where(sweeps.c.harp_id == harp_id),
             select(fittings.c.string).where(fittings.c.harp_id == harp_id, dated, fittings.c.withdrawn_on.is_(None)),
             select(pitch_readings.c.string).where(pitch_readings.c.harp_id == harp_id),
             select(spares.c.string).where(spares.c.harp_id == harp_id, spares.c.used_on.is_(None)))
    return {name for one in asked for name in connection.scalars(one.distinct())}


def _restate(book: Book, harp_id: int, was: StringSpec, spec: StringSpec, today: date) -> None:
    """Of a string that is on since before the log: what its entry has from the harp's old description becomes what the new one says."""
    for one in read.fitting_log(book, harp_id, spec.name):
        changes = {field: plain(getattr(spec, field)) for field in ("material", "gauge_mm")
                   if getattr(one, field) == getattr(was, field) != getattr(spec, field)}
        if one.fitted_on is None and changes:
            put_right(book, *correct(one, changes, today=today, why=WHY))
