"""Everything back out of the book, as values. Each call sees one settled state; within `writing`, what has been written so far."""

from collections.abc import Collection, Iterable
from datetime import date

from sqlalchemy import ColumnElement, Connection, Select, func, select

from toneprobe.book.connect import Book, reading
from toneprobe.book.entries import Harp, RecordingEntry, StoredCondition, StoredPluck, SweepRecord
from toneprobe.book.rows import to_condition, to_fitting, to_harp, to_pluck, to_recording, to_sweep
from toneprobe.book.schema import conditions as condition_rows
from toneprobe.book.schema import events, fittings, plucks, recordings, sweep_recordings, unheard
from toneprobe.book.schema import harps as harp_rows
from toneprobe.book.schema import sweeps as sweep_rows
from toneprobe.condition import SILENT
from toneprobe.condition.judged_before import Said
from toneprobe.errors import BookError, UsageError
from toneprobe.events import GONE
from toneprobe.fittings import Fitting
from toneprobe.typed import clean_text, reads_as


def harps(book: Book) -> tuple[Harp, ...]:
    """All harps in the order in which they were added."""
    with reading(book) as connection:
        return tuple(map(to_harp, connection.execute(select(harp_rows).order_by(harp_rows.c.id)).mappings()))


def harp(book: Book, name: str | None = None) -> Harp:
    """The harp of that name, in capitals or not, or the only one that is not noted as gone. BookError where the book has none, UsageError
    with the names where it must be chosen. Of names that differ in capitals alone, which an older book may have, the exact one counts."""
    known = harps(book)
    if not known:
        raise BookError(f"the book {book.name} has no harp yet: add one with 'toneprobe new NAME'")
    wanted = _here(book, known) if name is None else _called(known, clean_text(name))
    names = ", ".join(repr(one.name) for one in known)
    if not wanted:
        raise UsageError(f"the book has no harp {name!r}; it has {names}")
    if len(wanted) > 1:
        raise UsageError(f"the book has several harps; choose one with --harp: {', '.join(repr(one.name) for one in wanted)}")
    return wanted[0]


def _here(book: Book, known: tuple[Harp, ...]) -> tuple[Harp, ...]:
    """Those that are not noted as gone; where all are, all."""
    with reading(book) as connection:
        gone = set(connection.scalars(select(events.c.harp_id).where(events.c.kind == GONE)))
    return tuple(one for one in known if one.id not in gone) or known


def _called(known: Iterable[Harp], name: str) -> list[Harp]:
    alike = [one for one in known if reads_as(one.name) == reads_as(name)]
    return [one for one in alike if one.name == name] or alike


def harp_by_id(book: Book, harp_id: int) -> Harp:
    """UsageError where the book has none of that number."""
    found = next((one for one in harps(book) if one.id == harp_id), None)
    if found is None:
        raise UsageError(f"the book has no harp {harp_id}")
    return found


def current_fittings(book: Book, harp_id: int, *, on: date) -> dict[str, Fitting]:
    """By string name, what is on the harp at the end of that day."""
    return {one.string: one for one in fitting_log(book, harp_id) if covers(one, on) and one.removed_on != on}


def fittings_on(book: Book, harp_id: int, day: date) -> dict[str, Fitting]:
    """By string name, the fitting that a sweep of that day heard: of two on the day of a change, the new one."""
    return {one.string: one for one in fitting_log(book, harp_id) if covers(one, day)}


def covers(fitting: Fitting, day: date) -> bool:
    """Whether the string was on at some time of that day."""
    return (fitting.fitted_on is None or fitting.fitted_on <= day) and (fitting.removed_on is None or day <= fitting.removed_on)


def fitting_log(book: Book, harp_id: int, string: str | None = None) -> tuple[Fitting, ...]:
    """All fittings of the harp, or of one string of it, that were not withdrawn, oldest first within each string."""
    chosen = select(fittings).where(fittings.c.harp_id == harp_id, fittings.c.withdrawn_on.is_(None))
    chosen = chosen if string is None else chosen.where(fittings.c.string == clean_text(string))
    with reading(book) as connection:
        found = map(to_fitting, connection.execute(chosen).mappings())
        return tuple(sorted(found, key=lambda one: (one.string, one.fitted_on or date.min, one.removed_on or date.max, one.id)))


def fitting(book: Book, fitting_id: int) -> Fitting:
    """One fitting, withdrawn or not; UsageError where the book has none of that number."""
    with reading(book) as connection:
        row = connection.execute(select(fittings).where(fittings.c.id == fitting_id)).mappings().first()
        if row is None:
            raise UsageError(f"the book has no fitting {fitting_id}")
        return to_fitting(row)


