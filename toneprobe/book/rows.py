"""Table rows as the book's values, and the values that have columns of their own as rows."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from sqlalchemy import RowMapping

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

Row = RowMapping


def to_harp(row: Row) -> Harp:
    return Harp(row["id"], row["name"], row["preset"], stored(Instrument, row["instrument"]), row["created_at"])


def to_fitting(row: Row) -> Fitting:
    return Fitting(**{field.name: row[field.name] for field in fields(Fitting)})


def to_recording(row: Row) -> RecordingEntry:
    plain = {field.name: row[field.name] for field in fields(RecordingEntry) if field.name != "quality"}
    return RecordingEntry(**plain, quality=stored(Quality, row["quality"]))


def to_sweep(row: Row, recordings: tuple[RecordingEntry, ...], unheard: tuple[str, ...]) -> SweepRecord:
    plain = {name: row[name] for name in ("id", "harp_id", "date", "is_fresh", "program")}
    instrument, remarks = stored(Instrument, row["instrument"]), stored(tuple[Remark, ...], row["remarks"])
    return SweepRecord(**plain, instrument=instrument, recordings=recordings, unheard=unheard, remarks=remarks)


def to_pluck(row: Row) -> StoredPluck:
    plain = {name: row[name] for name in ("id", "sweep_id", "recording", "fitting_id", "date", "is_fresh", "clip", "clip_gain")}
    return StoredPluck(**plain, measurement=stored(PluckMeasurement, row["measurement"]))


def to_condition(row: Row) -> StoredCondition:
    return StoredCondition(row["sweep_id"], row["date"], row["fitting_id"], stored(Condition, row["condition"]), row["is_fresh"])


def to_pitch_reading(row: Row) -> PitchReading:
    found, left = (None if row[name] is None else Figure(row[name], row[f"{name}_se"]) for name in ("found_hz", "left_hz"))
    return PitchReading(row["string"], row["note"], row["at"], found, left, row["fitting_id"], row["sweep_id"], row["id"])


def to_settled(row: Row) -> SettledRecord:
    return SettledRecord(**{field.name: row[field.name] for field in fields(SettledRecord)})


def to_spare(row: Row) -> Spare:
    return Spare(**{field.name: row[field.name] for field in fields(Spare)})


def to_event(row: Row) -> Event:
    return Event(row["date"], **{field.name: row[field.name] for field in fields(Event) if field.name != "on"})


def to_correction(row: Row) -> Correction:
    names = ("fitting_id", "field", "before", "after", "why", "id")
    return Correction(on=row["date"], **{name: row[name] for name in names})


def measurement_row(measurement: PluckMeasurement) -> dict[str, Any]:
    """The measurement whole as JSON, and its figures beside it for reading without the tool."""
    whole = plain(measurement)
    row = {name: whole[name] for name in ("string", "note", "onset_s", "ring_s", "snr_db", "sureness")}
    for figure in FIGURES:
        row |= {figure: whole[figure]["value"], figure + "_se": whole[figure]["se"]}
    return row | {"measurement": whole}


def condition_row(condition: Condition) -> dict[str, Any]:
    """The condition whole as JSON, and what the player reads of it beside it."""
    whole = plain(condition)
    shown = ("string", "note", "verdict", "dead_score", "false_score", "n_plucks", "reasons", "next_step")
    return {name: whole[name] for name in shown} | {"condition": whole}
