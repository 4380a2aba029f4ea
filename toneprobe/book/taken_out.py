"""What should never have come into the book is taken out: a sweep of another harp, a check by the wrong recording, a note, spares.

Nothing is lost: before they leave the tables all rows go, with the reason, into one JSON file in `withdrawn/`, in the form of the export; a
sweep's clips stay where they are. The file is on the disk before the transaction commits: where the power fails in between both are there,
and it can be done again. The same recordings may be measured once more.
"""

import json
import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from itertools import chain, count
from pathlib import Path
from shlex import quote

from sqlalchemy import ColumnElement, Connection, Table, delete, select, update

from toneprobe.book.begun import resting_on
from toneprobe.book.connect import Book, reading, writing
from toneprobe.book.convert import to_json
from toneprobe.book.damage import rows_as_they_lie, text_as_it_lies
from toneprobe.book.disk import whole_file
from toneprobe.book.export import readable
from toneprobe.book.faults import plain_faults
from toneprobe.book.schema import (
    conditions,
    corrections,
    events,
    fittings,
    pitch_readings,
    plucks,
    recordings,
    settled,
    spares,
    sweep_recordings,
    sweeps,
    unheard,
)
from toneprobe.errors import UsageError
from toneprobe.typed import clean_text

MEASURED = (conditions, plucks, unheard, sweep_recordings)
NOTED = (pitch_readings, events)  # with a sweep

Rows = Sequence[tuple[Table, ColumnElement[bool]]]  # which rows of which table, those that refer to others first


@dataclass(frozen=True)
class TakenOut:
    """What is no longer in the book, and where it lies."""

    path: Path
    day: date  # from which on verdicts may change
    strings: tuple[str, ...]  # that were heard in it
    bare: tuple[str, ...]  # strings that have lost their fresh baseline
    stood_for: tuple[Path, ...] = ()  # where the sweeps lie in whose place it stood
    wished: tuple[int, ...] = ()  # fittings whose next sweep was to be their baseline, by a note that is gone too
    begun: tuple[str, ...] = ()  # strings of which the log has lost the one that this sweep had begun


def take_out_sweep(book: Book, harp_id: int, sweep_id: int, *, today: date, why: str = "") -> TakenOut:
    """Take one sweep out, damaged or not, with its plucks, verdicts, check and climate. UsageError where the harp has none such."""
    with writing(book) as connection, text_as_it_lies(connection):
        owner, day = _whose(connection, sweep_id)
        if owner != harp_id:
            raise UsageError(f"sweep {sweep_id} is another harp's: choose it with --harp")
        heard = tuple(connection.scalars(select(plucks.c.string).where(plucks.c.sweep_id == sweep_id).distinct()))
        fresh = _fresh_fittings(connection, plucks.c.sweep_id == sweep_id)
        gone: Rows = _settled_since(connection, pitch_readings.c.sweep_id == sweep_id, day)
        gone += [(table, table.c.sweep_id == sweep_id) for table in (*MEASURED, *NOTED)] + [(sweeps, sweeps.c.id == sweep_id)]
        begun = resting_on(connection, sweep_id)
        gone += [(corrections, corrections.c.fitting_id.in_(begun)), (fittings, fittings.c.id.in_(begun))] if begun else []
        wished = _wished(connection, gone)
        path = _move(book, connection, f"sweep-{sweep_id}", gone, also=_heard_from(sweep_id), today=today, why=why)
        still = _fresh_fittings(connection, plucks.c.fitting_id.in_(fresh))
        bare = tuple(name for fitting_id, name in fresh.items() if fitting_id not in still)
        stood_for = _stood_for(book, connection, sweep_id)
        return TakenOut(path, day, *(tuple(map(clean_text, names)) for names in (heard, bare)), stood_for, wished, tuple(begun.values()))


