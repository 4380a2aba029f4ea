"""From the harp to the file: the room's reverberation, the microphone's curve, the noise floor, gain and clipping."""

from dataclasses import dataclass

import numpy as np

_BANDS_HZ = (0.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0, 1e9)  # edges
_BAND_DECAY = (1.3, 1.2, 1.1, 1.0, 1.0, 0.9, 0.75, 0.5)  # decay time of each band over the room's, by furnishing and air
_N_CURVE = 16384


@dataclass(frozen=True)
class Microphone:
    """A smooth curve: gains between the points are interpolated over log frequency and held beyond the ends."""

    freqs_hz: tuple[float, ...] = (1000.0,)
    gains_db: tuple[float, ...] = (0.0,)


FLAT = Microphone()


@dataclass(frozen=True)
class Recorder:
    """The room and what stands in it. Levels in dB of full scale."""

    rate_hz: int = 44100
    noise_db: float | None = -75.0  # rms of the noise floor; None: no noise at all
    room_rt60_s: float = 0.4  # reverberation time around 1 kHz; 0: dry
    reverb_db: float = -8.0  # energy of the reverberation over that of the direct sound
    microphone: Microphone = FLAT
    gain_db: float = 0.0


USUAL_RECORDER = Recorder()


def record(sound: np.ndarray, recorder: Recorder, *, seed: int = 0) -> np.ndarray:
    """The recording of a dry sound: float32, same shape, clipped at ±1 as a recorder clips. One seed is one place in one room."""
    from scipy.signal import oaconvolve

    rng = np.random.default_rng(seed)
    heard = np.asarray(sound, dtype=np.float32)
    for response in (room_response(recorder, rng), microphone_response(recorder)):
        if response.size > 1:
            heard = oaconvolve(heard, response.astype(np.float32))[: sound.size]
    heard = heard * np.float32(10.0 ** (recorder.gain_db / 20.0))
    if recorder.noise_db is not None:
        heard = heard + noise(sound.size, recorder, rng)
    return np.clip(heard, -1.0, 1.0).astype(np.float32)


def room_response(recorder: Recorder, rng: np.random.Generator) -> np.ndarray:
    """Impulse response: the direct sound, then after 8 ms noise that decays by 60 dB in its band's time. Dry: one sample."""
    if recorder.room_rt60_s <= 0.0:
        return np.ones(1)
    n_samples = int(1.3 * recorder.room_rt60_s * recorder.rate_hz)
    time_s, spectrum = np.arange(n_samples) / recorder.rate_hz, np.fft.rfft(rng.normal(size=n_samples))
    freqs, tail = np.fft.rfftfreq(n_samples, 1.0 / recorder.rate_hz), np.zeros(n_samples)
    for low, high, decay in zip(_BANDS_HZ[:-1], _BANDS_HZ[1:], _BAND_DECAY, strict=True):
        band = np.fft.irfft(np.where((freqs >= low) & (freqs < high), spectrum, 0.0), n_samples)
        tail += band * 10.0 ** (-3.0 * time_s / (decay * recorder.room_rt60_s))
    tail *= np.sqrt(10.0 ** (recorder.reverb_db / 10.0) / np.sum(tail**2))
    return np.concatenate([[1.0], np.zeros(int(0.008 * recorder.rate_hz)), tail])


def microphone_response(recorder: Recorder) -> np.ndarray:
    """Causal impulse response with the microphone's curve and the least delay (from the curve's real cepstrum). Flat: one sample."""
    microphone = recorder.microphone
    if not np.any(microphone.gains_db):
        return np.ones(1)
    freqs = np.fft.rfftfreq(_N_CURVE, 1.0 / recorder.rate_hz)
    gains_db = np.interp(np.log(np.maximum(freqs, 1.0)), np.log(microphone.freqs_hz), microphone.gains_db)
    cepstrum = np.fft.irfft(gains_db / 20.0 * np.log(10.0), _N_CURVE)
    cepstrum[1 : _N_CURVE // 2] *= 2.0
    cepstrum[_N_CURVE // 2 + 1 :] = 0.0
    return np.fft.irfft(np.exp(np.fft.rfft(cepstrum)), _N_CURVE)[: _N_CURVE // 2]


def noise(n_samples: int, recorder: Recorder, rng: np.random.Generator) -> np.ndarray:
    """A quiet room and its preamplifier: half the energy white, half below about 200 Hz; rms as the recorder says."""
    from scipy.signal import lfilter

    white, low = rng.standard_normal((2, n_samples), dtype=np.float32)
    pole = np.float32(np.exp(-2.0 * np.pi * 150.0 / recorder.rate_hz))
    low = lfilter(np.array([np.sqrt(1.0 - pole**2)], dtype=np.float32), np.array([1.0, -pole], dtype=np.float32), low)
    return np.float32(10.0 ** (recorder.noise_db / 20.0) / np.sqrt(2.0)) * (white + low)
