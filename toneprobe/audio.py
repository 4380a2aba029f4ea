"""Recordings: any file that a phone or recorder makes, read at its own rate, in pieces, with a statement of its quality."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Quality:
    """What the recording can and cannot carry. Levels in dB relative to full scale (dBFS)."""

    peak_db: float
    clipped_s: float  # total time at the rails
    noise_floor_db: float  # rms of the quietest stretches, full band
    hum_hz: float | None  # 50 or 60 where mains hum stands out, else None
    hum_db: float | None
    low_cut_hz: float | None  # the recorder removed what lies below (high-pass), None: nothing missing
    high_cut_hz: float | None  # nothing is left above (voice memo, lossy codec), None: up to half the rate
    gain_riding: bool  # the noise floor breathes with the sound: automatic gain or noise suppression
    warnings: tuple[str, ...]  # one plain sentence each


@dataclass(frozen=True)
class Recording:
    """One open recording; samples are read when asked for, so that two hours need little memory."""

    path: str
    rate_hz: int
    n_samples: int
    channels: int
    channel: int  # the one in use, 0-based
    codec: str  # "wav/PCM_16", "flac/PCM_24", "m4a/aac", …
    quality: Quality

    @property
    def duration_s(self) -> float:
        return self.n_samples / self.rate_hz

    def read(self, start: int, stop: int) -> np.ndarray:
        """Samples [start, stop) of the channel in use, float64, shape (stop - start,), full scale ±1; zeros outside the file."""
        raise NotImplementedError