def give_place(book: Book, connection: Connection, sweep_id: int, *, to: int, today: date) -> None:
    """Take a sweep out within another's transaction, its recordings free for the sweep `to`, which takes over what was noted with it."""
    gone: Rows = [(table, table.c.sweep_id == sweep_id) for table in MEASURED] + [(sweeps, sweeps.c.id == sweep_id)]
    for table in NOTED:
        connection.execute(update(table).where(table.c.sweep_id == sweep_id).values(sweep_id=to))
    _move(book, connection, f"sweep-{sweep_id}", gone, also=_heard_from(sweep_id), today=today, why=_in_place(to))


def take_out_check(book: Book, harp_id: int, at: datetime, *, today: date, why: str = "") -> TakenOut:
    """Take out all that was read at one check, as `checks_of` names it. UsageError where it came with a sweep, or there is none."""
    with writing(book) as connection:
        chosen = (pitch_readings.c.harp_id == harp_id) & (pitch_readings.c.at == at)
        found = connection.execute(select(pitch_readings).where(chosen).order_by(pitch_readings.c.id)).mappings().all()
        if not found:
            raise UsageError(f"there is no check of {at:%Y-%m-%d %H:%M}")
        with_sweep = next((row["sweep_id"] for row in found if row["sweep_id"] is not None), None)
        if with_sweep is not None:
            raise UsageError(f"this check came with sweep {with_sweep}: take that out")
        gone: Rows = [*_settled_since(connection, chosen, at.date()), (pitch_readings, chosen)]
        wished = _wished(connection, gone)
        path = _move(book, connection, f"check-{found[0]['id']}", gone, today=today, why=why)
        return TakenOut(path, at.date(), tuple(row["string"] for row in found), (), wished=wished)


def take_out_note(book: Book, harp_id: int, event_id: int, *, today: date, why: str = "") -> TakenOut:
    """Take one note out. UsageError where it came with a sweep, or the harp has none of that number."""
    with writing(book) as connection:
        chosen = (events.c.harp_id == harp_id) & (events.c.id == event_id)
        found = connection.execute(select(events).where(chosen)).mappings().first()
        if found is None:
            raise UsageError(f"this harp has no note {event_id}: see 'toneprobe note'")
        if found["sweep_id"] is not None:
            raise UsageError(f"note {event_id} came with sweep {found['sweep_id']}: it goes when that is withdrawn")
        path = _move(book, connection, f"note-{event_id}", [(events, chosen)], today=today, why=why)
        return TakenOut(path, found["date"], (), ())


def take_out_spares(book: Book, spare_ids: Sequence[int], *, today: date, why: str) -> Path:
    """Take spares out that were entered by mistake, all or none. Returns where they are kept. UsageError where one went onto a harp."""
    with writing(book) as connection:
        chosen = spares.c.id.in_(spare_ids)
        found = connection.execute(select(spares).where(chosen).order_by(spares.c.id)).mappings().all()
        on_harp = next((row for row in found if row["fitting_id"] is not None), None)
        if on_harp is not None:
            raise UsageError(f"spare {on_harp['id']} was put on: take that back first (toneprobe log withdraw {quote(on_harp['string'])})")
        if {row["id"] for row in found} != set(spare_ids):
            raise UsageError("the book has not all of these spares: see 'toneprobe spares'")
        return _move(book, connection, f"spare-{found[0]['id']}", [(spares, chosen)], today=today, why=why)


def checks_of(book: Book, harp_id: int, day: date) -> dict[datetime, tuple[str, ...]]:
    """By moment, the strings of each check of that day."""
    found: dict[datetime, tuple[str, ...]] = {}
    with reading(book) as connection:
        chosen = select(pitch_readings.c.at, pitch_readings.c.string).where(pitch_readings.c.harp_id == harp_id)
        for at, string in connection.execute(chosen.order_by(pitch_readings.c.at, pitch_readings.c.id)):
            if at.date() == day:
                found[at] = (*found.get(at, ()), string)
    return found


