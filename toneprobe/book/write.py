"""Store a sweep, in the place of an earlier one if need be, replace its verdicts, mark it fresh.

A sweep is in the book whole or not at all. Its clips are written and synced first, into a marked folder; one commit then makes sweep,
recordings, plucks and verdicts visible together (`leftovers.py`: what happens when the power fails in between).
"""

from collections.abc import Callable, Collection, Iterable, Sequence
from datetime import UTC, date, datetime
from functools import partial
from pathlib import Path

from sqlalchemy import Connection, Table, delete, insert, select, update

from toneprobe import __version__
from toneprobe.book import read
from toneprobe.book.clips import clip_name, write_clip
from toneprobe.book.connect import Book, when_kept, writing
from toneprobe.book.convert import plain
from toneprobe.book.entries import NewPluck, NewSweep, RecordingEntry, SweepRecord
from toneprobe.book.leftovers import clip_folder, finish, settle_folder
from toneprobe.book.pitch_checks import baselines_made
from toneprobe.book.place import PLUCKS
from toneprobe.book.rows import condition_row, measurement_row
from toneprobe.book.schema import SCHEMA, conditions, plucks, recordings, sweep_recordings, sweeps, unheard
from toneprobe.book.stringing import add_missing_fittings
from toneprobe.book.taken_out import give_place
from toneprobe.condition import Condition
from toneprobe.days import day_text
from toneprobe.errors import BookError
from toneprobe.typed import clean_text

Kept = dict[int, tuple[str | None, float]]  # by pluck: clip inside the book, gain
Owners = dict[str, int]  # by string: the fitting that it was


def store_or_find_sweep(
    book: Book, new: NewSweep, *, today: date, fresh: Collection[str] | None = None, instead_of: Collection[int] = (),
    then: Callable[[SweepRecord], object] = lambda record: None,
) -> tuple[SweepRecord, bool]:
    """Store a measured sweep whole, or not at all. Returns the sweep, and whether it was stored: where this harp has one with all these
    recordings already, perhaps stored by another program meanwhile, that one is returned and nothing is added.

    `fresh`: the strings whose baseline it is; None: all or none, as `new.is_fresh` says. It fulfils the wish that the next sweep be such a
    string's baseline. `instead_of`: sweeps that leave the book in the same transaction; the new one has all their recordings, and a string
    that both heard keeps its fitting. `today`: the day noted in the files that these are kept in. `then` is called with the stored sweep
    in the same transaction. BookError where only some of the recordings were measured before, or where the book cannot be written.
    """
    with writing(book) as connection:
        found = read.find_sweep_by_recordings(book, new.harp_id, _hashes(new))
        if found is not None:
            return found, False
        _refuse_overlap(book, new, instead_of)
        with clip_folder(book, new.date) as folder:
            kept = _write_clips(folder, new.plucks)
            sweep_id = _insert_sweep(connection, new, folder.name)
            owners = _heard_on(book, new.harp_id, new.date) | _owners_in(connection, instead_of, (plucks,))
            for old in instead_of:
                give_place(book, connection, old, to=sweep_id, today=today)
            rows = _pluck_rows(new, kept, owners, fresh)
            _insert_plucks(connection, sweep_id, new, rows)
            baselines_made(connection, {row["fitting_id"] for row in rows if row["is_fresh"]} - {None})
            _insert_conditions(connection, sweep_id, new.conditions, owners)
            record = read.sweep(book, sweep_id)
            then(record)
        when_kept(connection, partial(finish, folder))
        return record, True


def replace_conditions(book: Book, sweep_id: int, judged: Iterable[Condition]) -> None:
    """Put new verdicts in place of a sweep's old ones; what was measured stays untouched."""
    with writing(book) as connection:
        sweep = read.sweep(book, sweep_id)  # a verdict's fitting: that of its plucks, else of the old verdict, else what was on that day
        owners = _heard_on(book, sweep.harp_id, sweep.date) | _owners_in(connection, [sweep_id], (conditions, plucks))
        connection.execute(delete(conditions).where(conditions.c.sweep_id == sweep_id))
        _insert_conditions(connection, sweep_id, tuple(judged), owners)


def mark_fresh(book: Book, sweep_id: int, *, strings: Iterable[str]) -> SweepRecord:
    """Make a sweep's plucks of these strings, which it heard, part of their fittings' fresh baselines. Any one makes it a fresh sweep."""
    with writing(book) as connection:
        chosen = (plucks.c.sweep_id == sweep_id) & plucks.c.string.in_([clean_text(name) for name in strings])
        connection.execute(update(plucks).where(chosen).values(is_fresh=True))
        baselines_made(connection, set(connection.scalars(select(plucks.c.fitting_id).where(chosen))) - {None})
        connection.execute(update(sweeps).where(sweeps.c.id == sweep_id).values(is_fresh=True))
        return read.sweep(book, sweep_id)


