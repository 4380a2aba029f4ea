"""The two values that this room hands on: a recording, and what it can and cannot carry.

Sample positions count from 0 at the file's own rate. Levels are dB relative to full scale (0 dBFS = a sample of ±1). Rms levels are those
of the samples themselves, so a full-scale sine has −3.01 dBFS.
"""

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np

from toneprobe.audio.remark import Remark
from toneprobe.audio.source import Source


class Aside(Protocol):
    """A sound beside the strings all through a recording, taken out of what is read."""

    def at(self, time_s: np.ndarray) -> np.ndarray:
        """Its samples at these times, s from the recording's start."""


@dataclass(frozen=True)
class Quality:
    """What the recording can and cannot carry. Levels in dB relative to full scale (dBFS)."""

    peak_db: float
    clipped_s: float  # total time at the rails
    noise_floor_db: float  # rms of the quietest stretches, full band; an upper bound where nothing is quiet
    hum_hz: float | None  # 50 or 60 where mains hum stands out, else None
    hum_db: float | None
    low_cut_hz: float | None  # the recorder removed what lies below (high-pass), None: nothing missing, or it cannot be told
    high_cut_hz: float | None  # nothing is left above (voice memo, lossy codec), None: up to half the rate
    gain_riding: bool | None  # the noise floor breathes with the sound: automatic gain or noise suppression; None: cannot be told
    warnings: tuple[str, ...]  # the recording's `remarks` as a player reads them
    eight_bits: bool = False  # its steps swallow what rings on quietly
    codec_kbit_s: float | None = None  # of one channel, where a codec lost something; None: none did, or it is not known
    n_gaps: int = 0  # drop-outs: exact zeros in the midst of sound, or a hush there
    coarse_codec: str | None = None  # one that rounds every sample to few bits, in a player's word


@dataclass(frozen=True)
class Recording:
    """One open recording. Samples are read on demand, so that two hours need little memory."""

    path: str
    rate_hz: int
    n_samples: int
    channels: int
    channel: int  # the one in use, 0-based
    codec: str  # "wav/PCM_16", "flac/PCM_24", "m4a/aac", …
    quality: Quality
    source: Source = field(repr=False, compare=False)  # where the samples come from
    source_channel: int = field(default=0, repr=False, compare=False)  # the channel in use, as the source counts
    hum: Aside | None = field(default=None, repr=False, compare=False)  # see `without_hum`
    drift: Aside | None = field(default=None, repr=False, compare=False)  # see `find_drift`
    gaps_at: tuple[tuple[int, int], ...] = field(default=(), repr=False, compare=False)  # as `find_gaps` and `hushes` give them
    breaks_at: tuple[int, ...] = field(default=(), repr=False, compare=False)  # where all sound breaks off, see `breaks`
    remarks: tuple[Remark, ...] = ()  # what a player must know of its quality

    @property
    def duration_s(self) -> float:
        return self.n_samples / self.rate_hz

    def read(self, start: int, stop: int) -> np.ndarray:
        """Samples [start, stop) of the channel in use, float64, shape (stop - start,), full scale ±1; zeros outside the file."""
        out = self.read_as_recorded(start, stop)
        first, last = max(0, start), min(stop, self.n_samples)
        for aside in (self.hum, self.drift):
            if aside is not None and last > first:
                out[first - start:last - start] -= aside.at(np.arange(first, last) / self.rate_hz)
        return out

    def read_as_recorded(self, start: int, stop: int) -> np.ndarray:
        """The same, hum, drift and all."""
        out = np.zeros(max(0, stop - start))
        first, last = max(0, start), min(stop, self.n_samples)
        if last > first:
            out[first - start:last - start] = self.source.read(first, last, self.source_channel)
        return out

    def gaps(self, start: int, stop: int) -> list[tuple[int, int]]:
        """(first sample, sample after the last) of each drop-out that reaches into [start, stop)."""
        return [gap for gap in self.gaps_at if gap[0] < stop and gap[1] > start]