def _whose(connection: Connection, sweep_id: int) -> tuple[int, date]:
    """The harp and the day of a sweep; of a day that cannot be read, the earliest that there is."""
    found = next(rows_as_they_lie(connection, sweeps, sweeps.c.id == sweep_id), None)
    if found is None:
        raise UsageError(f"the book has no sweep {sweep_id}")
    row, _ = found
    return row["harp_id"], row["date"] if isinstance(row["date"], date) else date.min


def _in_place(sweep_id: int) -> str:
    return f"sweep {sweep_id} is in its place"


def _stood_for(book: Book, connection: Connection, sweep_id: int) -> tuple[Path, ...]:
    """The files of the sweeps that gave it their place. Passed over: what cannot be read, and the file of a sweep that is in the book after
    all, since the sweep that was to take its place was never kept."""
    there = set(map(str, connection.scalars(select(sweeps.c.id))))

    files = (path for path in sorted(book.withdrawn.glob("sweep-*.json")) if path.stem.split("-")[1] not in there)
    return tuple(path for path in files if _document(path).get("why") == _in_place(sweep_id))


def _heard_from(sweep_id: int) -> Rows:
    """The recordings of a sweep, which stay where they are."""
    measured = select(sweep_recordings.c.recording_id).where(sweep_recordings.c.sweep_id == sweep_id)
    return [(recordings, recordings.c.id.in_(measured))]


def _fresh_fittings(connection: Connection, which: ColumnElement[bool]) -> dict[int, str]:
    """Fittings that have fresh plucks among these, and their strings."""
    chosen = select(plucks.c.fitting_id, plucks.c.string).where(which, plucks.c.is_fresh, plucks.c.fitting_id.is_not(None))
    return {fitting_id: string for fitting_id, string in connection.execute(chosen.order_by(plucks.c.place))}


def _settled_since(connection: Connection, readings: ColumnElement[bool], day: date) -> Rows:
    """Notes of having settled that may rest on these readings: made on that day or later. The other readings may bring them back."""
    owners = set(connection.scalars(select(pitch_readings.c.fitting_id).where(readings, pitch_readings.c.fitting_id.is_not(None))))
    return [(settled, settled.c.fitting_id.in_(owners) & (settled.c.noted_on >= day))]


def _wished(connection: Connection, gone: Rows) -> tuple[int, ...]:
    """The fittings whose owner's wish stands in notes that go."""
    found = [select(settled.c.fitting_id).where(which, settled.c.baseline_next) for table, which in gone if table is settled]
    return tuple(fitting_id for one in found for fitting_id in connection.scalars(one.order_by(settled.c.fitting_id)))


def _move(book: Book, connection: Connection, name: str, gone: Rows, *, today: date, why: str, also: Rows = ()) -> Path:
    """Out of the tables into a file of that name, whose path is returned; `also`: rows that are in it, and stay."""
    tables = {table.name: [readable(row) for row, _ in rows_as_they_lie(connection, table, which)]
              for table, which in [*also, *reversed(gone)]}
    document = {"schema": "toneprobe.withdrawn/1", "on": today.isoformat(), "why": clean_text(why), "tables": tables}
    text = to_json(document) + "\n"
    path = _free(book.withdrawn, name, json.loads(text)["tables"])
    with plain_faults(f"the book {book.name}"), whole_file(path) as part:
        part.write_text(text, encoding="utf-8")
    for table, which in gone:
        connection.execute(delete(table).where(which))
    return path


def _free(folder: Path, name: str, tables: object) -> Path:
    """A path of that name, with a number behind it where other rows lie there: tables that were put back from an older copy give their
    numbers again. A file with the same rows is what a failure of the power left."""
    paths = (folder / f"{name}{behind}.json" for behind in chain([""], (f"-{number}" for number in count(2))))
    return next(path for path in paths if not os.path.lexists(path) or _document(path).get("tables") == tables)


def _document(path: Path) -> dict[str, object]:
    """What such a file holds; nothing of one that cannot be read."""
    with suppress(OSError, ValueError):
        document = json.loads(path.read_text(encoding="utf-8"))
        return document if isinstance(document, dict) else {}
    return {}