def _write_clips(folder: Path, new: tuple[NewPluck, ...]) -> Kept:
    kept: Kept = {}
    for place, pluck in enumerate(new):
        clip = pluck.clip() if callable(pluck.clip) else pluck.clip
        if clip is None:
            kept[place] = (None, 1.0)
            continue
        name = clip_name(place + 1, pluck.measurement.string)
        kept[place] = (f"{PLUCKS}/{folder.name}/{name}", write_clip(folder / name, clip))
    settle_folder(folder)
    return kept


def _insert_sweep(connection: Connection, new: NewSweep, clip_folder_name: str) -> int:
    add_missing_fittings(connection, new.harp_id, new.instrument)
    row = {
        "harp_id": new.harp_id,
        "date": new.date,
        "is_fresh": new.is_fresh,
        "tuning": plain(new.instrument.tuning),
        "a4_hz": plain(new.instrument.a4_hz),
        "instrument": plain(new.instrument),
        "warnings": plain(tuple(one.text for one in new.remarks)),
        "remarks": plain(new.remarks),
        "clip_folder": clip_folder_name,
        "created_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "program": __version__,
        "schema_version": SCHEMA,
    }
    sweep_id = connection.execute(insert(sweeps).values(row)).inserted_primary_key[0]
    missing = [{"sweep_id": sweep_id, "place": place, "string": clean_text(name)} for place, name in enumerate(new.unheard)]
    if missing:
        connection.execute(insert(unheard), missing)
    return sweep_id


def _pluck_rows(new: NewSweep, kept: Kept, owners: Owners, fresh: Collection[str] | None) -> list[dict[str, object]]:
    """The rows, still without the numbers of sweep and recording."""
    return [
        {"place": place, "is_fresh": new.is_fresh if fresh is None else pluck.measurement.string in fresh}
        | {"fitting_id": owners.get(clean_text(pluck.measurement.string)), "clip": kept[place][0], "clip_gain": kept[place][1]}
        | measurement_row(pluck.measurement)
        for place, pluck in enumerate(new.plucks)
    ]


def _insert_plucks(connection: Connection, sweep_id: int, new: NewSweep, rows: list[dict[str, object]]) -> None:
    recording_ids = [_recording_id(connection, recording) for recording in new.recordings]
    links = [{"sweep_id": sweep_id, "place": place, "recording_id": one, "harp_id": new.harp_id} for place, one in enumerate(recording_ids)]
    connection.execute(insert(sweep_recordings), links)
    numbers = [{"sweep_id": sweep_id, "recording_id": recording_ids[pluck.recording]} for pluck in new.plucks]
    if rows:
        connection.execute(insert(plucks), [row | number for row, number in zip(rows, numbers, strict=True)])


def _insert_conditions(connection: Connection, sweep_id: int, judged: tuple[Condition, ...], owners: Owners) -> None:
    rows = [
        {"sweep_id": sweep_id, "place": place, "fitting_id": owners.get(clean_text(condition.string)), "program": __version__}
        | condition_row(condition)
        for place, condition in enumerate(judged)
    ]
    if rows:
        connection.execute(insert(conditions), rows)


def _owners_in(connection: Connection, sweep_ids: Collection[int], tables: Sequence[Table]) -> Owners:
    """The fittings that these sweeps' rows in the tables name; where two tables differ, the last counts."""
    owners: Owners = {}
    for table in tables:
        said = select(table.c.string, table.c.fitting_id).where(table.c.sweep_id.in_(list(sweep_ids)), table.c.fitting_id.is_not(None))
        owners |= {string: fitting_id for string, fitting_id in connection.execute(said)}
    return owners


def _heard_on(book: Book, harp_id: int, day: date) -> Owners:
    return {string: one.id for string, one in read.fittings_on(book, harp_id, day).items()}


def _recording_id(connection: Connection, recording: RecordingEntry) -> int:
    """Its row, which says what this hearing found in it, unless another harp's sweep rests on what it says."""
    known = connection.scalar(select(recordings.c.id).where(recordings.c.sha256 == recording.sha256))
    if known is None:
        return connection.execute(insert(recordings).values(plain(recording))).inserted_primary_key[0]
    if connection.scalar(select(sweep_recordings.c.sweep_id).where(sweep_recordings.c.recording_id == known).limit(1)) is None:
        connection.execute(update(recordings).where(recordings.c.id == known).values(plain(recording)))
    return known


def _refuse_overlap(book: Book, new: NewSweep, instead_of: Collection[int]) -> None:
    """The same pluck must not count twice in a history, and none may be lost with a sweep that gives its place."""
    touched = read.sweeps_with(book, new.harp_id, _hashes(new))
    if not set(instead_of) <= {old.id for old in touched}:
        raise BookError("a sweep of these recordings was taken back or replaced meanwhile, and nothing was stored: give the command again")
    for old in touched:
        mine = {known.sha256 for known in old.recordings}
        if old.id not in instead_of or not mine <= _hashes(new):
            again = next(one for one in new.recordings if one.sha256 in mine)
            raise BookError(f"recording {again.file_name!r} is in sweep {old.id} of {day_text(old.date)} already: leave it out")


def _hashes(new: NewSweep) -> frozenset[str]:
    return frozenset(recording.sha256 for recording in new.recordings)
