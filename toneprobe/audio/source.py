"""Where samples come from: memory, or a sound file that is opened for each reading and never held open.

A source gives float samples at its own rate, full scale ±1, of one channel (`read`) or of all channels in order (`blocks`).
"""

import os
import weakref
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import soundfile

from toneprobe.errors import RecordingError

RUN_UP = 20 * 1152  # samples: after a seek an MP3 sounds wrong until its decoder has the frames before, at low rates the most (4 measured)
LEAST_STEP = 256  # samples: damage is narrowed down to this


class Source(Protocol):
    rate_hz: int
    n_samples: int
    channels: int
    lsb: float  # the smallest step between two sample values; 2**-23 for float
    lossy: bool  # went through a codec that does not give the samples back as they were …
    coded_bytes: int | None  # … which made so many bytes of all channels; None where none did, or it is not known

    def read(self, start: int, stop: int, channel: int) -> np.ndarray:
        """Samples [start, stop) of one channel, float64; start and stop lie within the source."""

    def blocks(self, n_block: int) -> Iterator[np.ndarray]:
        """All samples in order, float32, shape (n_block, channels); the last one may be shorter."""


@dataclass(frozen=True)
class MemorySource:
    """Samples held in memory, shape (n, channels)."""

    samples: np.ndarray
    rate_hz: int
    lsb: float = 2.0**-23
    lossy: bool = False
    coded_bytes: int | None = None

    @property
    def n_samples(self) -> int:
        return self.samples.shape[0]

    @property
    def channels(self) -> int:
        return self.samples.shape[1]

    def read(self, start: int, stop: int, channel: int) -> np.ndarray:
        return self.samples[start:stop, channel].astype(np.float64)

    def blocks(self, n_block: int) -> Iterator[np.ndarray]:
        with np.errstate(over="ignore"):  # too large for float32 becomes inf, which the survey refuses
            for start in range(0, self.n_samples, n_block):
                yield self.samples[start:start + n_block].astype(np.float32, copy=False)


class FileSource:
    """A sound file that libsndfile reads; `temporary` ones are removed when nothing refers to them any more."""

    def __init__(self, path: str, *, lossy: bool = False, coded_bytes: int | None = None, temporary: bool = False):
        self.path, self.lossy, self.coded_bytes = os.path.abspath(path), lossy, coded_bytes
        if temporary:
            weakref.finalize(self, remove_quietly, self.path)
        with sound_file(self.path) as sound:
            self.rate_hz, self.n_samples, self.channels = sound.samplerate, sound.frames, sound.channels
            self.lsb = smallest_step(sound.subtype)

    def read(self, start: int, stop: int, channel: int) -> np.ndarray:
        before = self._run_up(start)
        try:
            with sound_file(self.path) as sound:
                sound.seek(start - before)
                got = sound.read(before + stop - start, dtype="float64", always_2d=True)[before:, channel]
        except (OSError, soundfile.SoundFileError) as error:
            raise RecordingError("the recording can no longer be read; was it moved or removed while in use?") from error
        return np.pad(got, (0, stop - start - got.size))

    def blocks(self, n_block: int) -> Iterator[np.ndarray]:
        """As of `Source`; ends early, without an error, where the file is damaged. Every reading ends in a seek to where it ended."""
        done = 0
        with sound_file(self.path) as sound:
            while True:
                before = self._run_up(done)
                try:
                    if before:
                        sound.seek(done - before)
                    block = sound.read(before + n_block, dtype="float32", always_2d=True)[before:]
                except soundfile.SoundFileError:
                    block = self.salvage(done, n_block)
                done += block.shape[0]
                if block.shape[0]:
                    yield block
                if block.shape[0] < n_block:
                    return

    def _run_up(self, start: int) -> int:
        return min(start, RUN_UP) if self.lossy else 0

    def salvage(self, start: int, n_most: int) -> np.ndarray:
        """What can be read from `start` on before the damage, in ever smaller steps: float32, shape (n < n_most, channels)."""
        pieces, step = [np.empty((0, self.channels), np.float32)], n_most // 2
        while step >= LEAST_STEP:
            try:
                with sound_file(self.path) as sound:
                    sound.seek(start)
                    pieces.append(sound.read(step, dtype="float32", always_2d=True))
                    start += step
            except soundfile.SoundFileError:
                pass
            step //= 2
        return np.concatenate(pieces)


@contextmanager
def sound_file(path: str) -> Iterator[soundfile.SoundFile]:
    """Open by descriptor, so that no file name is taken for a format or an option."""
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
    try:
        with soundfile.SoundFile(descriptor, closefd=False) as sound:
            yield sound
    finally:
        os.close(descriptor)


def smallest_step(subtype: str) -> float:
    """The step between neighbouring sample values of a libsndfile subtype, full scale ±1."""
    if subtype in ("PCM_S8", "PCM_U8", "DPCM_8"):
        return 2.0**-7
    if subtype.endswith("_16"):
        return 2.0**-15
    return 2.0**-23


def remove_quietly(path: str) -> None:
    with suppress(OSError):
        os.unlink(path)
