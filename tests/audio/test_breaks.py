"""All sound gone for good, told from what a hand stops."""

import glob
from pathlib import Path

import numpy as np
import pytest
import soundfile
from made_up_recording import RATE_HZ, noise

from toneprobe.audio import recording_from_samples
from toneprobe.audio.breaks import breaks, true_breaks
from toneprobe.audio.hushes import HushTally

REAL = sorted(glob.glob(str(Path(__file__).parents[3] / "shared" / "recordings" / "*" / "*.flac")))


def test_sound_that_breaks_off_at_once_and_for_good_is_found_and_what_a_hand_stops_is_not(sweep):
    """Cut at 1.4 s, in the ring of the first pluck; stopped there by a hand within 30 ms (15 to 40, from memory); gone for 100 ms."""
    time_s = np.arange(sweep.size) / RATE_HZ
    quiet = noise(sweep.size, db=-80, seed=4) * np.where(time_s < 1.4, 1.0, 0.25)  # 12 dB less without the microphone
    cut, hand, gone = (time_s < 1.4, np.clip((1.43 - time_s) / 0.03, 0.0, 1.0), (time_s < 1.4) | (time_s > 1.5))
    (at,), by_hand, back = (recording_from_samples(sweep * share + quiet, RATE_HZ).breaks_at for share in (cut, hand, gone))
    assert at / RATE_HZ == pytest.approx(1.4, abs=0.006) and not by_hand and not back


def test_where_the_same_recorder_goes_on_listening_nothing_breaks_off(sweep):
    """The same cut, and the same noise behind as before the first pluck: a sweep put together from recordings of single plucks ends so."""
    cut = np.arange(sweep.size) < 1.4 * RATE_HZ
    assert not recording_from_samples(sweep * cut + noise(sweep.size, db=-60, seed=4), RATE_HZ).breaks_at


@pytest.mark.skipif(not REAL, reason="no real recordings")
def test_no_real_pluck_breaks_off():
    for path in REAL:
        samples, rate_hz = soundfile.read(path, always_2d=True, dtype="float32")
        tally = HushTally(rate_hz=rate_hz)
        tally.add(samples[:, 0])
        assert not true_breaks(lambda start, stop, one=samples[:, 0]: one[start:stop], breaks(tally.power()), rate_hz=rate_hz), path


def test_a_sound_that_ends_over_a_ringing_string_breaks_nothing_off():
    """A tone of one octave is gone at once, 24 dB over what rings on in another."""
    time_s = np.arange(3 * RATE_HZ) / RATE_HZ
    sound = np.sin(2 * np.pi * 150.0 * time_s) * (time_s < 1.5) + 0.06 * np.sin(2 * np.pi * 700.0 * time_s)
    quiet = noise(time_s.size, db=-70) * np.where(time_s < 1.5, 1.0, 0.25)
    assert not recording_from_samples(0.3 * sound + quiet, RATE_HZ).breaks_at
    assert recording_from_samples(0.3 * np.sin(2 * np.pi * 150.0 * time_s) * (time_s < 1.5) + quiet, RATE_HZ).breaks_at
