"""Record from an input of this machine into a FLAC file that can be read up to wherever the recording breaks off.

Samples are written as they come, 24 bits, at the input's own rate, and flushed to the disk every second, so that the player, a pulled
cable, a full disk or a power failure may end it. Needs the `record` extra (sounddevice, PortAudio).
"""

import os
import queue
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from shutil import disk_usage

import numpy as np
import soundfile

from toneprobe.errors import RecordingError, UsageError

FLUSH_S = 1.0
SILENT_S = 5.0  # an input that gives nothing for so long is gone
MOST_CHANNELS = 2
FULL_OCTETS = 2**20  # a disk with less room left is full: a few seconds (set here)

Hand = Callable[[np.ndarray, bool], None]  # takes a block, int32 (n, channels), and whether samples before it were lost


@dataclass(frozen=True)
class Input:
    """One input; `listen(hand)` hands blocks over, from another thread, as long as the context lasts."""

    name: str
    rate_hz: int
    channels: int
    listen: Callable[[Hand], AbstractContextManager]


@dataclass(frozen=True)
class Taken:
    path: Path
    duration_s: float
    n_gaps: int  # places where the machine was too slow and samples are missing
    ended: str  # "asked", "interrupted", or why the input stopped


def find_input(device: str | None = None, rate_hz: int | None = None) -> Input:
    """The input of that name or number, the machine's default where none is named. RecordingError, UsageError in one line."""
    sounddevice = _sounddevice()
    try:
        found = sounddevice.query_devices(int(device) if device and device.isdecimal() else device, "input")
    except (ValueError, sounddevice.PortAudioError) as error:
        raise _no_input(sounddevice, device, error) from error
    rate = int(rate_hz or found["default_samplerate"])
    channels = min(MOST_CHANNELS, found["max_input_channels"])

    @contextmanager
    def listen(hand: Hand) -> Iterator[None]:
        def callback(block, _frames, _time, status) -> None:
            hand(block.copy(), bool(status.input_overflow))

        with ExitStack() as opened:
            try:  # it is started as it is entered, which may fail too
                opened.enter_context(sounddevice.InputStream(rate, device=found["index"], channels=channels, dtype="int32",
                                                             callback=callback))
            except sounddevice.PortAudioError as error:
                raise RecordingError(f"the input {found['name']} cannot be opened at {rate} Hz: {error}") from error
            yield

    return Input(found["name"], rate, channels, listen)


def input_names() -> list[str]:
    """All inputs, each with its number."""
    return _names(_sounddevice())


def record(source: Input, path: Path, *, is_over: Callable[[float], bool], show: Callable[[float, float], None] = lambda *_: None) -> Taken:
    """Record into a new file until `is_over(seconds)`, Ctrl-C, or the input stops. `show` gets (seconds, peak of the last block, 0 to 1).

    RecordingError where nothing could be recorded or the disk is full; what was written until then is kept. No file is left where nothing
    was heard.
    """
    blocks: queue.SimpleQueue[tuple[np.ndarray, bool]] = queue.SimpleQueue()
    writer = None
    try:
        path.touch(exist_ok=False)
        try:
            # By descriptor: libsndfile takes no name with letters that the computer's locale does not have.
            with open(path, "r+b") as octets, soundfile.SoundFile(octets.fileno(), "w", source.rate_hz, source.channels, "PCM_24",
                                                                  format="FLAC", closefd=False) as file:
                writer = _Writer(file, source.rate_hz)
                ended = _listen(source, blocks, writer, is_over, show)
        finally:
            if writer is None or writer.n_samples == 0:
                path.unlink(missing_ok=True)
    except FileExistsError:
        raise RecordingError(f"{path} exists already: nothing is recorded over it") from None
    except (soundfile.LibsndfileError, OSError) as error:
        why_not = _why_not(error, path)
        raise RecordingError(f"{path} cannot be written any further: {why_not}; what was written until then is kept") from error
    if writer.n_samples == 0:
        raise RecordingError(f"the input {source.name} gave no sound")
    return Taken(path, writer.n_samples / source.rate_hz, writer.n_gaps, ended)


def _why_not(error: Exception, path: Path) -> str:
    """libsndfile says no more of a full disk than "System error."."""
    return "the disk is full" if disk_usage(path.parent).free < FULL_OCTETS else str(error).rstrip(".")


class _Writer:
    """The open file and what went into it."""

    def __init__(self, file: soundfile.SoundFile, rate_hz: int) -> None:
        self.file, self.rate_hz = file, rate_hz
        self.n_samples = self.n_gaps = self.n_flushed = 0

    def write(self, block: np.ndarray, lost: bool) -> None:
        self.n_samples += len(block)  # before it is written: from here on the file is never taken away
        self.file.write(block)
        self.n_gaps += lost
        if self.n_samples - self.n_flushed >= FLUSH_S * self.rate_hz:
            self.file.flush()
            self.n_flushed = self.n_samples


def _listen(source: Input, blocks: queue.SimpleQueue, writer: _Writer, is_over: Callable[[float], bool],
            show: Callable[[float, float], None]) -> str:
    try:
        with source.listen(lambda block, lost: blocks.put((block, lost))):
            while not is_over(writer.n_samples / source.rate_hz):
                block, lost = blocks.get(timeout=SILENT_S)
                writer.write(block, lost)
                show(writer.n_samples / source.rate_hz, float(np.abs(block.astype(np.float64)).max(initial=0.0)) / 2.0**31)
        return "asked"
    except queue.Empty:
        return f"the input gave no more sound for {SILENT_S:.0f} s: is it still connected?"
    except KeyboardInterrupt:
        return "interrupted"
    finally:  # whatever ended it: what was handed over by then is heard
        while not blocks.empty():
            writer.write(*blocks.get())


def _sounddevice():
    try:
        import sounddevice
    except ImportError:
        raise RecordingError("recording needs the record extra: pip install 'toneprobe[record]'") from None
    except OSError:
        hint = " (Debian, Ubuntu: apt install libportaudio2)" if os.name == "posix" else ""
        raise RecordingError(f"recording needs PortAudio, which is not on this machine{hint}") from None
    return sounddevice


def _names(sounddevice) -> list[str]:
    return [f"{one['index']}: {one['name']}" for one in sounddevice.query_devices() if one["max_input_channels"] > 0]


def _no_input(sounddevice, device: str | None, error: Exception) -> Exception:
    names = _names(sounddevice)
    if not names:
        return RecordingError("this machine has no input to record from: connect a microphone or an interface")
    if device is None:
        return RecordingError(f"the default input cannot be used ({error}); name one with --device: {'; '.join(names)}")
    return UsageError(f"no single input is called {device!r}: {'; '.join(names)}")
