"""A small made-up harp and made-up measurements; nothing here was measured."""

from dataclasses import MISSING, fields
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from toneprobe.audio import Quality
from toneprobe.book.entries import Clip, NewPluck, NewSweep, RecordingEntry
from toneprobe.book.stringing import add_harp
from toneprobe.condition import Condition
from toneprobe.instrument import Instrument, StringSpec
from toneprobe.measure.figure import FIGURES, Figure, Partial, PluckMeasurement

RATE_HZ = 8000
# Figures of every schema: one that was added later has a default, and in the stored books of older schemas no value.
MEASURED = [one.name for one in fields(PluckMeasurement) if one.name in FIGURES and one.default is MISSING]
QUALITY = Quality(-3.0, 0.0, -71.5, None, None, 40.0, None, False, ("Nothing below 40 Hz.",))
INSTRUMENT = Instrument(
    "small lever harp",
    440.0,
    "Eb",
    (
        StringSpec("4E", "Eb4", 311.127, "nylon", 500.0, 1.0),
        StringSpec("4D", "D4", 293.665, "nylon", 530.0, 1.05),
        StringSpec("4C", "C4", 261.626, "nylon", 570.6, 1.27, mechanism=False),
    ),
)


def measurement(string="4C", onset_s=1.0, pitch_hz=261.5):
    figures = {name: Figure(pitch_hz / (place + 3), 0.1 / 3) for place, name in enumerate(MEASURED)}
    figures |= {"pitch_hz": Figure(pitch_hz, 0.1), "beat_hz": Figure(None, None, "no beat"), "beat_depth_db": Figure(None, None, "no beat")}
    partials = tuple(Partial(n, n * pitch_hz, 0.01, -3.0 * n, 40.0, 1.5 / n, None, None) for n in (1, 2, 3))
    return PluckMeasurement(string, "C4", onset_s, 2.5, 0.97, 41.0, **figures, partials=partials, flags=("rings into the next",))


def condition(string="4C", verdict="sound"):
    score = None if verdict == "unrated" else 12.5
    return Condition(string, "C4", verdict, score, score, 2, ("As fresh.",), "", {"pitch_hz": Figure(261.5, 0.1)}, {})


def clip(seed=1, n=2000):
    return Clip(np.random.default_rng(seed).integers(-(2**15), 2**15, n) / 2**15, RATE_HZ)


def recording(letter="a"):
    return RecordingEntry(letter * 64, f"{letter}.wav", 60.0, RATE_HZ, 1, "wav/PCM_16", 960044, QUALITY)


def sweep(harp_id, day=date(2024, 5, 1), letters="a", strings=("4E", "4D", "4C"), **more):
    plucks = tuple(NewPluck(measurement(name, place + 0.25), 0, clip(place)) for place, name in enumerate(strings))
    judged = tuple(condition(name) for name in strings)
    return NewSweep(harp_id, day, INSTRUMENT, tuple(map(recording, letters)), plucks, judged, **more)


@pytest.fixture(scope="session")
def made():
    """Makers of the values that a book stores."""
    return SimpleNamespace(
        instrument=INSTRUMENT, measurement=measurement, condition=condition, clip=clip, recording=recording, sweep=sweep, quality=QUALITY
    )


@pytest.fixture
def book(empty_book):
    return empty_book


@pytest.fixture
def harp(book):
    return add_harp(book, "Linnet", INSTRUMENT, preset="lever-34")
