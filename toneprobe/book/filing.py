"""A measured recording as the book files it: its identity, the sweep that has it already, and the sound of each pluck."""

import hashlib
import os
import shlex
from bisect import bisect_right
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from toneprobe.audio import Recording
from toneprobe.book import read
from toneprobe.book.connect import Book
from toneprobe.book.entries import Clip, NewPluck, RecordingEntry, SweepRecord
from toneprobe.days import day_text
from toneprobe.errors import BookError, RecordingError, UsageError
from toneprobe.hearing import Heard
from toneprobe.measure.figure import PluckMeasurement
from toneprobe.plain_file import open_plain
from toneprobe.segment import Span

BEFORE_S = 0.1  # silence kept before a pluck's onset
AFTER_S = 0.5  # kept after its ring, where the noise floor shows
SAME_PAUSE_S = 0.01  # nobody plucks again after such like pauses (set)
SAME_SOUND_CENTS = 0.05  # a pluck measured again in another file, while two takes of a string differ by 0.26 (measured)
LEAST_SAME, SAME_SHARE = 5, 0.8  # plucks, and share of a recording's plucks, that an earlier one has
LONGEST_S = 15.0  # of one clip; wires ring 8 to 15 s (common practice)

Onset = tuple[str, float, float | None]  # of a pluck: its string, when, s, and cents off its note


@dataclass(frozen=True)
class FileState:
    """A recording's file as it was when its hash was taken."""

    sha256: str  # lower-case hex: the same recording under whatever name
    n_bytes: int
    changed_ns: int  # when it was last written to


@dataclass(frozen=True)
class Filed:
    """What the book has of some recordings, given together as one sweep."""

    files: tuple[FileState, ...]  # of the recordings, in their order
    known: SweepRecord | None = None  # the sweep that holds them all: nothing is to be added
    instead_of: tuple[SweepRecord, ...] = ()  # sweeps of one day of which all recordings are among these: their place is the new sweep's

    @property
    def hashes(self) -> tuple[str, ...]:
        return tuple(one.sha256 for one in self.files)

    @property
    def day(self) -> date | None:
        """The day of the sweep that holds them or gives its place; None where they are new."""
        return next((one.date for one in (self.known, *self.instead_of) if one is not None), None)


def filed(book: Book, harp_id: int, recordings: Sequence[Path], *, day: date | None = None) -> Filed:
    """Where recordings that are given together belong; `day`: that was said for them, if any. A pluck must not count twice: BookError, with
    the command that works, where only some of a sweep's recordings are among them, or where they would join sweeps of several days."""
    files = tuple(file_state(path) for path in recordings)
    hashes = tuple(one.sha256 for one in files)
    if len(set(hashes)) < len(hashes):
        raise UsageError("the same recording was given twice")
    known = read.find_sweep_by_recordings(book, harp_id, hashes)
    if known is not None:
        return Filed(files, known)
    touched = read.sweeps_with(book, harp_id, hashes)
    for old in touched:
        if way := _other_way(old, touched, dict(zip(hashes, recordings, strict=True)), day):
            again = next(one for one in old.recordings if one.sha256 in hashes)
            raise BookError(f"recording {again.file_name!r} is in sweep {old.id} of {day_text(old.date)} already: leave it out, or {way}")
    return Filed(files, None, touched)


def heard_before(book: Book, harp_id: int, plucks: Sequence[PluckMeasurement], *, leaving_out: Collection[int]) -> SweepRecord | None:
    """The sweep that has a recording's plucks from another file: an old recording, cut or saved anew. `leaving_out`: not searched."""
    new = [(pluck.string, pluck.onset_s, pluck.cents_off.value) for pluck in plucks]
    for (sweep_id, _), old in read.onsets_of(book, harp_id).items():
        if sweep_id not in leaving_out and is_same_playing(new, old):
            return read.sweep(book, sweep_id)
    return None


def is_same_playing(new: Sequence[Onset], old: Sequence[Onset]) -> bool:
    """Whether plucks of one recording are those of another: the same strings, the same pauses, the same pitches."""
    later_s = sorted(then - now for string, now, cents in new for other, then, was in old
                     if string == other and cents is not None and was is not None and abs(cents - was) <= SAME_SOUND_CENTS)
    alike = max((bisect_right(later_s, one + SAME_PAUSE_S) - place for place, one in enumerate(later_s)), default=0)
    return alike >= max(LEAST_SAME, SAME_SHARE * len(new))


def _other_way(old: SweepRecord, touched: Sequence[SweepRecord], given: dict[str, Path], day: date | None) -> str:
    """What to do instead where a sweep cannot give its place to these recordings, "" where it can."""
    days = {one.date for one in touched}
    if len(days) > 1:
        return f"take that sweep back first: toneprobe withdraw {old.id}" if old.date != (day or touched[0].date) else ""
    missing = [one.file_name for each in touched for one in each.recordings if one.sha256 not in given]
    if not missing and day in (None, old.date):
        return ""
    names = [shlex.quote(str(one)) for one in (*given.values(), *missing)]
    return f"measure its whole sweep again, on its day: toneprobe sweep {' '.join(names)} --date {old.date}"


def file_state(path: Path) -> FileState:
    """A file as it is now. RecordingError where it cannot be read."""
    try:
        with open_plain(path) as file:
            state = os.fstat(file.fileno())
            return FileState(hashlib.file_digest(file, "sha256").hexdigest(), state.st_size, state.st_mtime_ns)
    except OSError as error:
        if path == Path():
            raise RecordingError("no recording is named, only the folder that you are in") from error
        raise RecordingError(f"{path.name or path} cannot be read: {error.strerror or error}") from error


def refuse_changed(recordings: Sequence[Path], files: Sequence[FileState]) -> None:
    """RecordingError where one was written to since: what was measured is not what the hash is of. One that is gone was not."""
    for path, then in zip(recordings, files, strict=True):
        try:
            now = os.stat(path)
        except OSError:
            continue
        if (now.st_size, now.st_mtime_ns) != (then.n_bytes, then.changed_ns) and file_state(path).sha256 != then.sha256:
            raise RecordingError(f"{path.name} was written to while it was measured, as if it was still being copied: give it again "
                                 "once it is whole. Nothing was stored")


def entry_of(recording: Recording, file: FileState) -> RecordingEntry:
    return RecordingEntry(file.sha256, os.path.basename(recording.path), recording.duration_s, recording.rate_hz, recording.channels,
                          recording.codec, file.n_bytes, recording.quality)


def new_plucks(heard: Sequence[Heard]) -> tuple[NewPluck, ...]:
    """All plucks of a sweep's recordings, each with its sound, read when it is written."""
    return tuple(NewPluck(pluck, place, _clip_reader(one.recording, named.span)) for place, one in enumerate(heard)
                 for named, pluck in zip(one.identification.named, one.plucks, strict=True))


def _clip_reader(recording: Recording, span: Span) -> Callable[[], Clip]:
    end_s = min(span.end_s + AFTER_S, span.next_s, span.onset_s + LONGEST_S)
    first, last = max(0.0, span.onset_s - BEFORE_S), min(max(end_s, span.onset_s + BEFORE_S), recording.duration_s)

    def read() -> Clip:
        return Clip(recording.read(int(first * recording.rate_hz), int(last * recording.rate_hz)), recording.rate_hz)

    return read
