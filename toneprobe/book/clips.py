"""The sound of each pluck, kept as mono FLAC of 24 bits at the recording's own rate.

Recordings of up to 24 bits come back bit for bit. A clip that would not fit full scale is halved until it does; the book keeps the gain.
"""

import re
from pathlib import Path

import numpy as np

from toneprobe.book.disk import sync
from toneprobe.book.entries import Clip, StoredPluck
from toneprobe.book.place import PLUCKS, shown
from toneprobe.errors import BookError

FULL_SCALE = 2**23  # of 24-bit samples


def clip_name(place: int, string: str) -> str:
    """A file name from the pluck's place and what is harmless of the string's name."""
    return f"{place:04d}-{re.sub('[^A-Za-z0-9]', '', string)[:12] or 'string'}.flac"


def write_clip(path: Path, clip: Clip) -> float:
    """Write the clip and wait until it is on the disk; BookError where that fails. Returns the gain it was stored with, ½ to some power."""
    import soundfile

    samples, gain = fit_full_scale(clip.samples)
    try:
        # By descriptor: libsndfile takes no name with letters that the computer's locale does not have.
        with open(path, "xb") as octets, soundfile.SoundFile(octets.fileno(), "w", int(clip.rate_hz), 1, subtype="PCM_24", format="FLAC",
                                                             closefd=False) as file:
            file.write(samples)
    except (soundfile.LibsndfileError, OSError, ValueError) as error:
        raise BookError(f"the clip {path.name} cannot be written: is the disk full, or closed to writing?") from error
    sync(path)
    return gain


def read_clip(folder: Path, pluck: StoredPluck) -> Clip | None:
    """The clip as it was recorded, from the book in that folder; None where none was kept. BookError where the file is gone or damaged."""
    import soundfile

    if pluck.clip is None:
        return None
    path = clip_path(folder, pluck.clip)
    try:
        with open(path, "rb") as octets, soundfile.SoundFile(octets.fileno(), closefd=False) as file:
            samples, rate_hz = file.read(dtype="int32"), file.samplerate
    except (soundfile.LibsndfileError, OSError) as error:
        raise BookError(f"the clip {pluck.clip} of the book {shown(folder)} is gone or damaged") from error
    return Clip((samples >> 8) / (FULL_SCALE * pluck.clip_gain), rate_hz)


def clip_path(folder: Path, clip: str) -> Path:
    """Where a stored clip lies, never outside the book."""
    path = (folder / clip).resolve()
    if not path.is_relative_to((folder / PLUCKS).resolve()):
        raise BookError(f"the book {shown(folder)} is damaged: a clip's name leads out of it")
    return path


def fit_full_scale(samples: np.ndarray) -> tuple[np.ndarray, float]:
    """Samples as 24 bits in the top of int32, and the gain (1, ½, ¼, …) that made them fit."""
    samples = np.asarray(samples, dtype=np.float64)
    if samples.ndim != 1 or samples.size == 0 or not np.isfinite(samples).all():
        raise BookError("a clip must be one channel of at least one sample, all of them numbers; nothing was stored")
    scaled = np.rint(samples * FULL_SCALE)
    gain = 1.0
    while scaled.max() * gain > FULL_SCALE - 1 or scaled.min() * gain < -FULL_SCALE:
        gain /= 2
    if gain < 1:
        scaled = np.rint(samples * (FULL_SCALE * gain))
    return np.clip(scaled, -FULL_SCALE, FULL_SCALE - 1).astype(np.int32) << 8, gain