def sweeps(book: Book, harp_id: int) -> tuple[SweepRecord, ...]:
    """All sweeps of a harp, oldest first."""
    with reading(book) as connection:
        return _sweeps(connection, sweep_rows.c.harp_id == harp_id)


def sweep_numbers(book: Book, harp_id: int, *, since: date) -> tuple[int, ...]:
    """The numbers of a harp's sweeps from that day on, oldest first: of damaged ones too."""
    chosen = select(sweep_rows.c.id).where(sweep_rows.c.harp_id == harp_id, sweep_rows.c.date >= since)
    with reading(book) as connection:
        return tuple(connection.scalars(chosen.order_by(sweep_rows.c.date, sweep_rows.c.id)))


def sweep(book: Book, sweep_id: int) -> SweepRecord:
    """One sweep; UsageError where the book has none of that number."""
    with reading(book) as connection:
        found = _sweeps(connection, sweep_rows.c.id == sweep_id)
    if not found:
        raise UsageError(f"the book has no sweep {sweep_id}")
    return found[0]


def find_sweep_by_recordings(book: Book, harp_id: int, sha256s: Iterable[str]) -> SweepRecord | None:
    """The sweep of this harp in which all of these recordings were measured already, else None."""
    wanted = frozenset(sha256s)
    found = sweeps_with(book, harp_id, wanted)
    return next((one for one in found if wanted <= {recording.sha256 for recording in one.recordings}), None)


def sweeps_with(book: Book, harp_id: int, sha256s: Iterable[str]) -> tuple[SweepRecord, ...]:
    """The sweeps of this harp in which any of these recordings was measured, oldest first."""
    touched = select(sweep_recordings.c.sweep_id).join(recordings).where(recordings.c.sha256.in_(sorted(set(sha256s))))
    with reading(book) as connection:
        return _sweeps(connection, (sweep_rows.c.harp_id == harp_id) & sweep_rows.c.id.in_(touched))


def recordings_in_use(book: Book, sha256s: Iterable[str], *, leaving_out: Collection[int]) -> dict[str, RecordingEntry]:
    """By hash, those recordings that sweeps of any harp rest on, as the book has them. `leaving_out`: sweeps by number."""
    used = select(recordings).join(sweep_recordings).where(recordings.c.sha256.in_(sorted(set(sha256s))))
    chosen = used.where(sweep_recordings.c.sweep_id.not_in(list(leaving_out)))
    with reading(book) as connection:
        return {row["sha256"]: to_recording(row) for row in connection.execute(chosen).mappings()}


def plucks_of(book: Book, sweep_id: int) -> tuple[StoredPluck, ...]:
    """The plucks of a sweep in the order in which they were stored."""
    return _plucks(book, plucks.c.sweep_id == sweep_id)


def onsets_of(book: Book, harp_id: int) -> dict[tuple[int, int], list[tuple[str, float, float | None]]]:
    """By sweep and recording: string, onset in s and cents off its note of each pluck of a harp, in the order of their storing."""
    chosen = select(plucks.c.sweep_id, plucks.c.recording_id, plucks.c.string, plucks.c.onset_s, plucks.c.cents_off)
    of_harp = chosen.join(sweep_rows, sweep_rows.c.id == plucks.c.sweep_id).where(sweep_rows.c.harp_id == harp_id)
    found: dict[tuple[int, int], list[tuple[str, float, float | None]]] = {}
    with reading(book) as connection:
        for sweep_id, recording_id, *pluck in connection.execute(of_harp.order_by(plucks.c.sweep_id, plucks.c.place)):
            found.setdefault((sweep_id, recording_id), []).append(tuple(pluck))
    return found


def plucks_of_fitting(book: Book, fitting_id: int) -> tuple[StoredPluck, ...]:
    """All plucks of one physical string, oldest sweep first; each carries its sweep's number and date."""
    return _plucks(book, plucks.c.fitting_id == fitting_id)


def fresh_plucks(book: Book, fitting_id: int) -> tuple[StoredPluck, ...]:
    """The plucks that make the fitting's fresh baseline; none for a stand-in."""
    return _plucks(book, _fresh(fitting_id))


def fresh_sweeps(book: Book, harp_id: int, *, until: date) -> dict[int, tuple[int, ...]]:
    """By fitting, the sweeps up to that day that hold its `fresh_plucks`, oldest first."""
    fresh = _of_baselines(select(plucks.c.fitting_id, sweep_rows.c.id), harp_id).where(sweep_rows.c.date <= until)
    found: dict[int, dict[int, None]] = {}
    with reading(book) as connection:
        for fitting_id, sweep_id in connection.execute(fresh.order_by(sweep_rows.c.date, sweep_rows.c.id)):
            found.setdefault(fitting_id, {})[sweep_id] = None
    return {fitting_id: tuple(sweep_ids) for fitting_id, sweep_ids in found.items()}


