"""What is no fault: microphones, rooms, gain, noise, filters and tuning, put on the recording of a pluck."""

from __future__ import annotations

import numpy as np
from scipy.signal import butter, fftconvolve, sosfilt

from toneprobe.synth.recorder import Microphone, Recorder, microphone_response, room_response

DULL = Microphone((100.0, 500.0, 2000.0, 8000.0), (3.0, 0.0, -6.0, -15.0))
BRIGHT = Microphone((60.0, 300.0, 1500.0, 5000.0, 12000.0), (-14.0, -4.0, 0.0, 6.0, 9.0))


def through(x: np.ndarray, rate_hz: float, microphone: Microphone) -> np.ndarray:
    return fftconvolve(x, microphone_response(Recorder(int(rate_hz), None, 0.0, microphone=microphone)))[: len(x)]


def in_room(x: np.ndarray, rate_hz: float, rt60_s: float, seed: int) -> np.ndarray:
    recorder = Recorder(int(rate_hz), None, rt60_s)
    return fftconvolve(x, room_response(recorder, np.random.default_rng(seed)))[: len(x)]


def with_noise(x: np.ndarray, snr_db: float, seed: int) -> np.ndarray:
    """White noise, so far below the rms of the pluck's loudest tenth of a second (at 44.1 kHz)."""
    loud = np.sqrt(np.convolve(x**2, np.full(4410, 1 / 4410), "valid").max())
    return x + np.random.default_rng(seed).normal(0, loud * 10 ** (-snr_db / 20), len(x))


def high_passed(x: np.ndarray, rate_hz: float, corner_hz: float = 250.0) -> np.ndarray:
    return sosfilt(butter(6, corner_hz, "highpass", fs=rate_hz, output="sos"), x)


def riding_gain(x: np.ndarray, rate_hz: float) -> np.ndarray:
    """Automatic gain: down within 20 ms, up again with 1 s, evening out half of the level in dB."""
    hop = max(1, int(0.01 * rate_hz))
    level = np.sqrt(np.maximum(np.add.reduceat(x**2, np.arange(0, len(x), hop)) / hop, 1e-10))
    held, follow = np.empty_like(level), level[0]
    for i, now in enumerate(level):
        follow += (now - follow) * (0.5 if now > follow else 0.01)
        held[i] = follow
    gain = (held / held.max()) ** -0.5
    return x * np.interp(np.arange(len(x)), np.arange(len(level)) * hop, gain)


def overdriven(x: np.ndarray, drive: float) -> np.ndarray:
    """An input near its limit: peaks are rounded off, none cut flat. drive: the pluck's peak over the level at which tanh bends."""
    top = float(np.abs(x).max()) / drive
    return top * np.tanh(x / top)


def retuned(x: np.ndarray, cents: float) -> np.ndarray:
    t = np.arange(len(x), dtype=float)
    return np.interp(t * 2.0 ** (cents / 1200.0), t, x)
