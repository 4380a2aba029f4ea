"""Slow drift taken out of what is read: against sounds of known truth."""

import numpy as np
import pytest

from toneprobe.audio import open_recording, recording_from_samples

RATE_HZ = 44100
TIME_S = np.arange(20 * RATE_HZ) / RATE_HZ
NOISE = np.random.default_rng(5).normal(0.0, 1e-4, TIME_S.size)
FALL = np.clip(5.0 * (TIME_S - 5.0), 0.0, 1.0) * 10 ** (-3.0 * np.maximum(TIME_S - 5.0, 0.0) / 10.0)  # T60 10 s
LOW_C = 0.2 * np.sin(2 * np.pi * 32.7 * TIME_S) * FALL  # 7C


def swaying(freq_hz, amplitude):
    return amplitude * np.sin(2 * np.pi * freq_hz * TIME_S + 1.0)


@pytest.mark.parametrize(("freq_hz", "left"), [(0.07, 1e-5), (0.5, 2e-4), (1.0, 2.2e-3)])
def test_what_moves_below_any_string_is_taken_out_and_the_lowest_string_stays(freq_hz, left):
    """Left of a drift is (1 − H)², H the Hann window's transform at a quarter of a second: 4e-8, 1e-4, 1.6e-3 (derived here), and its own
    share of the noise, 0.01 of 1e-4 of full scale."""
    drift, sound = swaying(freq_hz, 0.2), LOW_C + NOISE
    read = recording_from_samples(drift + sound, RATE_HZ).read(0, TIME_S.size)
    inside = slice(RATE_HZ // 2, -RATE_HZ // 2)  # its ends are not known so well
    off = (read - sound)[inside]
    assert np.sqrt(np.mean(off[: 4 * RATE_HZ] ** 2)) < left * 0.2 + 2e-5
    assert np.abs(off).max() < 1.5 * left * 0.2 + 2e-3 * 0.2 + 1e-4  # of the string's own amplitude 1e-3


def test_a_drift_is_no_noise():
    """White noise of 1e-4 has -80 dBFS (derived here); a slope of 0.088 a second alone has -52 in a tenth of a second."""
    floor_db = recording_from_samples(0.2 * TIME_S / 20.0 * 8.8 - 0.88 + NOISE, RATE_HZ).quality.noise_floor_db
    assert floor_db == pytest.approx(-80.0, abs=0.5)


@pytest.mark.parametrize("added", [0.0, 0.3, swaying(0.07, 2e-5), swaying(2.0, 5e-5)])
def test_what_hardly_drifts_is_read_as_it_is(added):
    sound = (LOW_C + NOISE + added).astype(np.float32)
    recording = recording_from_samples(sound, RATE_HZ)
    assert recording.drift is None and np.array_equal(recording.read(0, sound.size), sound)


def test_it_is_the_same_from_a_file_and_what_was_recorded_stays_at_hand(tmp_path):
    import soundfile

    samples = swaying(0.1, 0.2) + LOW_C + NOISE
    soundfile.write(tmp_path / "drift.wav", samples, RATE_HZ, subtype="FLOAT")
    recording = open_recording(tmp_path / "drift.wav")
    memory = recording_from_samples(samples, RATE_HZ)
    assert recording.read(1000, 90_000) == pytest.approx(memory.read(1000, 90_000), abs=1e-6)
    assert recording.read_as_recorded(0, 1000) == pytest.approx(samples[:1000], abs=1e-6)
    assert recording.read(-100, 50)[:100].tolist() == [0.0] * 100
