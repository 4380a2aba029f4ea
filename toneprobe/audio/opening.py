"""From a path to a `Recording`, or to one line that says why not."""

import os
import stat
from dataclasses import replace

import numpy as np
import soundfile

from toneprobe.audio import header
from toneprobe.audio.beyond_header import LEAST_PLUCK_S, find_beyond
from toneprobe.audio.breaks import true_breaks
from toneprobe.audio.codecs import coarse_codec, is_lossy
from toneprobe.audio.decoding import decode_to_file
from toneprobe.audio.drift import find_drift
from toneprobe.audio.quality import judge_quality
from toneprobe.audio.recording import Recording
from toneprobe.audio.remark import Remark
from toneprobe.audio.remarks import remarks_on_channels
from toneprobe.audio.source import FileSource, MemorySource, Source, sound_file
from toneprobe.audio.survey import MOST_PEAK, Survey, choose_channel, keep_channel, survey_source
from toneprobe.errors import RecordingError, printable
from toneprobe.limits import LEAST_RATE_HZ, MOST_RATE_HZ

MOST_CHANNELS = 8
LEAST_SWING = 3e-6  # −110 dBFS; at least 3 steps of the number format (16 bit: −81 dBFS). Below, there is nothing to measure
IN_MEMORY = "<memory>"  # in place of a path
LENGTH_UNKNOWN = 2**62  # samples: libsndfile says 2⁶³ − 1 of a FLAC whose header has none, and cannot find the end of such a one


def open_recording(path: str | os.PathLike) -> Recording:
    """Open any recording, at its own rate and never resampled, and judge its quality. The file is only read.

    Raises RecordingError, with a message of one line, where it cannot be opened or holds nothing to measure.
    """
    path = os.fsdecode(path)
    name = printable(os.path.basename(path.rstrip("/")) or path or "(no name)")  # fit for a line: no control characters, 80 at the most
    check_file(path, name)
    source, codec, lacking = open_source(path, name)
    return assemble_recording(source, name=name, path=path, codec=codec, lacking=lacking)


def recording_from_samples(samples: np.ndarray, rate_hz: int) -> Recording:
    """A recording of samples in memory, shape (n,) or (n, channels), full scale ±1; same checks and errors as a file's.

    The samples are copied.
    """
    samples = np.array(samples, dtype=np.float64)
    if samples.ndim not in (1, 2):
        raise RecordingError(f"{IN_MEMORY}: samples must have the shape (n,) or (n, channels)")
    samples = samples[:, np.newaxis] if samples.ndim == 1 else samples
    source = MemorySource(samples, int(rate_hz))
    return assemble_recording(source, name=IN_MEMORY, path=IN_MEMORY, codec="memory/float")


def assemble_recording(source: Source, *, name: str, path: str, codec: str, lacking: str = "") -> Recording:
    """The source surveyed once and judged, at its own rate. name: as it stands in messages; lacking: what is said of its end."""
    check_format(source, name)
    survey = survey_source(source)
    least_swing = max(LEAST_SWING, 3.0 * source.lsb)
    check_content(survey, source, name, least_swing)
    channel, failing = choose_channel(survey, least_swing)
    there_s = survey.n_samples / source.rate_hz
    remarks = (Remark(lacking.format(there_s=there_s)),) if lacking else ()
    if survey.n_samples < source.n_samples:
        remarks = (Remark(header.DAMAGED.format(there_s=there_s, stated_s=source.n_samples / source.rate_hz)),)
    remarks = (*remarks, *remarks_on_channels(failing, channel=channel, n_channels=survey.peak.size))
    source, source_channel = keep_channel(survey, source, channel)
    quality, remarks = judge_quality(survey, source, source_channel, channel=channel, remarks=remarks, coarse=coarse_codec(codec))
    drift = find_drift(source, source_channel, n_samples=survey.n_samples, floor_db=quality.noise_floor_db)
    gaps_at = () if source.lossy else tuple(survey.gaps[channel])
    recording = Recording(path, source.rate_hz, survey.n_samples, survey.peak.size, channel, codec, quality, source, source_channel,
                          drift=drift, gaps_at=gaps_at, remarks=remarks)
    breaks_at = () if source.lossy else true_breaks(recording.read_as_recorded, survey.breaks[channel], rate_hz=source.rate_hz)
    return replace(recording, breaks_at=tuple(breaks_at))


