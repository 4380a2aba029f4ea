"""The first pass over a recording: levels, peaks and clipping of every channel, and from these the channel in use.

One channel is used as it is: a sum would cancel what reaches two microphones in opposite phase.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from toneprobe.audio.breaks import breaks
from toneprobe.audio.clipping import TopTally
from toneprobe.audio.failing import Failing, failing_channels
from toneprobe.audio.floor import find_floor
from toneprobe.audio.gaps import GapTally
from toneprobe.audio.hushes import HushTally
from toneprobe.audio.source import MemorySource, Source

FRAME_S = 0.1  # levels are taken over frames of this length
N_BLOCK = 2**18  # samples (all channels) held at once, about
CACHE_BYTES = 128 * 2**20  # recordings that need no more than this, decoded, are held in memory
LOWEST_DB = -200.0
MOST_PEAK = 1e10  # times full scale: more than any format's whole numbers taken for parts (32 bits: 2e9), and squares still fit
CLIPPED_SHARE = 1e-4  # of all samples: above this a channel is passed over where another one is whole
EQUAL_DB = 1.0  # channels whose distances differ by less are equally good; the first is taken


@dataclass(frozen=True)
class Survey:
    """What the first pass found. Arrays have one row per channel."""

    n_samples: int  # really there
    n_frame: int  # samples per frame
    frame_power: np.ndarray  # (channels, n_frames), mean square about a straight line, so that a slow drift is no level
    still: np.ndarray  # (channels, n_frames), True where all samples of the frame are the same: digital silence
    peak: np.ndarray  # (channels,)
    n_clipped: np.ndarray  # (channels,)
    gaps: list[list[tuple[int, int]]]  # (first sample, sample after the last) of each drop-out, by channel
    breaks: list[list[int]]  # as of `audio.breaks`, by channel
    swing: np.ndarray  # (channels,), half of the widest distance between highest and lowest sample of one frame: a constant has none
    finite: bool
    kept: list[np.ndarray]  # all samples, as blocks of float32 (channels, n), where small enough to hold; else empty


def frame_length(rate_hz: int) -> int:
    return round(FRAME_S * rate_hz)


def frame_blocks(source: Source, n_frame: int) -> Iterator[np.ndarray]:
    """All samples in order, in blocks of whole frames. All that counts frames reads by this, since reading a damaged file ends at a sample
    that depends on the blocks' length."""
    return source.blocks(n_frame * max(1, N_BLOCK // (n_frame * source.channels)))


def survey_source(source: Source) -> Survey:
    """Read the whole source once, in blocks, up to a sample beyond MOST_PEAK or that is no number."""
    n_frame = frame_length(source.rate_hz)
    keep = source.n_samples * source.channels * 4 <= CACHE_BYTES
    tallies = [(TopTally(lsb=source.lsb, lossy=source.lossy), TopTally(lsb=source.lsb, lossy=source.lossy)) for _ in range(source.channels)]
    gaps = [GapTally(rate_hz=source.rate_hz, lsb=source.lsb) for _ in range(source.channels)]
    hushes = [HushTally(rate_hz=source.rate_hz) for _ in range(source.channels)]
    powers, stills, kept, n_samples = [], [], [], 0
    peaks, swings = [np.zeros(source.channels)], [np.zeros((source.channels, 1))]
    for block in frame_blocks(source, n_frame):
        rows = np.ascontiguousarray(block.T)
        n_samples += rows.shape[1]
        power, swing, peak = frame_levels(rows, n_frame)
        for values, found in ((powers, power), (stills, swing == 0.0), (swings, swing), (peaks, peak)):
            values.append(found)
        if not (peak <= MOST_PEAK).all():  # nor is it where a sample is no number
            break
        for row, (upper, lower), gap, hush in zip(rows, tallies, gaps, hushes, strict=True):
            upper.add(row, 1)
            lower.add(row, -1)
            gap.add(row)
            hush.add(row)
        if keep:
            kept.append(rows)
    peak = np.max(peaks, axis=0)
    n_clipped = np.array([upper.n_clipped + lower.n_clipped for upper, lower in tallies])
    power = np.concatenate([np.empty((source.channels, 0)), *powers], axis=1)
    still = np.concatenate([np.empty((source.channels, 0), bool), *stills], axis=1)
    swing = np.concatenate(swings, axis=1).max(axis=1)
    found = [with_hushes(gap.found, hush.found()) for gap, hush in zip(gaps, hushes, strict=True)]
    broken = [breaks(hush.power()) for hush in hushes]
    return Survey(n_samples, n_frame, power, still, peak, n_clipped, found, broken, swing, bool(np.isfinite(peak).all()), kept)


def with_hushes(gaps: list[tuple[int, int]], hushes: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Both, in order; a run of exact zeros may be found as either, and more closely as a gap."""
    alone = [hush for hush in hushes if not any(first < hush[1] and hush[0] < stop for first, stop in gaps)]
    return sorted([*gaps, *alone])


def frame_levels(rows: np.ndarray, n_frame: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Power and half the swing of the whole frames of a block (channels, n); the channels' peaks, not finite where a sample is not."""
    line = (np.arange(n_frame) - 0.5 * (n_frame - 1)).astype(rows.dtype)
    frames = rows[:, :rows.shape[1] // n_frame * n_frame].reshape(rows.shape[0], -1, n_frame)
    with np.errstate(all="ignore"):
        swing = 0.5 * (frames.max(axis=2) - frames.min(axis=2))
        centred = frames - frames.mean(axis=2, keepdims=True)
        along = (centred @ line).astype(np.float64) ** 2 / float(line.astype(np.float64) @ line)
        power = np.maximum(np.vecdot(centred, centred).astype(np.float64) - along, 0.0) / n_frame
        peak = np.maximum(rows.max(axis=1), -rows.min(axis=1)).astype(np.float64)
    return power, swing, peak


def decibels(power: np.ndarray) -> np.ndarray:
    """10·log10 of a power, not below −200 dB."""
    return 10.0 * np.log10(np.maximum(power, 10.0 ** (LOWEST_DB / 10.0)))


def choose_channel(survey: Survey, least_swing: float) -> tuple[int, list[Failing]]:
    """The channel with the greatest distance between loud and quiet, and the channels that fail part-way. Failing, dead and clipped ones
    are taken only where all are: a failing channel loses whole strings and often has the quietest quiet."""
    channels = np.arange(survey.peak.size)
    alive = channels[survey.swing > least_swing]
    failing = _failing(survey, alive)
    holding = np.array([channel for channel in alive if channel not in {one.channel for one in failing}], int)
    holding = holding if holding.size else alive
    whole = holding[survey.n_clipped[holding] <= CLIPPED_SHARE * survey.n_samples]
    if not whole.size:
        return int(holding[np.argmin(survey.n_clipped[holding])]), failing
    distances = np.array([loud_to_quiet_db(survey, channel) for channel in whole])
    return int(whole[np.flatnonzero(distances >= distances.max() - EQUAL_DB)[0]]), failing


def _failing(survey: Survey, alive: np.ndarray) -> list[Failing]:
    """Of the channels that hold anything; a constant is none of it."""
    if alive.size < 2:
        return []
    floors_db = np.array([decibels(find_floor(survey.frame_power[channel], survey.still[channel])[0]) for channel in alive])
    found = failing_channels(decibels(survey.frame_power[alive]), floors_db)
    return [replace(one, channel=int(alive[one.channel]), against=int(alive[one.against])) for one in found]


def loud_to_quiet_db(survey: Survey, channel: int) -> float:
    """Distance between the 99th and the 5th percentile of the frame levels, digital silence left out."""
    level_db = decibels(survey.frame_power[channel, ~survey.still[channel]])
    return float(np.subtract(*np.percentile(level_db, [99, 5]))) if level_db.size else 0.0


def keep_channel(survey: Survey, source: Source, channel: int) -> tuple[Source, int]:
    """The source to read from now on, and the channel in it: memory where the recording is small, else the file."""
    if not survey.kept:
        return source, channel
    samples = np.concatenate([rows[channel] for rows in survey.kept])
    return MemorySource(samples[:, np.newaxis], source.rate_hz, source.lsb, source.lossy, source.coded_bytes), 0
