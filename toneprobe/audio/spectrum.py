"""The second pass: power spectra of the sound and of the quiet, and frame by frame the levels of a few wide bands.

Densities are mean squares per Hz, one-sided, from frames under a Hann window with their mean removed.
"""

from dataclasses import dataclass

import numpy as np

from toneprobe.audio.floor import N_SECOND
from toneprobe.audio.source import Source
from toneprobe.audio.survey import frame_blocks

BAND_EDGES_HZ = (1000.0, 2000.0, 4000.0, 8000.0, 16000.0)


@dataclass(frozen=True)
class Spectra:
    freqs_hz: np.ndarray  # (n_bins,), about 10 Hz apart
    sound: np.ndarray  # (n_bins,), mean density of the loud frames
    bands: np.ndarray  # (n_frames, n_bands), mean square in each wide band
    quiet_freqs_hz: np.ndarray  # (n_fine,), about 1 Hz apart
    quiet: np.ndarray  # (n_seconds, n_fine), density of each quiet second; no rows where no second is quiet


def take_spectra(source: Source, channel: int, *, n_frame: int, loud: np.ndarray, quiet_starts: np.ndarray) -> Spectra:
    """Read the channel once more, and its quiet seconds again. `loud`: mask of the survey's frames, shape (n_frames,);
    `quiet_starts`: the frames at which quiet seconds start."""
    freqs_hz = np.fft.rfftfreq(n_frame, 1.0 / source.rate_hz)
    edges_hz = [edge for edge in BAND_EDGES_HZ if edge <= 0.8 * freqs_hz[-1]] + [0.9 * freqs_hz[-1]]
    edges = np.searchsorted(freqs_hz, edges_hz[:len(BAND_EDGES_HZ)])
    sound, bands, done = np.zeros(freqs_hz.size), [], 0
    for block in frame_blocks(source, n_frame):
        frames = block[:block.shape[0] // n_frame * n_frame, channel].reshape(-1, n_frame)
        density = frame_density(frames, source.rate_hz)
        sound += loud[done:done + frames.shape[0]] @ density
        bands.append(np.add.reduceat(density[:, :edges[-1]], edges[:-1], axis=1) * freqs_hz[1])
        done += frames.shape[0]
    n_fine = N_SECOND * n_frame
    rows = [frame_density(source.read(start, start + n_fine, channel)[np.newaxis], source.rate_hz) for start in quiet_starts * n_frame]
    quiet_freqs_hz = np.fft.rfftfreq(n_fine, 1.0 / source.rate_hz)
    return Spectra(freqs_hz, sound / max(1, loud.sum()), np.concatenate(bands), quiet_freqs_hz,
                   np.concatenate([np.empty((0, quiet_freqs_hz.size)), *rows]))


def frame_density(frames: np.ndarray, rate_hz: int) -> np.ndarray:
    """Density of each row, shape (n_rows, n // 2 + 1), in the rows' own number format."""
    from scipy.fft import rfft  # slow to load

    window = (0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(frames.shape[1]) / frames.shape[1])).astype(frames.dtype)
    spectrum = rfft((frames - frames.mean(axis=1, keepdims=True)) * window, axis=1)
    scale = frames.dtype.type(2.0 / (rate_hz * float(np.sum(window.astype(np.float64) ** 2))))
    return (np.square(spectrum.real) + np.square(spectrum.imag)) * scale