def check_file(path: str, name: str) -> None:
    """RecordingError where there is nothing to read: a folder, an empty file, one without permission. Nothing is read yet."""
    try:
        state = os.stat(path)
        if path == os.curdir:  # an empty name too: the command line makes that of it
            raise RecordingError("no recording is named, only the folder that you are in")
        if stat.S_ISDIR(state.st_mode):
            raise RecordingError(f"{name} is a folder; name the recording in it")
        if not stat.S_ISREG(state.st_mode):
            raise RecordingError(f"{name} is not a file")
        if state.st_size == 0:
            raise RecordingError(f"{name} is empty (0 bytes); was the recording saved or copied to its end?")
        with open(path, "rb"):
            pass
    except (FileNotFoundError, NotADirectoryError):
        raise RecordingError(f"{name} was not found") from None
    except PermissionError:
        raise RecordingError(f"{name} may not be read: you lack the permission") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise RecordingError(f"{name} cannot be opened: {printable(reason, most=200)}") from None


def open_source(path: str, name: str) -> tuple[Source, str, str]:
    """Through libsndfile where it knows the format and its length, else through PyAV: the source, the codec, what the file lacks."""
    codec = None
    try:
        with sound_file(path) as sound:
            subtype, n_stated, rate_hz = sound.subtype, sound.frames, sound.samplerate
            stated_codec, short = f"{sound.format.lower()}/{subtype}", header.states_more_than_it_holds(sound.extra_info)
        if 0 < n_stated < LENGTH_UNKNOWN:
            lossy = is_lossy(subtype)
            whole, said = header.source_beyond_header(path, subtype=subtype, rate_hz=rate_hz, n_stated=n_stated)
            source = whole or FileSource(path, lossy=lossy, coded_bytes=os.path.getsize(path) if lossy else None)
            return source, stated_codec, said or (header.CUT_SHORT if short else "")
        codec = stated_codec
    except soundfile.SoundFileError:
        pass
    except RecordingError as error:
        raise RecordingError(f"{name}: {error}") from None
    try:
        source, decoded_codec, short = decode_to_file(path)
    except ValueError:
        raise RecordingError(f"{name} holds no sound that can be read: it is no recording, or it is cut off or damaged") from None
    except RecordingError as error:
        raise RecordingError(f"{name}: {error}") from None
    if codec:
        return source, codec, header.BREAKS_OFF if short else header.UNFINISHED
    beyond = find_beyond(path, rate_hz=source.rate_hz, n_stated=source.n_samples)  # libsndfile opens no file with another one behind it
    if beyond and beyond.is_second_file:
        return source, decoded_codec, header.SECOND_FILE.format(stated_s=f"{source.n_samples / source.rate_hz:.1f}")
    return source, decoded_codec, header.CUT_SHORT if short or header.caf_states_more_than_it_holds(path) else ""


def check_format(source: Source, name: str) -> None:
    """RecordingError where the rate in Hz or the number of channels lies outside what can be measured."""
    if not LEAST_RATE_HZ <= source.rate_hz <= MOST_RATE_HZ:
        raise RecordingError(f"{name} has a sample rate of {source.rate_hz} Hz; {LEAST_RATE_HZ} to {MOST_RATE_HZ} Hz can be measured")
    if not 1 <= source.channels <= MOST_CHANNELS:
        raise RecordingError(f"{name} has {source.channels} channels; 1 to {MOST_CHANNELS} can be read")


def check_content(survey: Survey, source: Source, name: str, least_swing: float) -> None:
    """RecordingError where there is nothing to measure: no numbers, too short, silent. least_swing: of full scale, as `Survey.swing`."""
    if not survey.finite:
        raise RecordingError(f"{name} holds samples that are no numbers (NaN or infinite); export it again from the recorder")
    if survey.peak.max() > MOST_PEAK:
        raise RecordingError(f"{name} holds samples far beyond any recorder's full scale; export it again from the recorder")
    if survey.n_samples < LEAST_PLUCK_S * source.rate_hz <= source.n_samples:
        raise RecordingError(f"{name} is damaged near its beginning, and hardly any of it can be read; copy it from the recorder again")
    if survey.n_samples < LEAST_PLUCK_S * source.rate_hz:
        long_s = survey.n_samples / source.rate_hz
        raise RecordingError(f"{name} is too short: {long_s:.2f} s, and a pluck needs at least {LEAST_PLUCK_S} s")
    if survey.swing.max() <= least_swing:
        raise RecordingError(f"{name} is silent; check the input and the microphone, then record again")
