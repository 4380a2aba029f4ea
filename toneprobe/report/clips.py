"""The sound of a string now and fresh, for the page: brought to one loudness, cut to what is heard, and compressed.

MP3, because every phone and browser plays it. Both sounds of a pair get the same loudness in their loudest 400 ms (`loudness`), so that
only ring and colour differ; a pair that would then exceed full scale is made quieter together. For listening only, not for measuring.
"""

import io
from collections.abc import Sequence

import numpy as np

from toneprobe.book.entries import Clip
from toneprobe.report.loudness import loudest_lufs

LONGEST_S = 5.0  # a minute of bass would fill the page
FADE_S = 0.08
LOUD_START_S = 3.0  # a pluck is loudest at its start
TARGET_LUFS = -20.0
PEAK = 0.89  # of full scale, −1 dB: compression may overshoot
INAUDIBLE_DB = -66.0  # below the loudest 400 ms; what comes after is cut
MP3_RATES_HZ = (8000, 11025, 12000, 16000, 22050, 24000, 32000, 44100, 48000)
LOW_HZ = 180.0
COMPRESSION = 0.5  # libsndfile's scale from 0, largest, to 1, smallest


def page_clips(fresh: Clip | None, now: Clip | None, *, pitch_hz: float | None = None) -> tuple[bytes | None, bytes | None]:
    """Both sounds of a string as MP3, level-matched. None where there is none or only silence.

    `pitch_hz` is the string's expected pitch: a low string is kept up to 10 or 11 kHz only, which holds its first 60 partials.
    """
    is_low = pitch_hz is not None and pitch_hz < LOW_HZ
    clips = [_ready(clip, is_low) for clip in (fresh, now)]
    gains = iter(matched_gains([clip for clip in clips if clip]))
    return tuple(None if clip is None else _compressed(clip, next(gains)) for clip in clips)


def matched_gains(clips: Sequence[Clip]) -> list[float]:
    """The factor for each sound that gives all of them one loudness and keeps each below full scale; 0 for silence."""
    gains = [_gain(clip) for clip in clips]
    peak = max([gain * float(np.max(np.abs(clip.samples))) for gain, clip in zip(gains, clips, strict=True)], default=0.0)
    return [gain * min(1.0, PEAK / peak) for gain in gains] if peak > 0 else gains


def _gain(clip: Clip) -> float:
    lufs = loudest_lufs(clip.samples[: int(LOUD_START_S * clip.rate_hz)], clip.rate_hz)
    return 0.0 if lufs is None else 10.0 ** ((TARGET_LUFS - lufs) / 20.0)


def _ready(clip: Clip | None, is_low: bool) -> Clip | None:
    """The clip at a rate that MP3 knows, cut where it has died away; None where there is nothing to hear."""
    if clip is None or not np.any(clip.samples):
        return None
    rate_hz = clip.rate_hz if clip.rate_hz in MP3_RATES_HZ else 48000 if clip.rate_hz % 48000 == 0 else 44100
    clip = _cut(_resampled(clip, rate_hz))
    return _resampled(clip, rate_hz // 2) if is_low and rate_hz >= 44100 else clip  # two thirds of the bytes


def _resampled(clip: Clip, rate_hz: int) -> Clip:
    if rate_hz == clip.rate_hz:
        return clip
    from scipy.signal import resample_poly

    return Clip(resample_poly(clip.samples, rate_hz, clip.rate_hz), rate_hz)


def _cut(clip: Clip) -> Clip:
    """At most `LONGEST_S`, ended where every later 20 ms is inaudible, faded out."""
    samples = np.asarray(clip.samples[: int(LONGEST_S * clip.rate_hz)], dtype=np.float64)
    block = max(1, clip.rate_hz // 50)
    n_blocks = -(-len(samples) // block)
    power = np.add.reduceat(samples**2, np.arange(n_blocks) * block)
    audible = np.flatnonzero(power > power.max() * 10.0 ** (INAUDIBLE_DB / 10.0))
    samples = samples[: (audible[-1] + 1) * block].copy()
    n_fade = min(len(samples), int(FADE_S * clip.rate_hz))
    samples[len(samples) - n_fade:] *= np.linspace(1.0, 0.0, n_fade)
    return Clip(samples, clip.rate_hz)


def _compressed(clip: Clip, gain: float) -> bytes:
    import soundfile

    target = io.BytesIO()
    soundfile.write(target, clip.samples * gain, clip.rate_hz, format="MP3", subtype="MPEG_LAYER_III", bitrate_mode="VARIABLE",
                    compression_level=COMPRESSION)
    return target.getvalue()
