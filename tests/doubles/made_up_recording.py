"""Recordings of a made-up harp, plucks up a scale of fourths, and ways to spoil and to store them."""

import functools
import math

import numpy as np
import soundfile

RATE_HZ = 44100


@functools.cache
def decaying_tones(rate_hz=RATE_HZ, *, n_plucks=6, gap_s=3.0, t60_s=1.5, lowest_hz=130.0, lead_s=1.0):
    """Plucks up a scale of fourths, with a dense broadband attack; peak 0.5; silence of `lead_s` first. No noise."""
    random = np.random.default_rng(3)
    out = np.zeros(round((lead_s + n_plucks * gap_s) * rate_hz))
    time_s = np.arange(round(gap_s * rate_hz)) / rate_hz
    for i in range(n_plucks):
        n = np.arange(1, min(40, math.ceil(0.45 * rate_hz / (lowest_hz * 2.0 ** (5 * i / 12)))))
        tones = 2j * np.pi * lowest_hz * 2.0 ** (5 * i / 12) * n - 6.9078 / t60_s * (1 + n / 10)
        side = math.isqrt(time_s.size) + 1  # samples as a square: its rows begin at long steps, and go on by short ones
        long, short = (np.exp(np.outer(tones, step * np.arange(side) / rate_hz)) for step in (side, 1))
        pluck = ((np.exp(1j * n) / n * long.T) @ short).imag.ravel()[:time_s.size]
        pluck = pluck + 0.5 * random.standard_normal(time_s.size) * np.exp(-time_s / 0.02)
        start = round((lead_s + i * gap_s) * rate_hz)
        out[start:start + time_s.size] += pluck
    return 0.5 * out / np.abs(out).max()


def noise(n, *, db, seed=1):
    return np.random.default_rng(seed).standard_normal(n) * 10.0 ** (db / 20.0)


def store(path, samples, rate_hz=RATE_HZ, **how):
    soundfile.write(path, samples, rate_hz, **how)
    return path


def encode(path, samples, rate_hz, codec, **options):
    """Write samples, shape (n,) or (n, channels), through a lossy or lossless codec of PyAV."""
    import av

    rows = np.atleast_2d(samples.T).astype(np.float32)
    layout = {1: "mono", 2: "stereo"}[rows.shape[0]]
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, layout=layout, **options)
        frame_format = "fltp" if codec in ("aac", "libopus", "opus") else "s16p"
        rows = rows if frame_format == "fltp" else np.round(rows * 32767).astype(np.int16)
        for start in range(0, rows.shape[1], 1024):
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(rows[:, start:start + 1024]), format=frame_format, layout=layout)
            frame.sample_rate, frame.pts = rate_hz, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def ride_gain(samples, *, threshold=0.02, attack_s=0.01, release_s=1.5):
    """An automatic gain: the louder the envelope, the lower the gain (4:1 above the threshold), recovering over the release time."""
    envelope, level = np.empty(samples.size), 0.0
    up, down = np.exp(-1 / (attack_s * RATE_HZ)), np.exp(-1 / (release_s * RATE_HZ))
    for i, x in enumerate(np.abs(samples).tolist()):
        level = x + (level - x) * (up if x > level else down)
        envelope[i] = level
    return samples * np.minimum(1.0, (envelope / threshold) ** -0.75)
