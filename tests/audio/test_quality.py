"""What a recording can and cannot carry: unchanged by what changes no sound, and told of real plucks with planted faults."""

import glob
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile
from made_up_recording import RATE_HZ, noise, ride_gain

from toneprobe.audio import open_recording, recording_from_samples

REAL = sorted(glob.glob(str(Path(__file__).parents[3] / "shared" / "recordings" / "*" / "*.flac")))


def test_quality_holds_when_turned_over_made_quieter_or_given_silence(sweep):
    plain = recording_from_samples(sweep, RATE_HZ).quality
    turned = recording_from_samples(-sweep, RATE_HZ).quality
    quieter = recording_from_samples(0.1 * sweep, RATE_HZ).quality
    longer = recording_from_samples(np.r_[noise(2 * RATE_HZ, db=-60, seed=4), sweep], RATE_HZ).quality
    assert turned.noise_floor_db == pytest.approx(plain.noise_floor_db, abs=1e-3)
    assert quieter.noise_floor_db == pytest.approx(plain.noise_floor_db - 20, abs=0.01)
    assert longer.noise_floor_db == pytest.approx(plain.noise_floor_db, abs=0.3)
    for other in (turned, quieter, longer):
        assert (other.low_cut_hz, other.high_cut_hz, other.gain_riding, other.clipped_s) == (None, None, False, 0.0)


@pytest.fixture(scope="module")
def real_sweep():
    firm = [path for path in REAL if "firm_take1" in path]
    plucks = [soundfile.read(path, always_2d=True)[0][:, 0] for path in firm[::3]]
    joined = np.concatenate([part for pluck in plucks for part in (np.zeros(RATE_HZ), pluck[:4 * RATE_HZ] / np.abs(pluck).max() * 0.5)])
    return joined + noise(joined.size, db=-65)


@pytest.mark.skipif(not REAL, reason="no real recordings beside the project")
def test_real_plucks_are_called_whole():
    for path in REAL[::6]:
        quality = open_recording(path).quality
        assert (quality.clipped_s, quality.hum_hz, quality.low_cut_hz, quality.high_cut_hz) == (0.0, None, None, None), path
        assert quality.gain_riding is not True and quality.warnings == (), path


@pytest.mark.skipif(not REAL, reason="no real recordings beside the project")
def test_a_real_sweep_is_whole_until_a_fault_is_planted(real_sweep):
    def judge(samples):
        return recording_from_samples(samples, RATE_HZ).quality

    whole = judge(real_sweep)
    assert (whole.clipped_s, whole.hum_hz, whole.low_cut_hz, whole.high_cut_hz, whole.gain_riding) == (0.0, None, None, None, False)
    assert whole.noise_floor_db == pytest.approx(-65, abs=1.0) and whole.warnings == ()
    high = scipy.signal.butter(6, 250, "high", fs=RATE_HZ, output="sos")
    assert judge(scipy.signal.sosfilt(high, real_sweep)).low_cut_hz == pytest.approx(250, rel=0.15)
    low = scipy.signal.butter(8, 4000, fs=RATE_HZ, output="sos")
    assert judge(scipy.signal.sosfilt(low, real_sweep)).high_cut_hz == pytest.approx(4000, rel=0.15)
    assert judge(ride_gain(real_sweep)).gain_riding is True
    clipped_s = np.count_nonzero(np.abs(real_sweep) >= 0.2) / RATE_HZ
    assert judge(np.clip(real_sweep, -0.2, 0.2)).clipped_s == pytest.approx(clipped_s, rel=0.1)
    time_s = np.arange(real_sweep.size) / RATE_HZ
    hum = 0.001 * np.sin(2 * np.pi * 60 * time_s) + 0.0007 * np.sin(2 * np.pi * 180 * time_s)
    assert judge(real_sweep + hum).hum_hz == 60
