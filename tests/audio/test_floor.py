"""The noise floor, of noise whose level is known."""

import numpy as np
import pytest
from made_up_recording import RATE_HZ, decaying_tones, noise

from toneprobe.audio import recording_from_samples
from toneprobe.audio.floor import find_floor, usable_frames


@pytest.mark.parametrize("floor_db", [-90, -60, -35])
@pytest.mark.parametrize("offset", [0.0, 0.1])
def test_noise_floor(floor_db, offset):
    tones = decaying_tones()
    quality = recording_from_samples(tones + noise(tones.size, db=floor_db) + offset, RATE_HZ).quality
    assert quality.noise_floor_db == pytest.approx(floor_db, abs=1.0)


def test_noise_floor_where_only_one_second_in_a_hundred_is_quiet():
    tones = decaying_tones(n_plucks=33, t60_s=6.0, lead_s=1.5)
    samples = tones + noise(tones.size, db=-65)
    floor_db = recording_from_samples(samples, RATE_HZ).quality.noise_floor_db
    assert floor_db == pytest.approx(-65, abs=1.0)
    frames = samples[:samples.size // 4410 * 4410].reshape(-1, 4410)
    assert 10 * np.log10(np.median(np.mean(frames**2, axis=1))) > -60  # the plain median of the levels is no floor


@pytest.mark.parametrize("end_db", [-30.0, 30.0])
def test_what_the_recorder_does_in_its_first_and_last_tenth_of_a_second_is_not_the_floor(end_db):
    """Noise of one level, but for a click or a fade in the frames at both ends: those are neither the floor nor quiet."""
    power = np.ones(40)
    power[[0, -1]] = 10.0 ** (end_db / 10.0)
    floor, quiet = find_floor(power, np.zeros(40, bool))
    assert floor == 1.0 and quiet.tolist() == [False, *[True] * 38, False]


def test_digital_silence_is_not_the_floor(sweep):
    cut = sweep.copy()
    cut[:RATE_HZ // 2 + 777] = 0.0
    assert recording_from_samples(cut, RATE_HZ).quality.noise_floor_db == pytest.approx(-60, abs=1.0)


@pytest.mark.parametrize("n_frames", range(1, 9))
def test_frames_beside_digital_silence_are_not_used(n_frames):
    """However few there are; where all are silent or beside it, the sounding ones are used, and else all."""
    first = np.arange(n_frames) == 0
    assert np.array_equal(usable_frames(first), np.arange(n_frames) >= min(2, n_frames - 1))
    assert usable_frames(~np.ones(n_frames, bool)).tolist() == [True] * n_frames
