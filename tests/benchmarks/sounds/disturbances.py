"""What is no fault: microphones, rooms, gain, noise, filters and tuning, put on the recording of a pluck."""

from functools import cache

import numpy as np
from scipy.signal import butter, fftconvolve, istft, sosfilt, stft

from toneprobe.synth.recorder import Microphone, Recorder, microphone_response, room_response

DULL = Microphone((100.0, 500.0, 2000.0, 8000.0), (3.0, 0.0, -6.0, -15.0))
BRIGHT = Microphone((60.0, 300.0, 1500.0, 5000.0, 12000.0), (-14.0, -4.0, 0.0, 6.0, 9.0))


def through(x: np.ndarray, rate_hz: float, microphone: Microphone) -> np.ndarray:
    return fftconvolve(x, microphone_response(Recorder(int(rate_hz), None, 0.0, microphone=microphone)))[: len(x)]


def in_room(x: np.ndarray, rate_hz: float, rt60_s: float, seed: int) -> np.ndarray:
    recorder = Recorder(int(rate_hz), None, rt60_s)
    return fftconvolve(x, room_response(recorder, np.random.default_rng(seed)))[: len(x)]


def in_shoebox(x: np.ndarray, rate_hz: float, rt60_s: float) -> np.ndarray:
    """In a rectangular room by the image sources of pyroomacoustics, heard from 1.3 m away, from the direct sound on."""
    response = _shoebox(int(rate_hz), rt60_s)
    return fftconvolve(x, response)[: len(x)]


@cache
def _shoebox(rate_hz: int, rt60_s: float) -> np.ndarray:
    from pyroomacoustics import Material, ShoeBox, inverse_sabine

    sides_m, source_m, microphone_m = (4.2, 3.4, 2.6), (1.5, 1.4, 1.0), (2.4, 2.2, 1.5)
    absorbed, n_images = inverse_sabine(rt60_s, sides_m)
    room = ShoeBox(sides_m, fs=rate_hz, materials=Material(absorbed), max_order=n_images)
    room.add_source(source_m)
    room.add_microphone(microphone_m)
    room.compute_rir()
    response = np.asarray(room.rir[0][0])
    response = response[int(np.abs(response).argmax()):]
    return response / np.abs(response).max()


def with_noise(x: np.ndarray, snr_db: float, seed: int) -> np.ndarray:
    """White noise, so far below the rms of the pluck's loudest tenth of a second (at 44.1 kHz)."""
    loud = np.sqrt(np.convolve(x**2, np.full(4410, 1 / 4410), "valid").max())
    return x + np.random.default_rng(seed).normal(0, loud * 10 ** (-snr_db / 20), len(x))


def high_passed(x: np.ndarray, rate_hz: float, corner_hz: float = 250.0) -> np.ndarray:
    return sosfilt(butter(6, corner_hz, "highpass", fs=rate_hz, output="sos"), x)


def suppressed(x: np.ndarray, rate_hz: float, noise: np.ndarray, *, least_db: float = -18.0) -> np.ndarray:
    """Noise suppression as phones have it: Wiener gain in each place of the spectrum, decision-directed (Ephraim and Malah, IEEE Trans.
    ASSP 32 (1984) 1109, from memory). noise: a stretch of the recording in which nothing else sounds."""
    how = {"fs": rate_hz, "nperseg": 512, "noverlap": 384}
    spectrum, quiet = stft(x, **how)[2], stft(noise, **how)[2]
    over = np.abs(spectrum) ** 2 / (1.5 * (np.abs(quiet) ** 2).mean(axis=1, keepdims=True))
    gain, kept = np.empty_like(over), np.zeros(len(over))
    for k in range(over.shape[1]):
        prior = 0.96 * kept + 0.04 * np.maximum(over[:, k] - 1.0, 0.0)
        gain[:, k] = np.maximum(prior / (1.0 + prior), 10 ** (least_db / 20))
        kept = gain[:, k] ** 2 * over[:, k]
    return istft(spectrum * gain, **how)[1][: len(x)]


def riding_gain(x: np.ndarray, rate_hz: float, *, evened: float = 0.5, rises_s: float = 1.0) -> np.ndarray:
    """Automatic gain: down within 20 ms, up again with so many seconds, evening out a share of the level in dB."""
    hop = max(1, int(0.01 * rate_hz))
    level = np.sqrt(np.maximum(np.add.reduceat(x**2, np.arange(0, len(x), hop)) / hop, 1e-10))
    held, follow = np.empty_like(level), level[0]
    for i, now in enumerate(level):
        follow += (now - follow) * (0.5 if now > follow else 0.01 / rises_s)
        held[i] = follow
    gain = (held / held.max()) ** -evened
    return x * np.interp(np.arange(len(x)), np.arange(len(level)) * hop, gain)


def overdriven(x: np.ndarray, drive: float) -> np.ndarray:
    """An input near its limit: peaks are rounded off, none cut flat. drive: the pluck's peak over the level at which tanh bends."""
    top = float(np.abs(x).max()) / drive
    return top * np.tanh(x / top)


def retuned(x: np.ndarray, cents: float) -> np.ndarray:
    t = np.arange(len(x), dtype=float)
    return np.interp(t * 2.0 ** (cents / 1200.0), t, x)
