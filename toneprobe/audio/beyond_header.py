"""What a WAV file holds beyond the length in its header: a recorder lost power before it wrote the last length, or two files were joined.

Whole samples of sound that go on are read from a copy with a corrected header. Notes of a recorder or an editor (LIST, id3 and other
chunks, tags) and zeros are no sound. RF64 and W64, whose length stands elsewhere, and other formats are not looked at.
"""

import os
import shutil
import struct
import tempfile
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np

from toneprobe.audio.source import FileSource, remove_quietly
from toneprobe.errors import RecordingError

PLAIN = ("PCM_U8", "PCM_16", "PCM_24", "PCM_32", "FLOAT", "DOUBLE")  # libsndfile's names: each sample by itself
TAGS = (b"ID3", b"TAG", b"APETAGEX")  # written behind a file as they are, not as chunks
LARGEST_SIZE = 0xFFFF_FF00  # bytes that a header can state
LEAST_PLUCK_S = 0.3  # less is no pluck
LOOKED_AT_S = 10.0  # of what follows
MOST_RMS = 0.4  # −8 dBFS: no harp is so loud for seconds, and what is no sound, read as samples, has all values alike (0.58)


@dataclass(frozen=True)
class Beyond:
    size_at: int  # where the header states how many bytes of sound there are
    n_bytes: int  # of sound, if all that follows is
    is_second_file: bool


def find_beyond(path: str, *, rate_hz: int, n_stated: int) -> Beyond | None:
    """None where nothing follows but notes, zeros or less than a pluck. n_stated: samples of each channel."""
    with open(path, "rb") as stream:
        sound = _sound_chunk(stream)
        if sound is None or not n_stated:
            return None
        size_at, n_bytes = sound
        first, end = size_at + 4, os.fstat(stream.fileno()).st_size
        follows, is_second_file = _after_chunks(stream, first + n_bytes, end)
        if end - follows < LEAST_PLUCK_S * rate_hz * n_bytes / n_stated:
            return None
        stream.seek(follows)
        if stream.read(8).startswith(TAGS) or _is_zeros(stream, follows):
            return None
    return Beyond(size_at, end - first, is_second_file)


def whole_source(path: str, beyond: Beyond, *, n_stated: int) -> FileSource | None:
    """All the sound of a file of PLAIN samples, from a copy with a corrected header; None where what follows is no sound."""
    if beyond.n_bytes > LARGEST_SIZE:
        return None
    descriptor, name = tempfile.mkstemp(prefix="toneprobe-", suffix=".wav")
    os.close(descriptor)
    try:
        shutil.copyfile(path, name)
        with open(name, "r+b") as copy:
            for place, size in ((4, beyond.size_at - 4 + beyond.n_bytes), (beyond.size_at, beyond.n_bytes)):
                copy.seek(place)
                copy.write(struct.pack("<I", size))
    except OSError as error:
        remove_quietly(name)
        raise RecordingError("the recording cannot be read whole: no room for it in the folder for temporary files") from error
    source = FileSource(name, temporary=True)
    stop = min(source.n_samples, n_stated + int(LOOKED_AT_S * source.rate_hz))
    with np.errstate(all="ignore"):
        power = max(float(np.mean(source.read(n_stated, stop, channel) ** 2)) for channel in range(source.channels))
    return source if power < MOST_RMS**2 else None  # no number is less than anything


def _sound_chunk(stream: BinaryIO) -> tuple[int, int] | None:
    """Where a WAV file states the size of its sound, and that size; None where it is no such file."""
    head = stream.read(12)
    if head[:4] != b"RIFF" or head[8:] != b"WAVE":
        return None
    while len(head := stream.read(8)) == 8:
        name, size = struct.unpack("<4sI", head)
        if name == b"data":
            return stream.tell() - 4, size
        stream.seek(size + size % 2, os.SEEK_CUR)
    return None


def _after_chunks(stream: BinaryIO, start: int, end: int) -> tuple[int, bool]:
    """Where what is no chunk begins, and whether a WAV file does there; some writers leave the filling byte out after an odd size."""
    while start < end:
        for at in sorted({start + start % 2, start}):
            stream.seek(at)
            head = stream.read(12)
            if head[:4] == b"RIFF" and head[8:] == b"WAVE":
                return at, True
            if len(head) >= 8 and head[:4].isascii() and head[:4].decode().isprintable():
                size = struct.unpack("<I", head[4:8])[0]
                if at + 8 + size <= end:
                    start = at + 8 + size
                    break
        else:
            break
    return start, False


def _is_zeros(stream: BinaryIO, start: int) -> bool:
    stream.seek(start)
    while block := stream.read(1 << 20):
        if any(block):
            return False
    return True
