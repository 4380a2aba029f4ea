"""Containers that libsndfile does not know (m4a, mp4, webm, 3gp, mov …), decoded once by PyAV into a temporary sound file.

Rate and channels stay the stream's own. Samples keep the decoder's number format, so nothing is rounded. The file is W64, which has no 4 GB
limit.
"""

import os
import tempfile
from collections.abc import Iterator

import numpy as np
import soundfile

from toneprobe.audio.codecs import is_lossy
from toneprobe.audio.source import FileSource, remove_quietly
from toneprobe.errors import RecordingError

# Demuxers that may be used. Playlists and other formats that name further files or addresses are left out on purpose.
DEMUXERS = ("aac,ac3,aiff,amr,amrnb,amrwb,ape,asf,au,avi,caf,eac3,flac,flv,matroska,webm,mov,mp4,m4a,3gp,3g2,mj2,mp3,mpeg,mpegts,"
            "ogg,tta,w64,wav,wv")
LENGTH_UNSTATED = ("aac", "ac3", "eac3", "amr", "amrnb", "amrwb")  # bare frames: FFmpeg guesses their length
SUBTYPES = {"u8": "PCM_U8", "s16": "PCM_16", "s32": "PCM_32", "flt": "FLOAT", "dbl": "DOUBLE"}  # of the temporary file


def decode_to_file(path: str) -> tuple[FileSource, str, bool]:
    """Decode the first audio stream: the source, the codec ("m4a/aac") and whether the file stops early. ValueError where it has no
    readable audio, RecordingError where that cannot be used or stored."""
    import av

    try:
        with open(path, "rb") as stream, av.open(stream, options={"format_whitelist": DEMUXERS}) as container:
            if not container.streams.audio:
                raise ValueError("no audio stream")
            audio = container.streams.audio[0]
            if audio.codec_context is None:
                raise ValueError("no decoder for this stream")
            codec = f"{container_name(path, container.format.name)}/{audio.codec_context.name}"
            is_stated = container.format.name not in LENGTH_UNSTATED
            stated_s = float(audio.duration * audio.time_base) if audio.duration and is_stated else None
            source, broken = store_frames(decoded_frames(container, audio, sizes := []), lossy=is_lossy(audio.codec_context.name))
            source.coded_bytes = sum(sizes) if source.lossy else None
    except (av.FFmpegError, EOFError) as error:
        raise ValueError(str(error)) from error
    short = stated_s is not None and source.n_samples / source.rate_hz < 0.99 * stated_s - 0.2
    return source, codec, broken or short


def decoded_frames(container, audio, sizes: list[int]) -> Iterator:
    """Audio frames up to the end, or a final None where the stream is damaged. `sizes` collects the bytes of the audio packets."""
    import av

    try:
        for packet in container.demux(audio):
            sizes.append(packet.size)
            yield from packet.decode()
    except (av.FFmpegError, EOFError):
        yield None


def store_frames(frames: Iterator, *, lossy: bool) -> tuple[FileSource, bool]:
    """Write all frames to a temporary W64; give its source and whether the stream was damaged."""
    first = next(frames, None)
    if first is None:
        raise ValueError("no frame could be decoded")
    rate_hz, channels = first.sample_rate, first.layout.nb_channels
    subtype = SUBTYPES.get(first.format.packed.name, "FLOAT")
    descriptor, name = tempfile.mkstemp(prefix="toneprobe-", suffix=".w64")
    os.close(descriptor)
    try:
        with soundfile.SoundFile(name, "w", rate_hz, channels, subtype=subtype, format="W64") as sound:
            broken = write_frames(sound, first, frames)
        return FileSource(name, lossy=lossy, temporary=True), broken
    except soundfile.SoundFileError as error:
        remove_quietly(name)
        raise RecordingError("the recording cannot be decoded: no room for it in the folder for temporary files") from error
    except BaseException:
        remove_quietly(name)
        raise


def write_frames(sound: soundfile.SoundFile, first, frames: Iterator) -> bool:
    sound.write(frame_samples(first))
    for frame in frames:
        if frame is None:
            return True
        if (frame.sample_rate, frame.layout.nb_channels) != (sound.samplerate, sound.channels):
            raise RecordingError("the recording changes its sample rate or its number of channels midway")
        sound.write(frame_samples(frame))
    return False


def frame_samples(frame) -> np.ndarray:
    """Samples of one frame, shape (n, channels), in a number format that libsndfile takes as it is."""
    array = frame.to_ndarray()
    samples = array.T if frame.format.is_planar else array.reshape(-1, frame.layout.nb_channels)
    if samples.dtype == np.uint8:
        samples = (samples.astype(np.int16) - 128) << 8
    return np.ascontiguousarray(samples)


def container_name(path: str, names: str) -> str:
    """The container as the player knows it: the file's ending where it is one of the demuxer's names, else the first of these."""
    ending = os.path.splitext(path)[1][1:].lower()
    return ending if ending in names.split(",") else names.split(",")[0]