def judged_by_it_alone(book: Book, harp_id: int, sweep_id: int) -> tuple[str, ...]:
    """Strings, from the top, that other sweeps judge by a fresh baseline which this sweep alone holds."""
    sole = [fitting_id for fitting_id, sweep_ids in fresh_sweeps(book, harp_id, until=date.max).items() if sweep_ids == (sweep_id,)]
    chosen = select(condition_rows.c.string).where(condition_rows.c.fitting_id.in_(sole), condition_rows.c.sweep_id != sweep_id,
                                                   condition_rows.c.verdict.not_in(("unheard", "unrated")))
    with reading(book) as connection:
        return tuple(map(clean_text, dict.fromkeys(connection.scalars(chosen.order_by(condition_rows.c.place)))))


def heard_by_sweep(book: Book, harp_id: int) -> dict[tuple[date, int], dict[str, int | None]]:
    """By day and number of each sweep, oldest first, the fitting that its plucks of each string are of."""
    chosen = select(sweep_rows.c.date, sweep_rows.c.id, plucks.c.string, plucks.c.fitting_id).distinct()
    of_harp = chosen.join(plucks, plucks.c.sweep_id == sweep_rows.c.id, isouter=True).where(sweep_rows.c.harp_id == harp_id)
    found: dict[tuple[date, int], dict[str, int | None]] = {}
    with reading(book) as connection:
        for day, sweep_id, string, fitting_id in connection.execute(of_harp.order_by(sweep_rows.c.date, sweep_rows.c.id)):
            found.setdefault((day, sweep_id), {})[string] = fitting_id
    return found


def first_heard_days(book: Book, harp_id: int) -> dict[str, date]:
    """By string, the day of the first sweep that heard it."""
    heard = select(plucks.c.string, func.min(sweep_rows.c.date)).join(sweep_rows, sweep_rows.c.id == plucks.c.sweep_id)
    with reading(book) as connection:
        return {string: day for string, day in connection.execute(heard.where(sweep_rows.c.harp_id == harp_id).group_by(plucks.c.string))}


def fresh_plucks_in(book: Book, fitting_id: int, sweep_id: int) -> tuple[StoredPluck, ...]:
    """Those of the fitting's `fresh_plucks` that one sweep holds."""
    return _plucks(book, _fresh(fitting_id) & (plucks.c.sweep_id == sweep_id))


def fittings_heard(book: Book, sweep_ids: Collection[int]) -> frozenset[int]:
    """Of which fittings these sweeps have plucks."""
    chosen = select(plucks.c.fitting_id).where(plucks.c.sweep_id.in_(sorted(sweep_ids)), plucks.c.fitting_id.is_not(None))
    with reading(book) as connection:
        return frozenset(connection.scalars(chosen.distinct()))


def plucks_in(book: Book, sweep_ids: Collection[int], fitting_ids: Collection[int]) -> tuple[StoredPluck, ...]:
    """The plucks of these fittings in these sweeps, oldest sweep first."""
    return _plucks(book, plucks.c.sweep_id.in_(sorted(sweep_ids)) & plucks.c.fitting_id.in_(sorted(fitting_ids)))


def first_fresh_days(book: Book, harp_id: int) -> dict[int, date]:
    """By fitting, the day of the first sweep that its fresh baseline rests on; stand-ins have none."""
    first: dict[int, date] = {}
    for (fitting_id, _), (day, _) in fresh_days_by_note(book, harp_id).items():
        first[fitting_id] = min(day, first.get(fitting_id, day))
    return first


def fresh_days_by_note(book: Book, harp_id: int) -> dict[tuple[int, str], tuple[date, date]]:
    """The same by fitting and note, with the day of the last: each pedal or lever position has a baseline of its own."""
    of = plucks.c.fitting_id, plucks.c.note
    fresh = _of_baselines(select(*of, func.min(sweep_rows.c.date), func.max(sweep_rows.c.date)), harp_id)
    with reading(book) as connection:
        return {(fitting_id, note): (first, last) for fitting_id, note, first, last in connection.execute(fresh.group_by(*of))}


def conditions_of(book: Book, sweep_id: int) -> tuple[StoredCondition, ...]:
    """The verdicts of one sweep, in the order in which they were stored."""
    return _conditions(book, condition_rows.c.sweep_id == sweep_id)


