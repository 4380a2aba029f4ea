"""The values that go into the book and come out of it. Dates are the player's calendar days; times are UTC, ISO 8601."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

import numpy as np

from toneprobe.audio import Quality, Remark
from toneprobe.condition import Condition
from toneprobe.instrument import Instrument
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.practice import USUAL_HABITS, Habits
from toneprobe.settling import USUAL_TOLERANCE, PitchReading, Tolerance


@dataclass(frozen=True)
class Harp:
    id: int
    name: str  # unique in its book
    preset: str | None
    instrument: Instrument  # as the owner set it last
    created_at: str


@dataclass(frozen=True)
class RecordingEntry:
    """One recording that a sweep was measured from; the file itself stays where the player keeps it."""

    sha256: str  # of the whole file, lower-case hex: its identity, whatever it is called
    file_name: str
    duration_s: float
    rate_hz: int
    channels: int
    codec: str
    n_bytes: int
    quality: Quality


@dataclass(frozen=True)
class Clip:
    """The sound of one pluck: samples at full scale ±1, shape (n,)."""

    samples: np.ndarray
    rate_hz: int


@dataclass(frozen=True)
class NewPluck:
    """A measured pluck about to be stored. A clip may be a function, called when it is written, so that one at a time is in memory."""

    measurement: PluckMeasurement
    recording: int = 0  # index into the sweep's recordings
    clip: Clip | Callable[[], Clip | None] | None = None


@dataclass(frozen=True)
class NewSweep:
    """A measured sweep about to be stored, whole or not at all."""

    harp_id: int
    date: date
    instrument: Instrument  # as it was when swept
    recordings: tuple[RecordingEntry, ...]
    plucks: tuple[NewPluck, ...]
    conditions: tuple[Condition, ...] = ()
    unheard: tuple[str, ...] = ()  # string names
    remarks: tuple[Remark, ...] = ()  # on its recordings
    is_fresh: bool = False


@dataclass(frozen=True)
class SweepRecord:
    id: int
    harp_id: int
    date: date
    is_fresh: bool
    instrument: Instrument
    recordings: tuple[RecordingEntry, ...]
    unheard: tuple[str, ...]
    remarks: tuple[Remark, ...]
    program: str  # version that measured it


@dataclass(frozen=True)
class StoredPluck:
    id: int
    sweep_id: int
    recording: int  # index into the sweep's recordings
    fitting_id: int | None  # None: no string was logged on that position that day
    date: date  # of the sweep
    is_fresh: bool
    measurement: PluckMeasurement
    clip: str | None  # inside the book, "plucks/2024-05-01-1a2b3c4d/0001-4C.flac"
    clip_gain: float  # the stored samples are the true ones times this


@dataclass(frozen=True)
class StoredCondition:
    """One string's verdict in one sweep, with the fitting that it speaks of."""

    sweep_id: int
    date: date
    fitting_id: int | None
    condition: Condition
    is_fresh: bool = False  # its plucks in this sweep are part of its fresh baseline


@dataclass(frozen=True)
class NewCheck:
    """One string's pitch at one check, with the recordings that it was read from (SHA-256, lower-case hex; None: not from a file)."""

    reading: PitchReading
    found_sha256: str | None = None
    left_sha256: str | None = None


@dataclass(frozen=True)
class OwnerSettings:
    """The owner's own figures for one harp."""

    tolerance: Tolerance = USUAL_TOLERANCE
    habits: Habits = field(default_factory=lambda: USUAL_HABITS)
    log_began: date | None = None  # from that day on every string change is in the log; None: each was logged when it was put on
