"""Table rows as the book's values, and the values that have columns of their own as rows."""

from dataclasses import fields
from functools import partial
from typing import Any, TypeVar

from sqlalchemy import RowMapping as Row

from toneprobe.audio import Quality, Remark
from toneprobe.book.convert import plain, stored
from toneprobe.book.entries import Harp, RecordingEntry, StoredCondition, StoredPluck, SweepRecord
from toneprobe.condition import Condition
from toneprobe.events import Event
from toneprobe.fittings import Correction, Fitting
from toneprobe.instrument import Instrument
from toneprobe.measure.figure import FIGURES, Figure, PluckMeasurement
from toneprobe.settling import PitchReading, SettledRecord
from toneprobe.spares import Spare

T = TypeVar("T")


def value_of(kind: type[T], row: Row, **others: Any) -> T:
    """A value of that dataclass: `others` as they are given, every other field from the column of its name."""
    return kind(**{field.name: row[field.name] for field in fields(kind) if field.name not in others}, **others)


to_fitting = partial(value_of, Fitting)
to_settled = partial(value_of, SettledRecord)
to_spare = partial(value_of, Spare)


def to_harp(row: Row) -> Harp:
    return value_of(Harp, row, instrument=stored(Instrument, row["instrument"]))


def to_recording(row: Row) -> RecordingEntry:
    return value_of(RecordingEntry, row, quality=stored(Quality, row["quality"]))


def to_sweep(row: Row, recordings: tuple[RecordingEntry, ...], unheard: tuple[str, ...]) -> SweepRecord:
    instrument, remarks = stored(Instrument, row["instrument"]), stored(tuple[Remark, ...], row["remarks"])
    return value_of(SweepRecord, row, instrument=instrument, recordings=recordings, unheard=unheard, remarks=remarks)


def to_pluck(row: Row) -> StoredPluck:
    return value_of(StoredPluck, row, measurement=stored(PluckMeasurement, row["measurement"]))


def to_condition(row: Row) -> StoredCondition:
    return value_of(StoredCondition, row, condition=stored(Condition, row["condition"]))


def to_pitch_reading(row: Row) -> PitchReading:
    found, left = (None if row[name] is None else Figure(row[name], row[f"{name}_se"]) for name in ("found_hz", "left_hz"))
    return value_of(PitchReading, row, found_hz=found, left_hz=left)


def to_event(row: Row) -> Event:
    return value_of(Event, row, on=row["date"])


def to_correction(row: Row) -> Correction:
    return value_of(Correction, row, on=row["date"])


def measurement_row(measurement: PluckMeasurement) -> dict[str, Any]:
    """The measurement whole as JSON, and its figures beside it for reading without the tool."""
    whole = plain(measurement)
    row = {name: whole[name] for name in ("string", "note", "onset_s", "ring_s", "snr_db", "sureness")}
    for figure in FIGURES:
        row |= {figure: whole[figure]["value"], figure + "_se": whole[figure]["se"]}
    return row | {"measurement": whole}


def condition_row(condition: Condition) -> dict[str, Any]:
    """The condition whole as JSON, and beside it the columns that a player reads without the tool."""
    whole = plain(condition)
    shown = ("string", "note", "verdict", "dead_score", "false_score", "n_plucks", "reasons", "next_step")
    return {name: whole[name] for name in shown} | {"condition": whole}