def condition_history(book: Book, harp_id: int, string: str) -> tuple[StoredCondition, ...]:
    """All verdicts on one string position, oldest first."""
    return _conditions(book, (sweep_rows.c.harp_id == harp_id) & (condition_rows.c.string == clean_text(string)))


def verdicts_said(book: Book, harp_id: int, *, until: date, leaving_out: Collection[int] = (), before: int | None = None
                  ) -> dict[int, tuple[Said, ...]]:
    """By fitting, what the sweeps up to that day that say something of it say, oldest first; without the sweeps left out. `before`: of
    the day itself only those of a lower number, stored before that one."""
    columns = condition_rows.c.fitting_id, condition_rows.c.verdict, condition_rows.c.note, sweep_rows.c.date
    chosen = select(*columns).join(sweep_rows, sweep_rows.c.id == condition_rows.c.sweep_id)
    mine = chosen.where(sweep_rows.c.harp_id == harp_id, sweep_rows.c.date <= until, sweep_rows.c.id.not_in(list(leaving_out)))
    mine = mine if before is None else mine.where((sweep_rows.c.date < until) | (sweep_rows.c.id < before))
    telling = mine.where(condition_rows.c.verdict.not_in(SILENT), condition_rows.c.fitting_id.is_not(None))
    said: dict[int, tuple[Said, ...]] = {}
    with reading(book) as connection:
        for number, *one in connection.execute(telling.order_by(sweep_rows.c.date, sweep_rows.c.id)):
            said[number] = (*said.get(number, ()), Said(*one))
    return said


def _sweeps(connection: Connection, which: ColumnElement[bool]) -> tuple[SweepRecord, ...]:
    found = connection.execute(select(sweep_rows).where(which).order_by(sweep_rows.c.date, sweep_rows.c.id)).mappings().all()
    return tuple(to_sweep(row, _recordings(connection, row["id"]), _unheard(connection, row["id"])) for row in found)


def _recordings(connection: Connection, sweep_id: int) -> tuple[RecordingEntry, ...]:
    measured = select(recordings).join(sweep_recordings).where(sweep_recordings.c.sweep_id == sweep_id)
    return tuple(map(to_recording, connection.execute(measured.order_by(sweep_recordings.c.place)).mappings()))


def _unheard(connection: Connection, sweep_id: int) -> tuple[str, ...]:
    return tuple(connection.scalars(select(unheard.c.string).where(unheard.c.sweep_id == sweep_id).order_by(unheard.c.place)))


def _plucks(book: Book, which: ColumnElement[bool]) -> tuple[StoredPluck, ...]:
    measured_from = (sweep_recordings.c.sweep_id == plucks.c.sweep_id) & (sweep_recordings.c.recording_id == plucks.c.recording_id)
    chosen = select(plucks, sweep_rows.c.date, sweep_recordings.c.place.label("recording"))
    joined = chosen.join(sweep_rows, sweep_rows.c.id == plucks.c.sweep_id).join(sweep_recordings, measured_from)
    joined = joined.outerjoin(fittings, fittings.c.id == plucks.c.fitting_id)
    with reading(book) as connection:
        ordered = joined.where(which).order_by(sweep_rows.c.date, sweep_rows.c.id, plucks.c.place)
        return tuple(map(to_pluck, connection.execute(ordered).mappings()))


def _fresh(fitting_id: int) -> ColumnElement[bool]:
    return (plucks.c.fitting_id == fitting_id) & plucks.c.is_fresh & ~fittings.c.is_stand_in


def _of_baselines(chosen: Select, harp_id: int) -> Select:
    """The same of the plucks that make the fresh baselines of a harp."""
    joined = chosen.select_from(plucks).join(sweep_rows, sweep_rows.c.id == plucks.c.sweep_id)
    return joined.join(fittings, fittings.c.id == plucks.c.fitting_id).where(
        sweep_rows.c.harp_id == harp_id, plucks.c.is_fresh, ~fittings.c.is_stand_in)


def _conditions(book: Book, which: ColumnElement[bool]) -> tuple[StoredCondition, ...]:
    mine = (plucks.c.sweep_id == condition_rows.c.sweep_id) & (plucks.c.string == condition_rows.c.string) & plucks.c.is_fresh
    is_fresh = select(plucks.c.id).where(mine).exists().label("is_fresh")
    chosen = select(condition_rows, sweep_rows.c.date, is_fresh).join(sweep_rows, sweep_rows.c.id == condition_rows.c.sweep_id).where(which)
    with reading(book) as connection:
        ordered = chosen.order_by(sweep_rows.c.date, sweep_rows.c.id, condition_rows.c.place)
        return tuple(map(to_condition, connection.execute(ordered).mappings()))
