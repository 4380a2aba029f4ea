"""A measured recording as the book files it: its identity, and the sound of each pluck."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Sequence
from pathlib import Path

from toneprobe.audio import Recording
from toneprobe.book.entries import Clip, NewPluck, RecordingEntry
from toneprobe.errors import RecordingError
from toneprobe.identify import Identification
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.segment import Span

BEFORE_S = 0.1  # silence kept before the onset …
AFTER_S = 0.5  # … and after the ring, where the noise floor shows
LONGEST_S = 15.0  # of one clip; wires ring 8 to 15 s (common practice)

Told = tuple[Recording, Identification, tuple[PluckMeasurement, ...]]


def file_hash(path: Path) -> str:
    """SHA-256 of a whole file, lower-case hex: the same recording under whatever name."""
    try:
        with open(path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise RecordingError(f"{path.name or path} cannot be read: {error.strerror or error}") from error


def entry_of(recording: Recording, sha256: str) -> RecordingEntry:
    return RecordingEntry(sha256, os.path.basename(recording.path), recording.duration_s, recording.rate_hz, recording.channels,
                          recording.codec, os.path.getsize(recording.path), recording.quality)


def new_plucks(told: Sequence[Told]) -> tuple[NewPluck, ...]:
    """All plucks of a sweep's recordings, each with its sound, read when it is written."""
    return tuple(
        NewPluck(pluck, place, _clip_reader(recording, named.span))
        for place, (recording, identification, plucks) in enumerate(told)
        for named, pluck in zip(identification.named, plucks, strict=True)
    )


def _clip_reader(recording: Recording, span: Span) -> Callable[[], Clip]:
    end_s = min(span.end_s + AFTER_S, span.next_s, span.onset_s + LONGEST_S)
    first, last = max(0.0, span.onset_s - BEFORE_S), min(max(end_s, span.onset_s + BEFORE_S), recording.duration_s)

    def read() -> Clip:
        return Clip(recording.read(int(first * recording.rate_hz), int(last * recording.rate_hz)), recording.rate_hz)

    return read
